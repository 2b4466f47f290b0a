import gc
import json
from collections.abc import Callable
from typing import Any

import pytest

from layout.parts import Part, PartSide, Visibility, Zone
from layout.placement import Layout, Placement
from layout.stock import DefectKind, Face, Where
from ui import jobfile
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError, boards_of, job_from, job_json, schema
from vision.marks import Mark, MarkState

KNOT = Mark(
    "m1", DefectKind.SOUND_KNOT, ((10, 10), (40, 10), (40, 30)), Where.FRONT, state=MarkState.CONFIRMED
)
CHECK = Mark("m2", DefectKind.CHECK, ((100, 10), (200, 10), (200, 12)), Where.BACK, 0.4)
BOARD = BoardRecord(
    id="A1",
    length=2000,
    widths=((0, 150), (1000, 160)),
    thickness=27,
    front=FaceRecord(photo="photos/a.jpg", corners_px=((0, 0), (9, 0), (9, 1), (0, 1)), error_mm=0.7),
    back=FaceRecord(error_mm=1.2),
    marks=(KNOT, CHECK),
)
SIDE = Part(
    "side",
    500,
    100,
    20,
    sides={PartSide.BACK: Visibility.SHOW},
    zones=(Zone("tenon", ((0, 0), (9, 0), (9, 9))),),
)
JOB = Job(name="a job", boards=(BOARD,), parts=(SIDE,), layout=Layout((Placement("side", 1, "A1", 30, 4),)))


def test_a_job_comes_back_as_it_was_written() -> None:
    assert job_from(job_json(JOB)) == JOB


def test_only_confirmed_marks_become_defects() -> None:
    (board,) = boards_of(JOB)
    assert [defect.id for defect in board.defects] == ["m1"]


def test_a_board_is_as_sure_as_its_worse_face() -> None:
    assert boards_of(JOB)[0].error == 1.2


def test_a_board_may_be_surer_across_than_along() -> None:
    def known(error: float, *across: float) -> FaceRecord:
        along = tuple((1000.0 * at, error, off) for at, off in enumerate(across))
        return FaceRecord(error_mm=error, error_along=along)

    board = BOARD.model_copy(update={"front": known(4.0, 0.5, 0.8), "back": known(3.0, 0.9)})
    assert board.board().off == (4.0, 0.9)
    half_known = BOARD.model_copy(update={"front": known(4.0, 0.5, 0.8), "back": known(3.0)})
    assert half_known.board().off == (4.0, 3.0)
    bare = BOARD.model_copy(update={"front": None, "back": None})
    assert bare.board().off == (0.0, 0.0)


def test_taped_widths_make_the_outline() -> None:
    assert set(BOARD.outline(Face.FRONT)) == {(0, 0), (2000, 0), (2000, 160), (1000, 160), (0, 150)}


def test_an_outline_found_on_one_face_serves_both() -> None:
    outline = ((0.0, 0.0), (1990.0, 2.0), (1990.0, 150.0), (0.0, 150.0))
    board = BOARD.model_copy(update={"front": FaceRecord(outline_mm=outline)})
    assert board.outline(Face.BACK) == board.outline(Face.FRONT) != BOARD.taped_outline()


def _edit(path: str, value: Any) -> Callable[[dict[str, Any]], None]:
    def apply(raw: dict[str, Any]) -> None:
        *steps, last = path.split(".")
        at: Any = raw
        for step in steps:
            at = at[int(step) if step.isdigit() else step]
        at[last] = value

    return apply


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("parts.0.width", "wide", "part 1 'side': width is 'wide'; give a number in mm"),
        ("parts.0.width", -3, "part 1 'side': part side: width is -3.0; give a number above 0 (mm)"),
        ("parts.0.widht", 3, "part 1 'side': there is no field called 'widht'; check its spelling"),
        (
            "parts.0.zones.0.rule",
            "firm",
            "part 1 'side', zone 1 'tenon': rule is 'firm'; give 'sound' or 'covered'",
        ),
        ("boards.0.length", 0, "board 1 'A1': length is 0; give a number above 0"),
        ("boards.0.lenght", 9, "board 1 'A1': there is no field called 'lenght'; check its spelling"),
        ("boards.0.turned", "flipped", "board 1 'A1': turned is 'flipped'; give 'rolled' or 'tumbled'"),
        ("boards.0.widths", [], "board 1 'A1': widths has too few entries"),
        ("settings.allowances.kerf", -1, "settings, allowances: allowance kerf is -1.0; give 0 or more"),
        (
            "version",
            7,
            "written by a newer clearface (version 7; this one knows 1); update clearface to open it",
        ),
        ("version", "one", "version is 'one'; this clearface knows version 1"),
    ],
)
def test_a_wrong_value_is_named_with_its_place(path: str, value: Any, message: str) -> None:
    raw = json.loads(job_json(JOB))
    _edit(path, value)(raw)
    with pytest.raises(JobError) as caught:
        job_from(json.dumps(raw))
    assert str(caught.value) == f"job.json: {message}"


def test_two_parts_of_one_name_are_refused() -> None:
    raw = json.loads(job_json(JOB))
    raw["parts"] *= 2
    with pytest.raises(JobError, match="two parts are called 'side'"):
        job_from(json.dumps(raw))


@pytest.mark.parametrize("text", ["", "[1]", "not json", "{}"])
def test_something_else_is_no_job(text: str) -> None:
    with pytest.raises(JobError, match=r"job\.json: "):
        job_from(text)


def test_the_schema_names_every_field() -> None:
    described = schema()
    assert described["properties"]["version"] == {
        "const": 1,
        "default": 1,
        "title": "Version",
        "type": "integer",
    }
    assert {"BoardRecord", "Part", "Mark", "Shop", "Layout"} <= set(described["$defs"])


def test_a_record_makes_its_board_once_and_a_changed_one_another() -> None:
    gc.collect()
    before = len(jobfile._MADE)
    record = BoardRecord(id="1", length=1000, widths=((0, 200),), thickness=27)
    assert record.board() is record.board()
    thinner = record.model_copy(update={"thickness": 20.0})
    assert thinner.board().thickness == 20.0
    assert record.board().thickness == 27.0
    del record, thinner
    gc.collect()
    assert len(jobfile._MADE) == before
