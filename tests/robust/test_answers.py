"""What the command prints, where nobody listens to the end or the terminal lacks the letters."""

import io
import subprocess
import sys
from pathlib import Path

import pytest

from tests.robust.jobs import full_job
from ui.cli import main
from ui.files import JobFolder

ROOT = Path(__file__).resolve().parents[2]


def test_an_answer_nobody_listens_to_is_no_fault() -> None:
    program = subprocess.Popen(
        [sys.executable, "-m", "ui", "schema"], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert program.stdout is not None
    assert program.stderr is not None
    program.stdout.close()
    said = program.stderr.read()
    program.stderr.close()
    assert (program.wait(), said) == (0, b"")


def test_a_terminal_without_the_letters_gets_what_it_can_show(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = full_job()
    board = job.boards[0].model_copy(update={"id": "räuchereiche №7 木"})
    job = job.model_copy(update={"boards": (board, *job.boards[1:]), "layout": None})
    folder = JobFolder.created(tmp_path / "job", job)
    for more in ([], ["--json"]):
        terminal = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
        monkeypatch.setattr(sys, "stdout", terminal)
        assert main(["plan", str(folder.path), "--iterations", "1", *more]) == 0
        assert len(terminal.buffer.getvalue()) > 10  # type: ignore[attr-defined]
