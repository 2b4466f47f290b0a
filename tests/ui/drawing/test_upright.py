"""The picture for a phone held upright: the same board, turned and not mirrored, and legible at 390 px."""

from itertools import combinations

import numpy as np
import pytest

from layout.stock import Board, Face, Turn
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from tests.ui.drawing.jobs import large_job
from ui.drawing.board_picture import board_picture, board_scene
from ui.drawing.board_view import BoardView
from ui.drawing.room import overlap

JOB = large_job(boards=6, copies=3)
PHONE = 390  # CSS px across a phone held upright


@pytest.mark.parametrize("units", ["mm", "inch"])
@pytest.mark.parametrize("face", list(Face))
def test_words_keep_apart_and_are_large_enough_to_read(units, face):
    for board in JOB.boards:
        view = BoardView(board, JOB.parts, JOB.shop, JOB.layout, face, units, upright=True)
        scene = board_scene(view)
        words, wide = scene.words(), scene.extent[2] - scene.extent[0]
        clashes = [(a.text, b.text) for a, b in combinations(words, 2) if overlap(a.box, b.box)]
        assert clashes == [], board.id
        marks = {piece.mark for piece in view.pieces}
        assert marks <= {each.text.split()[0] for each in words}
        assert {str(cut.order) for cut in view.cuts} <= {each.text for each in words}
        readings = [each.size for each in words if each.bold and each.layer == "dimensions"]
        assert min(readings) / wide * PHONE >= 10
        assert min(each.size for each in words) / wide * PHONE >= 7


@pytest.mark.parametrize(
    ("face", "turned"), [(Face.FRONT, Turn.ROLLED), (Face.BACK, Turn.ROLLED), (Face.BACK, Turn.TUMBLED)]
)
def test_the_board_is_turned_not_mirrored_with_its_datum_end_on_top(face, turned):
    board = Board.square_edged("1", 1000, 210, 27, turned=turned)
    flat, up = (
        BoardView(board, tiny_parts(), tiny_shop(), tiny_layout(), face, upright=each)
        for each in (False, True)
    )
    corners = [(0.0, 0.0), (1000.0, 0.0), (1000.0, 210.0)]

    def winding(view: BoardView) -> float:
        (ax, ay), (bx, by), (cx, cy) = (view.seen(point) for point in corners)
        return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)

    assert winding(up) == winding(flat)
    assert up.seen((0.0, 100.0))[1] == 0.0
    assert {up.seen(point)[1] for point in corners} == {0.0, 1000.0}


@pytest.mark.parametrize("face", list(Face))
@pytest.mark.parametrize("turned", list(Turn))
def test_the_photograph_turns_with_the_board(face, turned):
    board = Board.square_edged("1", 1000, 210, 27, turned=turned)
    picture = np.full((210, 1000, 3), 200, np.uint8)
    spot = (830.0, 60.0)  # bare wood of the offcut, in the board frame
    x, y = spot if face is Face.FRONT else board.back_seen(*spot)
    picture[round(y) - 8 : round(y) + 8, round(x) - 8 : round(x) + 8] = (255, 0, 0)
    layout = tiny_layout()
    drawn = board_picture(board, tiny_parts(), tiny_shop(), layout, face, picture, upright=True)
    view = BoardView(board, tiny_parts(), tiny_shop(), layout, face, upright=True)
    extent = board_scene(view, picture).extent
    at_x, at_y = (
        (v - o) * 1200 / (extent[2] - extent[0]) for v, o in zip(view.seen(spot), extent, strict=False)
    )
    assert drawn[int(at_y), int(at_x)].tolist() == [255, 0, 0]
    assert drawn.shape[1] == pytest.approx(1200, abs=1)


def test_every_reading_is_written_beside_its_cut():
    view = BoardView(tiny_board(), tiny_parts(), tiny_shop(), tiny_layout(), Face.FRONT, upright=True)
    texts = [words.text for words in board_scene(view).words()]
    for wanted in ("20", "450", "3", "67", "134", "201", "430", "17", "547"):
        assert wanted in texts
