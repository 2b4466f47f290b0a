"""Each step of the page, run without a browser."""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook
from streamlit.testing.v1 import AppTest

from layout.parts import PartSide, Visibility, ZoneRule
from layout.stock import Face
from tests.ui.tiny_job import PHOTO_CORNERS, photo_of_a_board, tiny_job_folder
from ui.changes import edit_between
from ui.files import JobFolder
from ui.jobfile import Job
from vision.marks import MarkState

Open = Callable[..., AppTest]


def _page(step: str) -> None:
    from importlib import import_module

    import_module(f"ui.steps.{step}_step").show()


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> JobFolder:
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))
    return tiny_job_folder(tmp_path / "data" / "jobs" / "tiny")


@pytest.fixture
def page(folder: JobFolder) -> Open:
    def opened(step: str) -> AppTest:
        at = AppTest.from_function(_page, kwargs={"step": step}, default_timeout=30)
        at.query_params["job"] = "tiny"
        return _ran(at)

    return opened


def _ran(at: AppTest) -> AppTest:
    at.run()
    assert not at.exception, [each.message for each in at.exception]
    return at


def _uploader(at: AppTest, label: str) -> Any:
    return next(each for each in at.file_uploader if label in each.label)


_sent: dict[tuple[int, str], int] = {}


def words(at: AppTest) -> str:
    return "\n".join(each.value for kind in (at.markdown, at.error, at.success, at.title) for each in kind)


def sent(at: AppTest, key: str, *ops: dict[str, Any], client: str = "w1") -> AppTest:
    """What the drawing surface would send, numbered on from what it sent before."""
    number = _sent.get((id(at), key), 0)
    _sent[id(at), key] = number + len(ops)
    numbered = [{"seq": number + 1 + index, **op} for index, op in enumerate(ops)]
    at.session_state[key] = {"ops": {"client": client, "ops": numbered}}
    return _ran(at)


def test_the_job_step_says_what_comes_next(page: Open) -> None:
    at = page("job")
    assert "Judge the suggestions on board 1." in words(at)


def test_a_field_of_the_job_is_on_disk_when_it_is_left(page: Open, folder: JobFolder) -> None:
    at = page("job")
    at.text_input[0].set_value("Cabinets")
    _ran(at)
    assert folder.job().name == "Cabinets"
    at.button(key="undo").click()
    _ran(at)
    assert folder.job().name == "Tiny"


def test_a_wrong_allowance_is_told_at_its_field_and_not_taken(page: Open, folder: JobFolder) -> None:
    at = page("job")
    next(field for field in at.text_input if field.label == "Kerf").set_value("wide")
    _ran(at)
    assert "'wide' is not a length" in words(at)
    assert folder.job().settings.allowances.kerf == 3


def test_how_far_a_knot_disturbs_the_grain_is_the_makers_to_say(page: Open, folder: JobFolder) -> None:
    at = page("job")
    label = "Disturbed grain along a knot"
    next(field for field in at.text_input if field.label == label).set_value("1,5")
    _ran(at)
    assert folder.job().settings.allowances.knot_along == 1.5
    next(field for field in at.text_input if field.label == label).set_value("one")
    _ran(at)
    assert "'one' is not a number" in words(at)
    assert folder.job().settings.allowances.knot_along == 1.5


def test_a_row_typed_cell_by_cell_becomes_a_part(page: Open, folder: JobFolder) -> None:
    at = page("list")
    for column, text in (("name", "shelf"), ("length", '15 3/4"'), ("width", "90")):
        sent(at, "list", {"op": "cell", "row": "new-1", "column": column, "text": text})
    assert [row.cells for row in folder.job().unfinished] == [
        {"name": "shelf", "length": '15 3/4"', "width": "90"}
    ]
    sent(
        at,
        "list",
        {"op": "cell", "row": "new-1", "column": "thickness", "text": "20"},
        {"op": "cell", "row": "new-1", "column": "quantity", "text": "3"},
    )
    shelf = folder.job().parts[-1]
    assert (shelf.name, shelf.quantity, shelf.length) == ("shelf", 3, pytest.approx(400.05))
    assert folder.job().unfinished == ()


def test_a_word_for_a_number_is_told_at_its_cell(page: Open, folder: JobFolder) -> None:
    at = page("list")
    sent(at, "list", {"op": "cell", "row": "rail", "column": "width", "text": "wide"})
    assert folder.job().parts[0].width == 60
    assert "'wide' is not a length" in at.get("bidi_component")[0].proto.json


def test_a_part_may_be_renamed_while_it_is_laid_out(page: Open, folder: JobFolder) -> None:
    at = page("list")
    sent(
        at,
        "list",
        {"op": "cell", "row": "rail", "column": "name", "text": "cross rail"},
        {"op": "cell", "row": "rail", "column": "width", "text": "58"},
    )
    job = folder.job()
    assert (job.parts[0].name, job.parts[0].width) == ("cross rail", 58)
    assert job.layout is not None
    assert {item.part for item in job.layout.placements} == {"cross rail", "slat"}


def test_tapping_a_side_of_a_part_changes_how_it_is_seen(page: Open, folder: JobFolder) -> None:
    at = page("list")
    sent(at, "part-rail", {"op": "side", "side": "back", "seen": "show"})
    assert folder.job().parts[0].visibility(PartSide.BACK) is Visibility.SHOW


def test_a_zone_outside_the_part_is_refused(page: Open, folder: JobFolder) -> None:
    at = page("list")
    zone = {"name": "tenon", "rule": "sound", "points": [[0, 0], [999, 0], [999, 20], [0, 20]]}
    sent(at, "part-rail", {"op": "zone", "zone": zone})
    assert folder.job().parts[0].zones == ()


def test_a_zone_is_drawn_made_covered_and_removed(page: Open, folder: JobFolder) -> None:
    at = page("list")
    zone = {"name": "zone 1", "rule": "sound", "points": [[0, 0], [40, 0], [40, 60], [0, 60]]}
    sent(at, "part-rail", {"op": "zone", "zone": zone})
    assert folder.job().parts[0].zones[0].rule is ZoneRule.SOUND
    sent(at, "part-rail", {"op": "zone_rule", "name": "zone 1", "rule": "covered"})
    assert folder.job().parts[0].zones[0].rule is ZoneRule.COVERED
    sent(at, "part-rail", {"op": "zone_off", "name": "zone 1"})
    assert folder.job().parts[0].zones == ()


def test_a_workbook_is_taken_as_the_cutting_list(page: Open, folder: JobFolder) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["Part", "Qty", "Length", "Width", "Thickness"], ["door", 2, 350.5, '2 1/4"', 20]):
        sheet.append(row)
    data = BytesIO()
    book.save(data)
    at = page("list")
    _uploader(at, "CSV or XLSX").set_value(("list.xlsx", data.getvalue(), "application/octet-stream"))
    _ran(at)
    door = folder.job().parts[-1]
    assert (door.name, door.quantity, door.length) == ("door", 2, 350.5)
    assert door.width == pytest.approx(57.15)


def test_a_file_that_is_no_workbook_takes_nothing(page: Open, folder: JobFolder) -> None:
    at = page("list")
    _uploader(at, "CSV or XLSX").set_value(("list.xlsx", b"PK but no more", "application/octet-stream"))
    _ran(at)
    assert "not a workbook that can be read" in words(at)
    assert len(folder.job().parts) == 2


def test_a_photo_becomes_a_board_at_true_scale(page: Open, folder: JobFolder) -> None:
    at = page("boards")
    at.file_uploader[0].set_value(("plank.jpg", photo_of_a_board(seed=3), "image/jpeg"))
    _ran(at)
    assert [photo.name for photo in folder.job().loose] == ["plank.jpg"]
    fields = {field.label: field for field in at.text_input}
    fields["Taped length, mm"].set_value("1000")
    fields["Taped width, mm"].set_value("210")
    next(button for button in at.button if button.label == "Put it on the board").click()
    _ran(at)
    board = folder.job().board("2")
    assert board.front is not None
    assert board.front.corners_px is not None
    found = [coordinate for corner in board.front.corners_px for coordinate in corner]
    assert found == pytest.approx([c for corner in PHOTO_CORNERS for c in corner], abs=6)
    assert board.front.picture is not None
    assert folder.job().loose == ()


def test_a_file_that_is_no_picture_is_refused_in_one_sentence(page: Open, folder: JobFolder) -> None:
    at = page("boards")
    at.file_uploader[0].set_value(("notes.jpg", b"no picture", "image/jpeg"))
    _ran(at)
    assert "notes.jpg: this is not a picture" in words(at)
    assert folder.job().loose == ()


def test_moved_corners_make_the_picture_untrue(page: Open, folder: JobFolder) -> None:
    at = page("boards")
    moved = [[160, 310], *[list(corner) for corner in PHOTO_CORNERS[1:]]]
    sent(at, "corners-1-front", {"op": "corners", "corners": moved})
    front = folder.job().board("1").face(Face.FRONT)
    assert front is not None
    assert front.corners_px is not None
    assert front.corners_px[0] == (160, 310)
    assert front.picture is None


def test_crossed_corners_are_refused(page: Open, folder: JobFolder) -> None:
    at = page("boards")
    crossed = [list(PHOTO_CORNERS[index]) for index in (1, 0, 2, 3)]
    sent(at, "corners-1-front", {"op": "corners", "corners": crossed})
    assert folder.job().board("1").face(Face.FRONT) == folder.session().job.board("1").face(Face.FRONT)
    assert "without crossing over" in at.get("bidi_component")[0].proto.json


def test_a_board_is_said_to_be_waney(page: Open, folder: JobFolder) -> None:
    at = page("boards")
    next(box for box in at.checkbox if box.label.startswith("Waney edges")).check()
    _ran(at)
    record = folder.job().board("1")
    # Its picture is to be brought to true scale again.
    assert (record.waney, record.front and record.front.picture) == (True, None)


def test_a_tick_without_a_reading_is_refused_in_one_sentence(page: Open, folder: JobFolder) -> None:
    at = page("boards")
    assert "Three pencil lines square across the board" in words(at)
    sent(at, "corners-1-front", {"op": "tick", "at": [700, 400], "text": "near the end"})
    assert "tick: 'near the end' is not a length" in at.get("bidi_component")[0].proto.json
    sent(at, "corners-1-front", {"op": "tick", "at": [700, 400], "text": "450"})
    front = folder.job().board("1").front
    assert front is not None
    assert [(tick.at_px, tick.reading) for tick in front.ticks] == [((700, 400), 450)]
    assert [field.value for field in at.text_input if field.label == "Tick 1 reads"] == ["450"]


def test_further_photographs_of_a_face_are_added_looked_at_and_taken_out(
    page: Open, folder: JobFolder
) -> None:
    at = page("boards")
    _uploader(at, "The next photographs of this face").upload(
        "next.jpg", photo_of_a_board(seed=4), "image/jpeg"
    )
    _ran(at)
    next(each for each in at.button if each.label == "Add them to this face").click()
    _ran(at)
    front = folder.job().board("1").front
    assert front is not None
    assert len(front.further) == 1
    assert (folder.path / front.further[0].photo).is_file()
    next(each for each in at.radio if "Photo of this face" in each.label).set_value(1)
    _ran(at)
    sent(at, "corners-1-front-1", {"op": "corners", "corners": [list(corner) for corner in PHOTO_CORNERS]})
    front = folder.job().board("1").front
    assert front is not None
    assert front.further[0].corners_px == PHOTO_CORNERS
    assert front.corners_px is None
    next(each for each in at.button if each.label == "Take photo 2 out").click()
    _ran(at)
    front = folder.job().board("1").front
    assert front is not None
    assert front.further == ()


def test_a_suggestion_is_kept_and_the_keeping_undone(page: Open, folder: JobFolder) -> None:
    def state(job: Job) -> MarkState:
        return next(mark.state for mark in job.board("1").marks if mark.id == "front-1")

    at = page("marks")
    sent(at, "marks-1-front", {"op": "state", "ids": ["front-1"], "state": "confirmed"})
    assert state(folder.job()) is MarkState.CONFIRMED
    sent(at, "marks-1-front", {"op": "undo"})
    assert state(folder.job()) is MarkState.PENDING


def test_a_fault_drawn_on_the_back_lands_mirrored_in_the_board_frame(page: Open, folder: JobFolder) -> None:
    at = page("marks")
    at.session_state["picked-face"] = "back"
    _ran(at)
    points = [[100, 10], [140, 10], [140, 30], [100, 30]]
    mark = {"id": "d1", "kind": "shake", "points": points, "wish": "keep off"}
    sent(at, "marks-1-back", {"op": "draw", "mark": mark})
    drawn = folder.job().board("1").marks[-1]
    assert set(drawn.outline) == {(100, 180), (140, 180), (140, 200), (100, 200)}
    assert drawn.where.value == "back"


def test_edits_sent_twice_are_taken_once(page: Open, folder: JobFolder) -> None:
    at = page("marks")
    op = {"op": "draw", "mark": {"id": "d1", "kind": "shake", "points": [[1, 1], [9, 1], [9, 9]]}}
    sent(at, "marks-1-front", op)
    revision = folder.job().revision
    _ran(at)
    _ran(at)
    assert folder.job().revision == revision


def test_the_layout_step_proves_and_lists_what_became_of_faults(page: Open) -> None:
    at = page("layout")
    assert "**3 of 3** parts on **1** boards" in words(at)
    assert "finds nothing wrong" in words(at)


def test_a_part_dragged_into_the_knot_is_refused_with_the_reason(page: Open, folder: JobFolder) -> None:
    at = page("layout")
    before = folder.job().layout
    sent(at, "layout-1-front", {"op": "move", "id": "rail/2", "dx": 200, "dy": 0})
    assert folder.job().layout == before
    assert "can't lie there" in at.get("bidi_component")[0].proto.json


def test_a_part_dragged_to_a_good_place_is_locked_there(page: Open, folder: JobFolder) -> None:
    at = page("layout")
    sent(at, "layout-1-front", {"op": "move", "id": "slat/1", "dx": 0, "dy": 2})
    job = folder.job()
    assert job.layout is not None
    moved = next(item for item in job.layout.placements if item.part == "slat")
    assert (moved.y, moved.locked) == (139, True)


def test_a_fault_the_saw_uncovered_is_kept_and_the_layout_told_untrue(page: Open, folder: JobFolder) -> None:
    at = page("layout")
    points = [[100, 20], [140, 20], [140, 50], [100, 50]]
    sent(at, "layout-1-front", {"op": "fault", "mark": {"id": "f1", "kind": "dead knot", "points": points}})
    assert folder.job().board("1").marks[-1].state is MarkState.CONFIRMED
    _ran(at)
    assert "no longer holds" in words(at)


def test_a_layout_is_kept_and_compared(page: Open, folder: JobFolder) -> None:
    at = page("layout")
    next(button for button in at.button if button.label == "Keep it").click()
    _ran(at)
    assert [kept.name for kept in folder.job().kept] == ["layout 1"]
    assert any(button.label == "Go back to layout 1" for button in at.button)


def test_the_sheets_step_offers_every_file(page: Open) -> None:
    at = page("sheets")
    next(button for button in at.button if button.label == "Make the sheets").click()
    _ran(at)
    names = [each.proto.label for each in at.get("download_button")]
    assert {"parts.csv", "cuts.csv", "board-1-front.png"} <= set(names)
    faces = [each.proto.body for each in at.get("html") if "<picture>" in each.proto.body]
    assert len(faces) == 2
    assert "upright?board=1&amp;face=front" in faces[0]


def test_a_board_with_an_odd_number_has_its_sheets_too(page: Open, folder: JobFolder) -> None:
    text = (folder.path / "job.json").read_text().replace('"board": "1"', '"board": "a/b 7"')
    (folder.path / "job.json").write_text(text.replace('"id": "1"', '"id": "a/b 7"'))
    at = page("sheets")
    next(button for button in at.button if button.label == "Make the sheets").click()
    _ran(at)
    assert sum("board=a%2Fb%207&amp;face" in each.proto.body for each in at.get("html")) == 2


def test_a_layout_that_no_longer_holds_gives_no_sheets(page: Open, folder: JobFolder) -> None:
    at = page("layout")
    points = [[100, 20], [140, 20], [140, 50], [100, 50]]
    sent(at, "layout-1-front", {"op": "fault", "mark": {"id": "f1", "kind": "dead knot", "points": points}})
    assert "no sheets are made" in words(page("sheets"))


def test_a_name_is_shown_as_it_is_and_never_as_formatting(folder: JobFolder, page: Open) -> None:
    bad = "![x](http://elsewhere/x.png) *rail*"
    job = folder.job()
    folder.do(edit_between(job, job.model_copy(update={"name": bad}), "rename"))
    assert page("job").title[0].value == r"\!\[x\](http://elsewhere/x.png) \*rail\*"


def test_the_heart_side_of_a_board_is_kept_and_can_be_unsaid(page: Open, folder: JobFolder) -> None:
    at = page("boards")
    for chosen, kept in (("back", Face.BACK), ("not looked at", None)):
        next(each for each in at.selectbox if each.label == "Nearer the pith").select(chosen)
        _ran(at)
        assert folder.job().boards[0].heart is kept
