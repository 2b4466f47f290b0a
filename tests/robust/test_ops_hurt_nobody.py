"""What a page sends, garbled: an edit that can be taken back, or one sentence; never a stuck window."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from layout.stock import Face
from tests.robust.answers import sentence
from tests.robust.jobs import ODD_VALUES, files_of_full_job, full_job, spoiled
from tests.robust.sizes import HANG, few_or_many, grown_mb, hang_after, seeded
from ui import files
from ui.canvas.component import received
from ui.edits import Edit
from ui.files import JobFolder
from ui.jobfile import Job, job_from, job_json
from ui.list_ops import ListState, list_edit
from ui.moves import layout_edit
from ui.session import Action, Ask, Step
from ui.surface_ops import BoardFace, mark_edit, part_edit


def on_front(job: Job, op: Any) -> Edit:
    return mark_edit(job, BoardFace("1", Face.FRONT), op)


def on_back(job: Job, op: Any) -> Edit:
    return mark_edit(job, BoardFace("1", Face.BACK), op)


def on_layout(job: Job, op: Any) -> Edit:
    return layout_edit(job, BoardFace("1", Face.FRONT), op)


def on_layout_back(job: Job, op: Any) -> Edit:
    return layout_edit(job, BoardFace("1", Face.BACK), op)


def on_slat(job: Job, op: Any) -> Edit:
    return part_edit(job, "slat", op)


def on_list(job: Job, op: Any) -> Edit:
    return list_edit(job, op, ListState())


MARK = {"id": "mine", "kind": "check", "points": [[10, 10], [60, 12], [60, 20]], "wish": "tolerate"}
ZONE = {"name": "tenon", "points": [[0, 0], [9, 0], [9, 9]], "rule": "covered"}
GOOD: tuple[tuple[Callable[[Job, Any], Edit], dict[str, Any]], ...] = (
    (on_front, {"op": "draw", "mark": MARK}),
    (on_back, {"op": "fault", "mark": MARK}),
    (on_front, {"op": "state", "state": "confirmed", "ids": ["m2", "m3"]}),
    (on_front, {"op": "change", "id": "m2", "to": {"kind": "shake", "depth": 4}}),
    (on_front, {"op": "change", "id": "m1", "to": {"wish": "show it", "through": False}}),
    (on_front, {"op": "erase", "id": "m1"}),
    (on_front, {"op": "join", "ids": ["m2", "m3"]}),
    (on_slat, {"op": "side", "side": "back", "seen": "show"}),
    (on_slat, {"op": "zone", "zone": ZONE}),
    (on_slat, {"op": "zone_off", "name": "tenon"}),
    (on_layout, {"op": "move", "id": "slat/1", "dx": 3.0, "dy": 0.5}),
    (on_layout_back, {"op": "move", "id": "slat/1", "dx": 3.0, "dy": 0.5}),
    (on_layout_back, {"op": "turn_over", "id": "slat/1"}),
    (on_layout, {"op": "end_for_end", "id": "rail/2"}),
    (on_layout, {"op": "lock", "id": "rail/2", "on": True}),
    (on_layout, {"op": "cut", "id": "rail/1", "on": True}),
    (on_layout, {"op": "take_off", "id": "rail/1"}),
    (on_list, {"op": "cell", "row": "rail", "column": "length", "text": '47 1/4"'}),
    (on_list, {"op": "cell", "row": "rail", "column": "name", "text": "long rail"}),
    (on_list, {"op": "cell", "row": "new", "column": "name", "text": "shelf"}),
    (on_list, {"op": "paste", "text": "name\tlength\twidth\tthickness\na\t1\t2\t3\n"}),
    (on_list, {"op": "remove", "row": "slat"}),
)


@pytest.fixture
def folder(tmp_path: Path) -> JobFolder:
    return JobFolder.created(tmp_path / "job", full_job(), files_of_full_job())


def fresh_copy(folder: JobFolder, job: Job) -> None:
    """Put the job back as it was, without a word of history."""
    (folder.path / "job.json").write_text(job_json(job))
    (folder.path / "edits.jsonl").unlink(missing_ok=True)
    files._CACHE.clear()


@few_or_many(70)
def test_garbled_edits(cases: int, folder: JobFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "ui.disk.os.fsync", lambda _: None
    )  # thousands of writes; whether they are forced is not asked
    chance = seeded(71)
    start = full_job()
    taken = 0
    with grown_mb(200):
        for case in range(cases):
            make, good = GOOD[case % len(GOOD)]
            op = good if case < len(GOOD) else spoiled(good, chance)
            fresh_copy(folder, start)
            with hang_after(HANG, f"case {case}: {op}"):
                try:
                    session = folder.take(
                        lambda _, make=make, op=op: [Ask("w", 1, lambda job: make(job, op))]
                    )  # type: ignore[misc]
                except Exception as error:
                    pytest.fail(f"case {case}: {error!r} from {op}")
                assert session.answered == {"w": 1}, "the window would send it again and again"
                for note in session.notes:
                    sentence(ValueError(note), 310)
                files._CACHE.clear()
                again = folder.session()
                assert again.job == session.job, "what is on disk is another job"
                assert job_from(job_json(again.job)) == again.job
                taken += bool(session.done)
                if session.done:
                    assert folder.take(lambda _: [Step(Action.UNDO)]).notes == ()
                    assert folder.job().model_copy(update={"revision": 0}) == start.model_copy(
                        update={"revision": 0}
                    )
    assert cases / 20 < taken < cases


@pytest.mark.parametrize("text", ["\ud800", "shelf \udc01", "\x00", "\u202e"], ids=ascii)
@pytest.mark.parametrize(("make", "where"), [(on_list, "cell"), (on_front, "mark"), (on_slat, "zone")])
def test_half_a_letter_is_refused_and_the_window_goes_on(
    make: Callable[[Job, Any], Edit], where: str, text: str, folder: JobFolder
) -> None:
    """Half of a surrogate pair can't be written as UTF-8: it once stuck in the window's queue for ever."""
    ops = {
        "cell": [{"op": "cell", "row": row, "column": "name", "text": text} for row in ("rail", "new")],
        "mark": [{"op": "draw", "mark": MARK | {"id": text}}],
        "zone": [{"op": "zone", "zone": ZONE | {"name": text}}],
    }
    for number, op in enumerate(ops[where], start=1):
        session = folder.take(lambda _, op=op, number=number: [Ask("w", number, lambda job: make(job, op))])  # type: ignore[misc]
        assert session.answered == {"w": number}
        for note in session.notes:
            sentence(ValueError(note), 310)
            note.encode()
        files._CACHE.clear()
        assert folder.session().job == session.job


@few_or_many(500)
def test_garbled_messages(cases: int) -> None:
    """The whole value a page's surface sends, before any op in it is looked at."""
    chance = seeded(72)
    good = {
        "ops": {"client": "abc", "ops": [{"seq": 1, "op": "undo"}, {"seq": 2, "op": "draw", "mark": MARK}]}
    }
    for case in range(cases):
        value = spoiled(good, chance) if case else good
        if chance.random() < 0.1:
            value = chance.choice(ODD_VALUES)
        with hang_after(HANG, f"case {case}"):
            try:
                sent = received(value)
                assert isinstance(sent.client, str)
                assert all(isinstance(op["seq"], int) for op in sent.ops)
            except Exception as error:
                pytest.fail(f"case {case}: {error!r} from {value!r}")
