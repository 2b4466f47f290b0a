"""What every test may ask for."""

from pathlib import Path

import pytest

from layout.solve.prover import make_ready

REPOSITORY = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session", autouse=True)
def _compiled() -> None:
    """Loops are compiled before the tests, so that none loses its time to that."""
    process = make_ready()
    if process is not None:
        process.wait()


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Folder of real boards kept beside the repository, never inside it."""
    folder = REPOSITORY.parent / "shared"
    if not (folder / "data").is_dir():
        pytest.skip(f"real boards are kept outside the project, in {folder.name}/ beside it; not here")
    return folder
