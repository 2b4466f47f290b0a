"""A disk that is full, a folder that can't be written, a call that fails: one sentence, and nothing lost."""

import errno
import os
import random
import resource
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.robust.answers import sentence
from tests.robust.jobs import files_of_full_job, full_job
from tests.robust.stage import _board, _judge, _layout, _mark, _part, _undo, _window, digest
from ui import files
from ui.cli import main
from ui.files import JobFolder, data_folder
from ui.jobfile import JobError
from ui.library import new_job, remember

STEPS = (_mark, _judge, _part, _undo, _window, _layout, _board)


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    made = JobFolder.created(tmp_path / "job", full_job(), files_of_full_job())
    for number in range(6):
        _mark(made, random.Random(number), f"first{number}")
    return made


def fresh(folder: JobFolder) -> JobFolder:
    """The folder as a program started now would find it."""
    files._CACHE.clear()
    files._SWEPT.clear()
    return JobFolder(folder.path)


@contextmanager
def no_more_than(size: int) -> Iterator[None]:
    """No file may grow longer than this, as on a disk that is full: the system itself refuses [bytes]."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


_locked_away: list[str] = []


def _refuse_writes(event: str, given: tuple[Any, ...]) -> None:
    if (
        _locked_away
        and event == "open"
        and isinstance(given[0], str)
        and given[0].startswith(_locked_away[0])
    ):
        mode, flags = given[1], given[2]
        if (isinstance(mode, str) and set(mode) & set("wax+")) or flags & (
            os.O_WRONLY | os.O_RDWR | os.O_CREAT
        ):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), given[0])


sys.addaudithook(_refuse_writes)


@contextmanager
def read_only(path: Path) -> Iterator[None]:
    """Nothing under the folder may be opened for writing, as on a stick with its switch pushed."""
    _locked_away.append(str(path))
    try:
        yield
    finally:
        _locked_away.clear()


def refused(step: Callable[..., None], folder: JobFolder, chance: random.Random, name: str) -> bool:
    try:
        step(folder, chance, name)
    except JobError as error:
        said = sentence(error, 400)
        assert "can't be" in said or "nothing to" in said or "changed" in said, said
        return True
    return False


@pytest.mark.parametrize("limit", [0, 1000, 4000, 20_000])
def test_on_a_full_disk_every_edit_is_refused_and_nothing_is_lost(folder: JobFolder, limit: int) -> None:
    before = digest(folder.job())
    chance = random.Random(limit)
    with no_more_than(limit):
        tried = [refused(step, fresh(folder), chance, f"full{n}") for n, step in enumerate(STEPS * 3)]
    assert any(tried)
    if limit <= 1000:
        assert digest(fresh(folder).job()) == before
    assert not [path.name for path in folder.path.rglob(".*.part")], "parts are left lying about"
    for number, step in enumerate(STEPS):
        step(fresh(folder), chance, f"after{number}")
    depth = len(folder.session().done)
    assert folder.take(lambda _: [files.Step(files.Action.UNDO)] * depth).notes == ()


def test_a_read_only_job_can_be_looked_at_and_says_why_it_can_not_be_changed(folder: JobFolder) -> None:
    before = digest(folder.job())
    with read_only(folder.path):
        assert digest(fresh(folder).job()) == before
        for number, step in enumerate((_mark, _part, _undo, _window, _layout, _board)):
            assert refused(step, fresh(folder), random.Random(1), f"ro{number}")
    assert digest(fresh(folder).job()) == before
    _mark(folder, random.Random(2), "after")


@pytest.mark.parametrize("verb", ["plan", "survey", "sheets", "demo", "open"])
def test_the_command_says_in_one_line_that_it_can_not_write(
    folder: JobFolder, verb: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CLEARFACE_DATA", str(folder.path / "data"))
    photo = Path(__file__).parents[1] / "vision" / "pictures" / "four_colours.heic"
    corners = ["--corners", "1,1", "40,1", "40,60", "1,60"]
    words = {
        "plan": ["plan", str(folder.path), "--iterations", "1"],
        "survey": [
            "survey",
            str(photo),
            "--length",
            "600",
            "--width",
            "900",
            *corners,
            "--out",
            str(folder.path),
        ],
        "sheets": ["sheets", str(folder.path), "--out", str(folder.path / "sheets")],
        "demo": ["demo", "--seconds", "0.1", "--out", str(folder.path / "new")],
        "open": ["open", str(folder.path), "--no-browser"],
    }[verb]
    before = digest(folder.job())
    with read_only(folder.path):
        status = main(words)
    told = capsys.readouterr()
    assert status == 2, told
    assert told.err.count("\n") == 1, told.err
    assert "can't be written" in told.err or "is not" in told.err, told.err
    assert digest(fresh(folder).job()) == before


def test_the_list_of_jobs_on_a_full_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))
    assert data_folder() == tmp_path / "data"
    first = new_job("first")
    remember(first)
    with no_more_than(0):
        with pytest.raises(JobError, match="can't be written"):
            new_job("second")
        with pytest.raises(JobError, match="can't be written"):
            remember("first-2")
    assert new_job("second")


CALLS = ("open", "fsync", "replace", "chmod", "mkdir", "close")


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO, errno.EACCES], ids=errno.errorcode.get)
def test_whichever_call_to_the_disk_fails_nothing_is_lost(
    folder: JobFolder, code: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = [0]

    def failing(name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        def wrapper(*given: Any, **named: Any) -> Any:
            left[0] -= 1
            if left[0] == 0:
                raise OSError(code, os.strerror(code))
            return call(*given, **named)

        return wrapper

    chance = random.Random(code)
    known = folder.job()
    hit = 0
    for call in range(1, 21):
        with monkeypatch.context() as patch:
            for name in CALLS:
                patch.setattr(os, name, failing(name, getattr(os, name)))
            left[0] = call
            was_refused = refused(chance.choice((_mark, _layout, _board)), fresh(folder), chance, f"{call}")
            hit += left[0] <= 0
            left[0] = 0
        job = fresh(folder).job()
        if was_refused:
            assert job.revision - known.revision in (0, 1), "a refused edit may be there whole, or not at all"
        if job.revision == known.revision:
            assert digest(job) == digest(known)
        known = job
    assert hit > 10, "nothing was made to fail"
    depth = len(folder.session().done)
    assert folder.take(lambda _: [files.Step(files.Action.UNDO)] * depth).notes == ()
