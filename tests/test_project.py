"""Promises of the project about itself: what lies at the top, how long a file is, that the contracts bite."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
AT_THE_TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "vision", "layout", "ui", "tests", "samples"}
LONGEST_FILE = 400  # lines: as much as a person holds in his head
PACKAGES = ("vision", "layout", "ui")

# One forbidden import a contract: written into a copy of the project, each must be found out.
BREACHES = {
    "ui knows vision knows layout; nobody looks up": ("layout/outline.py", "import vision.errors"),
    "layout never hears of pictures or pages": ("layout/outline.py", "import cv2"),
    "vision knows no page and no disk format": ("vision/errors.py", "import pydantic"),
    "the verifier shares no code with the engine": ("layout/check.py", "import layout.clear"),
    "the drawings and the job on disk know no page": ("ui/jobfile.py", "import streamlit"),
    "suggesters do not lean on each other": ("vision/suggest/knots.py", "import vision.suggest.cracks"),
}


def _tracked() -> list[Path]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout: nothing says which files belong to the project")
    return [ROOT / line for line in listed.stdout.splitlines() if (ROOT / line).is_file()]


def test_nothing_else_lies_at_the_top() -> None:
    top = {path.relative_to(ROOT).parts[0] for path in _tracked()}
    assert {name for name in top if not name.startswith(".")} == AT_THE_TOP


def test_no_file_is_longer_than_a_person_holds_in_his_head() -> None:
    lines = {path: len(path.read_text().splitlines()) for path in _tracked() if path.suffix == ".py"}
    assert {str(path.relative_to(ROOT)): n for path, n in lines.items() if n > LONGEST_FILE} == {}


def _kept_contracts(root: Path) -> str:
    command = [
        sys.executable,
        "-c",
        "from importlinter.cli import lint_imports_command as c; c()",
        "--no-cache",
    ]
    found = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False, env=_plain_env())
    return found.stdout + found.stderr


def _plain_env() -> dict[str, str]:
    return {"PATH": "/usr/bin:/bin", "PYTHONIOENCODING": "utf-8", "LANG": "C.UTF-8", "COLUMNS": "200"}


@pytest.mark.parametrize("contract", BREACHES)
def test_each_import_contract_can_fail(contract: str, tmp_path: Path) -> None:
    for name in (*PACKAGES, "pyproject.toml"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__", "*.onnx"))
        else:
            shutil.copy(source, tmp_path / name)
    assert f"{contract} KEPT" in _kept_contracts(tmp_path)
    file, breach = BREACHES[contract]
    path = tmp_path / file
    path.write_text(f"{path.read_text()}\n{breach}\n")
    assert f"{contract} BROKEN" in _kept_contracts(tmp_path)
