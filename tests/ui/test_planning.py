"""Planning in a process of its own: it ends, it stops when asked, and it never overwrites a changed job."""

import os
import signal
import time
from pathlib import Path

import pytest

from layout.placement import Layout, Unplaced
from tests.builders import tiny_layout
from tests.ui.tiny_job import tiny_job_folder
from ui import chain, planning
from ui.changes import edit_between
from ui.files import JobFolder
from ui.jobfile import Job


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    return tiny_job_folder(tmp_path / "job", layout=None)


def ended(folder: JobFolder, seconds: float = 40.0) -> planning.Planning:
    deadline = time.monotonic() + seconds
    while (how := planning.planning(folder)).running:
        assert time.monotonic() < deadline, "the plan did not end"
        time.sleep(0.05)
    return how


def test_a_plan_ends_in_a_layout_the_verifier_accepts(folder: JobFolder) -> None:
    planning.start(folder, 1.0, 0)
    assert planning.planning(folder).running
    how = ended(folder)
    assert (how.error, how.placed, how.wanted) == ("", 3, 3)
    assert chain.checked(folder.job()) == ()
    assert folder.session().done[-1].label == "plan"
    assert {row[1] for row in how.sketch} == {"rail", "slat"}


def test_a_plan_asked_to_stop_ends_with_the_best_it_has(folder: JobFolder) -> None:
    planning.start(folder, 300.0, 0)
    deadline = time.monotonic() + 30
    while not planning.planning(folder).placed:
        assert time.monotonic() < deadline
        time.sleep(0.05)
    asked = time.monotonic()
    planning.stop(folder)
    assert ended(folder).error == ""
    assert time.monotonic() - asked < 20
    assert folder.job().layout is not None


def test_a_plan_of_a_job_changed_meanwhile_is_not_kept(folder: JobFolder) -> None:
    planning.start(folder, 2.0, 0)
    while planning.planning(folder).seconds == 0.0:
        time.sleep(0.02)

    def without_slat(job: Job) -> Job:
        return job.model_copy(update={"parts": job.parts[:1]})

    job = folder.job()
    folder.do(edit_between(job, without_slat(job), "remove slat"))
    assert "changed while it was planned" in ended(folder).error
    assert folder.job().layout is None


def test_a_plan_that_can_not_be_made_says_why(tmp_path: Path) -> None:
    folder = tiny_job_folder(tmp_path / "job", layout=None, parts=())
    assert planning.main([str(folder.path), "1", "0"]) == 1
    assert planning.planning(folder).error == "the cutting list is empty; add parts first"


def test_a_plan_whose_process_died_is_not_waited_for(folder: JobFolder) -> None:
    planning._tell(folder, planning.Planning(True, 3.0))
    path = folder.path / planning.STATE
    old = time.time() - 60
    os.utime(path, (old, old))
    assert planning.planning(folder) == planning.Planning(False, error="The plan was broken off. Plan again.")


def test_a_plan_whose_process_is_killed_is_told_of_at_once(folder: JobFolder) -> None:
    planning.start(folder, 300.0, 0)
    os.kill(planning._CHILDREN[folder.path].pid, signal.SIGKILL)
    assert "broken off" in ended(folder, 10).error
    assert "broken off" in planning.planning(folder).error


def test_a_worse_plan_does_not_take_the_place_of_a_better_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tiny_job_folder(tmp_path / "job")
    monkeypatch.setattr(chain, "planned", lambda *_, **__: Layout(unplaced=(Unplaced("rail", 1, "no time"),)))
    monkeypatch.setattr(chain, "checked", lambda _: ())
    assert planning.main([str(folder.path), "1", "0"]) == 0
    assert "the present one stays" in planning.planning(folder).note
    assert folder.job().layout == tiny_layout()
