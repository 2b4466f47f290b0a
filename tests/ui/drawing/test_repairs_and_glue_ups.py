"""Repairs step by step, glue-ups stave by stave, cautions where they apply."""

from dataclasses import replace

import pytest

from layout.check import violations
from layout.outline import rectangle
from layout.stock import Board, Defect, DefectKind, Face, Where
from tests.reference.drawn import mended_job, panel_job, spliced_job
from tests.ui.drawing.paper import Paper
from ui.drawing.board_picture import board_scene
from ui.drawing.board_view import BoardView
from ui.drawing.cautions import ALWAYS, board_cautions
from ui.drawing.fates import Fate, fates
from ui.drawing.measures import Tape
from ui.drawing.printed.glue_up import stave_rows
from ui.drawing.reckoning import Wood, wood_of
from ui.drawing.repair_sketch import repair_sketch
from ui.drawing.repair_steps import repair_steps
from ui.drawing.scene import Shape
from ui.drawing.sheets import printed_sheets


def test_a_mended_fault_is_said_to_be_made_good():
    job = mended_job()
    found = fates(job.boards[0], job.parts, job.shop, job.layout)
    # the check lies on a side that tolerates it: filled for looks, not for the rule
    assert [each.fate for each in found] == [Fate.MENDED, Fate.MENDED, Fate.CONCEALED]
    bare = fates(job.boards[0], job.parts, job.shop, replace(job.layout, repairs=()))
    assert [each.fate for each in bare][:2] == [Fate.AGAINST, Fate.AGAINST]


@pytest.mark.parametrize("job", [mended_job(), spliced_job()], ids=["mended", "spliced"])
def test_what_is_drawn_here_is_sound_work(job):
    assert violations(job.boards, job.parts, job.shop, job.layout) == ()


def test_a_scarf_is_drawn_where_it_meets_the_side_given():
    job = spliced_job()
    found = board_scene(job.view(job.boards[0], Face.FRONT)).items
    lines = [
        item for item in found if isinstance(item, Shape) and item.layer == "repairs" and not item.closed
    ]
    # 80 mm from the near end, which is 5 mm into the piece sawn from 20 on; between 3 + 2 and 3 + 2 + 50
    assert [line.points for line in lines] == [((105.0, 5.0), (105.0, 55.0))]
    back = board_scene(job.view(job.boards[0], Face.BACK)).items
    assert not any(isinstance(item, Shape) and item.layer == "repairs" and not item.closed for item in back)


@pytest.mark.parametrize(
    ("job", "number", "wanted"),
    [
        (mended_job(), 0, {"23 to 49 mm", "368 to 452 mm from near end"}),
        (mended_job(), 1, {"10 mm", "120 mm", "1 in 12"}),
        (spliced_job(), 0, {"22 mm", "80 mm", "344 mm", "1 in 12, drawn steeper"}),
        (spliced_job(), 1, {"18 mm", "near edge", "far edge"}),
    ],
    ids=["patch", "slice", "splice", "edge strip"],
)
def test_a_sketch_carries_the_repairs_own_sizes(job, number, wanted):
    repair = job.layout.repairs[number]
    part = next(each for each in job.parts if each.name == repair.part)
    scene = repair_sketch(repair, part, Tape())
    assert wanted <= {words.text for words in scene.words()}
    x0, y0, x1, y1 = scene.extent
    for words in scene.words():
        left, top, right, foot = words.box
        assert x0 <= left < right <= x1, words.text
        assert y0 <= top < foot <= y1, words.text


def test_a_slice_at_the_far_end_is_sketched_there():
    job = mended_job()
    repair, part = job.layout.repairs[1], job.parts[1]
    moved = replace(repair, outline=rectangle(780, 0, 900, 70), at=780.0)
    new = next(item for item in repair_sketch(moved, part, Tape()).items if item.layer == "repairs")
    xs = {x for x, _ in new.points}
    assert xs == {780.0, 900.0}


def test_repair_and_donor_are_drawn_and_named():
    job = mended_job()
    front = {words.text for words in board_scene(job.view(job.boards[0], Face.FRONT)).words()}
    back = {words.text for words in board_scene(job.view(job.boards[0], Face.BACK)).words()}
    assert {"R1 patch", "R3", "for R1", "for R2"} <= front
    assert "R2 slice" in back
    assert "R2 slice" not in front


@pytest.mark.parametrize(
    ("number", "wanted"),
    [
        (
            0,
            [
                "94 mm x 32 mm, 8 mm thick",
                "1300 mm to 1394 mm",
                "368 mm to 452 mm from the near end",
                "5 mm deep",
            ],
        ),
        (
            1,
            [
                "1 in 12 (4.8°)",
                "nothing 120 mm from the near end, 10 mm at the near end",
                "back to 22 mm thick",
            ],
        ),
        (2, ["297 mm to 383 mm from the near end", "6 mm deep"]),
    ],
)
def test_steps_carry_the_repairs_own_sizes(number, wanted):
    job = mended_job()
    repair = job.layout.repairs[number]
    part = next(each for each in job.parts if each.name == repair.part)
    told = " ".join(repair_steps(repair, part, "X1", Tape()))
    for words in wanted:
        assert words in told


def test_the_sheet_tells_every_repair_with_its_caution_and_its_alternative():
    sheets = Paper(printed_sheets(mended_job()))
    said = " ".join(" ".join(sheets.text(page).split()) for page in range(sheets.pages()))
    assert "R1 patch, A1 rail, 16.67 EUR" in said
    assert "Caution: Compare donor and host by eye, in the same light." in said
    assert "Without it: one more board, 40.00" in said


def test_staves_stand_in_their_order_with_their_boards():
    job = panel_job()
    rows = stave_rows(job, job.layout.glue_ups[0])
    assert [(row.piece.mark, row.board.id, row.size) for row in rows] == [
        ("A1.1", "5", 110.0),
        ("A1.2", "5", 120.0),
        ("A1.3", "5", 100.0),
    ]
    sheets = Paper(printed_sheets(job))
    said = next(sheets.text(page) for page in range(sheets.pages()) if "Glue-up" in sheets.text(page))
    assert "Glue-up A1 top: 520 x 330 x 22 mm, panel" in said
    # 330 mm of flat-sawn oak: 330 x 0.00315 x 2 = 2.1 mm drier, x 3 = 3.1 mm damper
    assert "shrinks 2.1 mm at 7 % and swells 3.1 mm at 12 %" in " ".join(said.split())


def test_a_stave_not_placed_is_said():
    job = panel_job()
    missing = replace(job.layout, placements=job.layout.placements[:2])
    rows = stave_rows(replace(job, layout=missing), missing.glue_ups[0])
    assert [row.piece is None for row in rows] == [False, False, True]


def test_waste_both_ways():
    wood = Wood(bought=100.0, parts=70.0, kept=0.0, price=0.0)
    assert wood.waste_words() == (
        "30 % of the wood bought is not in the parts (that is 43 % added to the parts)"
    )
    job = mended_job()
    found = wood_of(job.boards, job.parts, job.shop, job.layout)
    assert found.parts == pytest.approx((900 * 70 * 22 * 2 + 900 * 40 * 22) / 1e9)
    assert found.bought == pytest.approx(2000 * 210 * 27 / 1e9)


def cautions_of(board: Board) -> str:
    job = mended_job()
    return " ".join(board_cautions(BoardView(board, job.parts, job.shop, job.layout, Face.FRONT)))


def test_cautions_only_where_they_apply():
    plain = Board.square_edged("9", 1000, 150, 27)
    assert cautions_of(plain) == ""
    metal = Defect("m", DefectKind.METAL, rectangle(10, 10, 20, 20), Where.FRONT)
    assert "Metal" in cautions_of(replace(plain, defects=(metal,)))
    split = Defect("s", DefectKind.SPLIT, rectangle(10, 10, 90, 12), Where.THROUGH)
    assert "run further than they show" in cautions_of(replace(plain, defects=(split,)))
    # 4000 x 400 x 50 mm of oak at 702 kg/m3 is 56 kg
    assert "56 kg" in cautions_of(Board.square_edged("9", 4000, 400, 50))
    assert "Lifting" not in cautions_of(Board.square_edged("9", 4000, 400, 50, species="unknown wood"))


def test_cautions_are_a_line_or_two():
    job = mended_job()
    said = [*ALWAYS, *board_cautions(job.view(job.boards[0], Face.FRONT))]
    assert all(len(words) <= 160 for words in said)
