"""A job written by an earlier clearface opens, and what was done in it can still be taken back.

`old_jobs/version_1` was written by the first program that kept jobs in folders,
before repairs, glue-ups, loose photos and kept layouts were added to the schema.
"""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from ui import jobfile
from ui.cli import main
from ui.files import JobFolder
from ui.jobfile import JobError, boards_of, job_from, job_json
from ui.journal import entries_of
from ui.migrations import STEPS, brought_up
from ui.session import Action, Step

OLD = sorted((Path(__file__).parent / "old_jobs").iterdir())


@pytest.fixture(params=OLD, ids=lambda path: path.name)
def folder(request: pytest.FixtureRequest, tmp_path: Path) -> JobFolder:
    return JobFolder(Path(shutil.copytree(request.param, tmp_path / "job")))


def test_there_is_an_old_job_of_every_version() -> None:
    assert [path.name for path in OLD] == [f"version_{number}" for number in range(1, jobfile.VERSION + 1)]
    assert set(STEPS) == set(range(1, jobfile.VERSION))


def test_an_old_job_opens_with_everything_in_it(folder: JobFolder) -> None:
    job = folder.job()
    assert job.name == "an old job"
    assert [mark.id for mark in job.boards[0].marks] == ["k1"]
    assert [defect.id for defect in boards_of(job)[0].defects] == ["k1"]
    assert [(part.name, part.quantity) for part in job.parts] == [("rail", 3), ("slat", 1)]
    assert job.layout is not None
    assert len(job.layout.unplaced) == 2
    assert job_from(job_json(job)) == job


def test_all_that_was_done_in_it_can_be_taken_back_and_done_again(folder: JobFolder) -> None:
    session = folder.session()
    assert [edit.label for edit in session.done] == ["mark a knot", "confirm it", "lay out", "three rails"]
    assert [edit.label for edit in session.undone] == ["kerf", "thinner"]
    back = folder.take(lambda _: [Step(Action.UNDO)] * 4)
    assert back.notes == ()
    assert back.job.boards[0].marks == ()
    forth = folder.take(lambda _: [Step(Action.REDO)] * 6)
    assert forth.notes == ()
    assert (forth.job.name, forth.job.boards[0].thickness) == ("an old job, renamed", 26.0)


def test_a_newer_job_says_so() -> None:
    raw = json.loads((OLD[-1] / "job.json").read_text()) | {"version": jobfile.VERSION + 1, "moon": "waning"}
    with pytest.raises(JobError, match=r"written by a newer clearface .* update clearface to open it"):
        job_from(json.dumps(raw))


def test_a_newer_job_is_opened_nowhere_and_left_as_it_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = Path(shutil.copytree(OLD[-1], tmp_path / "job"))
    newer = json.loads((path / "job.json").read_text()) | {"version": jobfile.VERSION + 1, "moon": "waning"}
    (path / "job.json").write_text(json.dumps(newer))
    before = {file.name: file.read_bytes() for file in path.iterdir() if file.is_file()}
    for words in (
        ["plan", str(path)],
        ["check", str(path)],
        ["sheets", str(path), "--out", str(tmp_path / "out")],
        ["open", str(path)],
    ):
        assert main(words) == 2, words
        told = capsys.readouterr()
        assert "update clearface" in told.err, words
        assert told.err.count("\n") == 1
    with pytest.raises(JobError, match="update clearface"):
        JobFolder(path).take(lambda _: [Step(Action.UNDO)])
    after = {file.name: file.read_bytes() for file in path.iterdir() if file.is_file()}
    after.pop(".lock", None)
    assert after == before


@pytest.mark.parametrize("version", [0, -1, None, "1", 0.5, []])
def test_a_version_that_never_was_is_refused(version: Any) -> None:
    raw = json.loads((OLD[-1] / "job.json").read_text()) | {"version": version}
    with pytest.raises(JobError, match="this clearface knows version"):
        job_from(json.dumps(raw))


def test_steps_lead_from_version_to_version_and_leave_the_old_one_alone() -> None:
    steps = {1: lambda raw: raw | {"wood": raw.pop("timber")}, 2: lambda raw: raw | {"wood": [raw["wood"]]}}
    old = {"version": 1, "timber": "oak"}
    assert brought_up(old, 3, steps) == {"version": 3, "wood": ["oak"]}
    assert old == {"version": 1, "timber": "oak"}
    assert brought_up(old, 3, {2: steps[2]}) is None
    assert brought_up({"version": 4}, 3, steps) is None


def test_a_step_is_taken_when_a_job_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    def renamed(raw: dict[str, Any]) -> dict[str, Any]:
        return {key: value for key, value in raw.items() if key != "title"} | {"name": raw["title"]}

    raw = json.loads((OLD[-1] / "job.json").read_text())
    raw["version"], raw["title"] = 0, raw.pop("name")
    monkeypatch.setattr(jobfile, "brought_up", lambda raw, version: brought_up(raw, version, {0: renamed}))
    assert job_from(json.dumps(raw)).name == "an old job"


def test_undo_does_not_reach_behind_a_change_of_version() -> None:
    lines = (OLD[-1] / "edits.jsonl").read_bytes()
    assert len(entries_of(lines)) == 8
    other = b"\n".join(line.replace(b"{", b'{"version":0,', 1) for line in lines.splitlines())
    assert entries_of(other) == []
