"""Nothing is lost: edits are on disk before they are answered, whole or not at all."""

import json
import threading
from pathlib import Path

import pytest

from layout.parts import Part
from layout.stock import DefectKind, Where
from ui.edits import Change, Edit, What, written
from ui.files import JobFolder, write_whole
from ui.jobfile import BoardRecord, Job, JobError
from ui.session import Action, Step
from vision.marks import Mark

BOARD = BoardRecord(id="A1", length=2000, widths=((0, 150),), thickness=27)
SIDE = Part("side", 500, 100, 20)


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    return JobFolder.created(tmp_path / "job", Job(name="a job", boards=(BOARD,), parts=(SIDE,)))


def mark(name: str, board: str = "A1") -> Edit:
    knot = Mark(name, DefectKind.SOUND_KNOT, ((10, 10), (40, 10), (40, 30)), Where.FRONT)
    return Edit(f"mark {name}", (Change(What.MARK, name, None, written(knot), board=board),))


def fresh(folder: JobFolder) -> JobFolder:
    """The same folder as another program would find it: nothing remembered."""
    from ui import files

    files._CACHE.clear()
    return JobFolder(folder.path)


def marks(folder: JobFolder) -> list[str]:
    return [item.id for item in folder.job().boards[0].marks]


def test_an_edit_is_on_disk_when_it_is_answered(folder: JobFolder) -> None:
    folder.do(mark("m1"))
    raw = json.loads((folder.path / "job.json").read_text())
    assert [item["id"] for item in raw["boards"][0]["marks"]] == ["m1"]
    assert raw["revision"] == 1


def test_undo_and_redo_survive_a_restart(folder: JobFolder) -> None:
    for name in ("m1", "m2", "m3"):
        folder.do(mark(name))
    again = fresh(folder)
    for _ in range(3):
        again.take(lambda _: [Step(Action.UNDO)])
    assert marks(fresh(folder)) == []
    fresh(folder).take(lambda _: [Step(Action.REDO), Step(Action.REDO)])
    assert marks(fresh(folder)) == ["m1", "m2"]


def test_an_edit_after_an_undo_drops_what_was_undone(folder: JobFolder) -> None:
    folder.do(mark("m1"))
    folder.take(lambda _: [Step(Action.UNDO), Step(Action.EDIT, mark("m2"))])
    assert folder.take(lambda _: [Step(Action.REDO)]).notes == ("there is nothing to redo",)
    assert marks(folder) == ["m2"]


def test_a_sequence_already_answered_is_known_after_a_restart(folder: JobFolder) -> None:
    folder.take(lambda _: [Step(Action.EDIT, mark("m1"), "window", 7)])
    assert fresh(folder).session().answered == {"window": 7}


def test_a_second_window_can_not_overwrite_silently(folder: JobFolder) -> None:
    before = written(folder.job().parts[0])
    longer, shorter = before | {"length": 600.0}, before | {"length": 400.0}
    folder.do(Edit("longer", (Change(What.PART, "side", before, longer),)))
    with pytest.raises(JobError, match="changed in another window"):
        folder.do(Edit("shorter", (Change(What.PART, "side", before, shorter),)))
    assert folder.job().parts[0].length == 600.0


def test_a_refused_edit_changes_nothing_and_is_answered(folder: JobFolder) -> None:
    before = written(folder.job().parts[0])
    bad = Edit("thin air", (Change(What.PART, "side", before, before | {"length": -1.0}),))
    session = folder.take(
        lambda _: [Step(Action.EDIT, bad, "window", 1), Step(Action.EDIT, mark("m1"), "window", 2)]
    )
    assert session.notes == ("part side: length is -1.0; give a number above 0 (mm)",)
    assert session.answered == {"window": 2}
    assert folder.job().parts == (SIDE,)
    assert marks(folder) == ["m1"]


def test_many_windows_at_once_lose_nothing(folder: JobFolder) -> None:
    def work(window: int) -> None:
        for number in range(5):
            JobFolder(folder.path).do(mark(f"w{window}-{number}"))

    threads = [threading.Thread(target=work, args=(window,)) for window in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(marks(fresh(folder))) == sorted(f"w{w}-{n}" for w in range(4) for n in range(5))
    assert fresh(folder).job().revision == 20


def test_a_journal_ahead_of_the_job_is_cut_back(folder: JobFolder) -> None:
    """As after a power cut between the two writes, with half a line at the end."""
    folder.do(mark("m1"))
    job = (folder.path / "job.json").read_bytes()
    folder.do(mark("m2"))
    (folder.path / "job.json").write_bytes(job)
    with (folder.path / "edits.jsonl").open("a") as file:
        file.write('{"revision":3,"st')
    again = fresh(folder)
    assert [edit.label for edit in again.session().done] == ["mark m1"]
    again.do(mark("m3"))
    assert [edit.label for edit in fresh(folder).session().done] == ["mark m1", "mark m3"]
    assert marks(folder) == ["m1", "m3"]


def test_a_file_that_can_not_be_written_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "list.csv"
    write_whole(path, b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("ui.files.os.fsync", full)
    with pytest.raises(JobError, match="No space left on device"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert [item.name for item in tmp_path.iterdir()] == ["list.csv"]


def test_a_name_that_leads_out_of_the_folder_is_refused(folder: JobFolder) -> None:
    (folder.path.parent / "secret").write_text("x")
    with pytest.raises(JobError, match="outside the job's folder"):
        folder.read("../secret")


def test_a_photograph_that_is_gone_says_what_to_do(folder: JobFolder) -> None:
    name = folder.keep("photos", b"a picture", ".jpg")
    (folder.path / name).unlink()
    with pytest.raises(JobError, match="put it back, or upload the photo again"):
        folder.read(name)


def test_a_full_folder_is_not_made_a_job(folder: JobFolder) -> None:
    with pytest.raises(JobError, match="is not empty"):
        JobFolder.created(folder.path, Job(name="other"))


def test_a_board_keeps_its_marks_when_its_data_changes(folder: JobFolder) -> None:
    folder.do(mark("m1"))
    before = written(folder.job().boards[0])
    folder.do(Edit("thinner", (Change(What.BOARD, "A1", before, before | {"thickness": 22.0}),)))
    assert folder.job().boards[0].thickness == 22.0
    assert marks(folder) == ["m1"]
