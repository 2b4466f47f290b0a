"""What every test may ask for."""

from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder of real boards kept beside the repository, never inside it."""
    folder = REPOSITORY.parent / "shared"
    if not (folder / "data").is_dir():
        pytest.skip(f"real boards are kept outside the project, in {folder.name}/ beside it; not here")
    return folder
