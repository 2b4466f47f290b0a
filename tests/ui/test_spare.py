"""A job.json spoiled by a disk is made again from its second copy and the journal, and nothing is lost."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from tests.robust.mutations import damaged
from tests.robust.sizes import few_or_many, seeded
from tests.ui.test_files import folder, fresh, mark, marks
from tests.ui.tiny_job import tiny_job
from ui import library
from ui.cli import main
from ui.files import JobFolder
from ui.jobfile import SpoiledJobError
from ui.session import Action, Step
from ui.spare import BEFORE, SPOILED

__all__ = ["folder"]  # the fixture


def spoil(folder: JobFolder, data: bytes) -> None:
    """Write into the file itself, as a disk does that loses blocks: every name of it sees the same bytes."""
    (folder.path / "job.json").write_bytes(data)


@pytest.mark.parametrize("left", [b"", bytes(4096), b'{"version": 1, "na', b"\xff\xfe"], ids=range(4))
def test_nothing_is_lost_with_the_file(folder: JobFolder, left: bytes) -> None:
    for name in ("m1", "m2", "m3"):
        folder.do(mark(name))
    folder.take(lambda _: [Step(Action.UNDO)])
    spoil(folder, left)
    again = fresh(folder)
    assert marks(again) == ["m1", "m2"]
    assert [edit.label for edit in again.session().undone] == ["mark m3"]
    assert (folder.path / SPOILED).read_bytes() == left
    again.take(lambda _: [Step(Action.REDO)])
    assert marks(fresh(folder)) == ["m1", "m2", "m3"]
    assert fresh(folder).job().revision == 5


def test_several_steps_of_one_write_are_all_taken_again(folder: JobFolder) -> None:
    folder.do(mark("m1"))
    folder.take(lambda _: [Step(Action.EDIT, mark("m2")), Step(Action.EDIT, mark("m3"), "w", 7)])
    spoil(folder, b"")
    assert marks(fresh(folder)) == ["m1", "m2", "m3"]
    assert fresh(folder).session().answered == {"w": 7}


def test_the_maker_is_told_until_he_has_looked(folder: JobFolder) -> None:
    folder.do(mark("m1"))
    assert folder.once_spoiled() == ""
    spoil(folder, b"")
    assert marks(fresh(folder)) == ["m1"]
    assert SPOILED in folder.once_spoiled()
    (folder.path / SPOILED).unlink()
    assert folder.once_spoiled() == ""


def test_a_job_without_a_second_copy_is_named_and_left_as_it_is(folder: JobFolder) -> None:
    spoil(folder, b"{")
    for ask in (folder.job, lambda: folder.do(mark("m1"))):
        with pytest.raises(SpoiledJobError, match="not a job file"):
            ask()
    assert (folder.path / "job.json").read_bytes() == b"{"
    assert not (folder.path / SPOILED).exists()


def test_a_folder_that_can_not_be_written_still_shows_the_job(
    folder: JobFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("m1", "m2"):
        folder.do(mark(name))
    spoil(folder, b"")

    def refused(*_: object, **__: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr("ui.files.FileLock.acquire", refused)
    assert marks(fresh(folder)) == ["m1", "m2"]
    assert (folder.path / "job.json").read_bytes() == b""


def copied(source: Path, target: Path) -> None:
    raise OSError(95, "Operation not supported")


@pytest.mark.parametrize("link", [os.link, copied], ids=["links", "no links"])
def test_the_second_copy_is_the_job_one_write_ago(
    folder: JobFolder, link: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ui.spare.os.link", link)
    seen = []
    for name in ("m1", "m2", "m3"):
        seen.append((folder.path / "job.json").read_bytes())
        folder.do(mark(name))
        assert (folder.path / BEFORE).read_bytes() == seen[-1]
    assert sorted(path.name for path in folder.path.iterdir() if path.suffix == ".part") == []


def test_pictures_of_a_spoiled_job_are_not_swept(folder: JobFolder) -> None:
    name = folder.keep("photos", b"a photo", ".jpg")
    os.utime(folder.path / name, (0, 0))
    spoil(folder, b"{")
    with pytest.raises(SpoiledJobError):
        fresh(folder).do(mark("m1"))
    assert (folder.path / name).read_bytes() == b"a photo"


@few_or_many(25)
def test_whatever_the_damage(cases: int, tmp_path: Path) -> None:
    """Cut, overwritten, doubled: the job as it was, or one that differs in a value and says nothing false."""
    chance = seeded(77)
    made_again = 0
    for case in range(cases):
        here = JobFolder.created(tmp_path / str(case), tiny_job())
        board = here.job().boards[0].id
        for number in range(chance.randint(1, 4)):
            here.do(mark(f"m{number}", board))
        good = here.job()
        spoil(here, damaged((here.path / "job.json").read_bytes(), chance, [b"null"]))
        try:
            found = fresh(here).job()
        except ValueError:
            continue  # JSON, but no job: named, and left as it is
        if (here.path / SPOILED).exists():
            made_again += 1
            assert found == good, f"case {case}"
    assert made_again > cases / 3


def test_the_page_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path))
    here = JobFolder.created(library.jobs_folder() / "tiny", tiny_job())
    here.do(mark("m1", here.job().boards[0].id))
    spoil(here, b"")
    at = AppTest.from_function(_app, default_timeout=60)
    at.query_params["job"] = "tiny"
    at.run()
    assert not at.exception
    assert SPOILED in at.warning[0].value


def test_the_command_says_so(folder: JobFolder, capsys: pytest.CaptureFixture[str]) -> None:
    folder.do(mark("m1"))
    spoil(folder, b"")
    fresh(folder)
    assert main(["plan", str(folder.path), "--iterations", "1"]) == 0
    assert SPOILED in capsys.readouterr().err


def _app() -> None:
    from ui.app import run

    run()
