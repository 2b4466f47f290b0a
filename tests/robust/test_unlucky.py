"""Bad luck that is nobody's fault: a share whose clock is off, a folder moved away, names of no letters."""

import os
import shutil
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest

from tests.robust.answers import sentence
from tests.robust.jobs import files_of_full_job, full_job
from tests.robust.stage import _mark
from tests.ui.tiny_job import photo_of_a_board
from ui import files
from ui.disk import bytes_of, write_whole
from ui.files import JobFolder
from ui.jobfile import JobError

REPOSITORY = Path(__file__).resolve().parents[2]


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    return JobFolder.created(tmp_path / "job", full_job(), files_of_full_job())


def with_the_clock_off(path: Path, hours: float) -> None:
    then = path.stat().st_mtime + 3600 * hours
    os.utime(path, (then, then))


@pytest.mark.parametrize("hours", [-30.0, -2.0, 2.0])
def test_a_photo_just_stored_on_a_share_with_another_time_is_no_left_over(
    folder: JobFolder, hours: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    touched = Path.touch

    def touch(path: Path, *given: int, **named: bool) -> None:
        touched(path, *given, **named)
        with_the_clock_off(path, hours)

    monkeypatch.setattr(Path, "touch", touch)
    name = folder.keep("photos", photo_of_a_board(), ".jpg")
    with_the_clock_off(folder.path / name, hours)
    assert folder.sweep() == ()
    with_the_clock_off(folder.path / name, -1.5)
    assert folder.sweep() == (name,)


def test_a_half_file_that_another_program_finishes_meanwhile_stops_nobody(folder: JobFolder) -> None:
    (folder.path / ".job.json.abc.part").symlink_to(folder.path / "gone already")
    write_whole(folder.path / "job.json", (folder.path / "job.json").read_bytes())


def test_steps_of_another_program_are_seen_on_a_disk_with_a_coarse_clock(folder: JobFolder) -> None:
    """Where time comes in steps of two seconds, a job of the same length may bear the same stamp."""
    stamps = set()
    for number in range(6):
        _mark(folder, Random(1), f"new{number}")
        mtime, size, place, *rest = folder._stamp()
        del mtime, size, place
        stamps.add(tuple(rest))
    assert len(stamps) == 6


def test_a_job_moved_away_while_it_is_open_comes_up_in_no_second_place(folder: JobFolder) -> None:
    elsewhere = folder.path.with_name("moved")
    shutil.move(folder.path, elsewhere)
    for act in (
        lambda: folder.keep("photos", b"picture", ".jpg"),
        lambda: _mark(folder, Random(1), "lost"),
        folder.job,
    ):
        with pytest.raises(JobError) as refused:
            act()
        assert "there is no job here" in sentence(refused.value)
    assert not folder.path.exists()
    _mark(JobFolder(elsewhere), Random(1), "kept")
    assert JobFolder(elsewhere).job().board("1").marks[-1].id == "kept"


def test_what_is_no_plain_file_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    with pytest.raises(JobError, match="no plain file"):
        bytes_of(tmp_path / "pipe.jpg")
    with pytest.raises(JobError, match="no plain file"):
        bytes_of(Path("/dev/zero"))
    with pytest.raises(JobError, match="can't be read"):
        bytes_of(tmp_path)
    with (tmp_path / "large.jpg").open("wb") as file:
        file.truncate(1_000_000_001)
    with pytest.raises(JobError, match="the most that is read is 1 GB"):
        bytes_of(tmp_path / "large.jpg")


@pytest.mark.parametrize("state", [b"", b"\x00" * 400, b"{", b"null"])
def test_a_job_file_that_a_power_cut_left_empty_is_named_and_left_as_it_is(
    folder: JobFolder, state: bytes
) -> None:
    (folder.path / "job.json").write_bytes(state)
    files._CACHE.clear()
    with pytest.raises(JobError) as refused:
        folder.job()
    assert "job.json" in sentence(refused.value)
    with pytest.raises(JobError):
        _mark(folder, Random(1), "lost")
    assert (folder.path / "job.json").read_bytes() == state


def test_names_that_are_no_text_are_told_of_in_one_line(tmp_path: Path) -> None:
    place = Path(os.fsdecode(os.fsencode(tmp_path) + b"/job\xff"))
    folder = JobFolder.created(place, full_job(), files_of_full_job())
    _mark(folder, Random(1), "kept")
    assert JobFolder(place).job().board("1").marks[-1].id == "kept"
    nowhere, out = os.fsencode(place) + b"/no\xfe.jpg", os.fsencode(tmp_path) + b"/out\xfd"
    done = subprocess.run(
        [sys.executable, "-m", "ui", "survey", nowhere, "--length", "1000", "--width", "210", "--out", out],
        cwd=REPOSITORY,
        env=os.environ | {"CLEARFACE_DATA": str(tmp_path / "data"), "OMP_NUM_THREADS": "1"},
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert (done.returncode, done.stderr.count(b"\n")) == (2, 1), done.stderr
    assert b"there is no such file" in done.stderr
