"""Steps at the saw, and what comes of them when they are followed to the letter."""

from dataclasses import replace

import pytest

from layout.allowances import Allowances, Shop
from layout.cuts import sawn_apart, sawn_box
from layout.parts import Part
from layout.placement import CutKind, Layout, Placement
from layout.stock import Board, Face
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from tests.ui.drawing.jobs import large_job
from ui.drawing.board_view import BoardView
from ui.drawing.saw_order import saw_steps


def tiny_view() -> BoardView:
    return BoardView(tiny_board(), tiny_parts(), tiny_shop(), tiny_layout(), Face.FRONT)


def test_settings_and_what_comes_free():
    steps = saw_steps(tiny_view())
    assert [(step.reading, step.setting, step.frees) for step in steps] == [
        (20, None, ()),
        (450, 430, ()),
        (3, None, ()),
        (67, 64, ("A1",)),
        (134, 64, ("A2",)),
        (201, 64, ()),
        (430, 410, ("B1",)),
    ]


def test_the_kerf_side_is_away_from_the_measured_piece():
    steps = saw_steps(tiny_view())
    assert [step.kerf_side for step in steps[:2]] == ["datum side", "far side"]


def test_a_setting_from_a_raw_edge_is_said():
    cuts = tuple(cut for cut in tiny_layout().cuts if cut.order != 3)
    view = BoardView(tiny_board(), tiny_parts(), tiny_shop(), replace(tiny_layout(), cuts=cuts), Face.FRONT)
    raw = {step.cut.order: step.from_raw for step in saw_steps(view)}
    assert raw[4]
    assert not raw[5]


def test_a_cut_through_air_is_refused():
    cuts = (replace(tiny_layout().cuts[1], order=1, at=2000.0),)
    view = BoardView(tiny_board(), tiny_parts(), tiny_shop(), replace(tiny_layout(), cuts=cuts), Face.FRONT)
    with pytest.raises(ValueError, match="no wood that is left"):
        saw_steps(view)


def sawn_by_the_sheet(view: BoardView) -> dict[str, tuple[float, float]]:
    """Saw the board exactly to the readings that are printed; the size each piece comes out at."""
    kerf, board = view.shop.allowances.kerf, view.board
    lumps = {piece.mark: [0.0, 0.0, board.length, board.width] for piece in view.pieces}
    for step in saw_steps(view):
        across = step.cut.kind is CutKind.CROSSCUT
        low, high, side = (0, 2, 1) if across else (1, 3, 0)
        for piece in view.pieces:
            lump = lumps[piece.mark]
            middle = (piece.box[side] + piece.box[side + 2]) / 2
            if not step.cut.start - 0.1 <= middle <= step.cut.end + 0.1:
                continue
            near, far = step.reading, step.reading + kerf
            if not step.cut.kept_before:
                near, far = step.reading - kerf, step.reading
            if (piece.box[low] + piece.box[high]) / 2 < step.cut.at:
                lump[high] = min(lump[high], near)
            else:
                lump[low] = max(lump[low], far)
    return {mark: (box[2] - box[0], box[3] - box[1]) for mark, box in lumps.items()}


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_no_part_comes_out_undersize_when_sawn_to_the_readings(units):
    job = large_job()
    for board in job.boards:
        view = BoardView(board, job.parts, job.shop, job.layout, Face.FRONT, units)
        made = sawn_by_the_sheet(view)
        for piece in view.pieces:
            long, wide = made[piece.mark]
            allowances = job.shop.allowances
            assert long >= piece.part.length + allowances.length / 2 - 1e-6, piece.mark
            assert wide >= piece.part.width + allowances.width / 2 - 1e-6, piece.mark


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize(("kerf", "length", "start"), [(3.2, 300.25, 10.25), (3.175, 300.253, 10.0 + 1 / 3)])
def test_without_any_allowance_nothing_is_lost_to_rounding(units, kerf, length, start):
    shop = Shop(allowances=Allowances(kerf=kerf, length=0, width=0, end_trim=start, edge_trim=1.3))
    part = Part("slat", length, 60.351, 20, quantity=6)
    board = Board.square_edged("1", 1000.4, 200.7, 25)
    placed = tuple(
        Placement("slat", 3 * row + column + 1, "1", x, y, from_front=2)
        for row, y in enumerate((1.3, 1.3 + 60.351 + kerf))
        for column, x in enumerate(start + each * (length + kerf) for each in range(3))
    )
    cuts = sawn_apart(board, [sawn_box(each, part, shop) for each in placed], shop).cuts
    view = BoardView(board, (part,), shop, Layout(placed, cuts), Face.FRONT, units)
    for long, wide in sawn_by_the_sheet(view).values():
        assert length - 1e-9 <= long <= length + 0.1
        assert 60.351 - 1e-9 <= wide <= 60.351 + 0.1
