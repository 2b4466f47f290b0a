from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.outline import rectangle
from layout.stock import Board, Defect, DefectKind, Face, Price, Turn, Where
from tests.builders import tiny_board, tiny_knot


def test_faces_are_each_others_other() -> None:
    assert [face.other for face in Face] == [Face.BACK, Face.FRONT]


def test_size_from_both_faces() -> None:
    waney = Board("2", ((0, 0), (900, 5), (890, 180), (0, 170)), rectangle(0, 0, 910, 150), 30)
    assert (waney.length, waney.width) == (910, 180)
    assert waney.outline(Face.BACK) == rectangle(0, 0, 910, 150)


@given(st.sampled_from(Turn), st.floats(0, 1000), st.floats(0, 210))
def test_turning_a_board_over_twice_leaves_it_as_it_was(turned: Turn, x: float, y: float) -> None:
    board = replace(tiny_board(), turned=turned)
    assert board.back_seen(*board.back_seen(x, y)) == pytest.approx((x, y))


def test_how_it_was_turned_decides_the_mirror() -> None:
    rolled = tiny_board()
    assert rolled.back_seen(480, 80) == (480, 130)
    assert replace(rolled, turned=Turn.TUMBLED).back_seen(480, 80) == (520, 80)


def test_where_a_defect_shows() -> None:
    assert all(tiny_knot().shows_on(face) for face in Face)
    front = replace(tiny_knot(), where=Where.FRONT, depth=4)
    assert [front.shows_on(face) for face in Face] == [True, False]


def test_a_defect_may_be_off_as_far_as_its_own_face() -> None:
    through, back = tiny_knot(), replace(tiny_knot(), where=Where.BACK)
    board = replace(tiny_board(), error=4.0, error_front=(1.0, 0.4), error_back=(0.8, 6.0))
    assert board.off == board.off_of(through) == (1.0, 6.0)
    assert board.off_of(back) == board.off_on(Face.BACK) == (0.8, 6.0)
    assert board.off_of(replace(back, where=Where.FRONT)) == (1.0, 0.4)
    half = replace(board, error_across=0.5, error_back=None)  # nobody said of the back alone
    assert half.off_on(Face.BACK) == half.off == (4.0, 0.5)
    with pytest.raises(ValueError, match=r"board 1: error of the back is -1"):
        replace(board, error_back=(0.0, -1.0))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"id": ""}, "the number chalked on it is missing"),
        ({"thickness": 0}, "board 1: thickness is 0"),
        ({"error": -1}, "board 1: error is -1"),
        ({"moisture": 250}, "moisture 250 % is not possible"),
        ({"grain": 80}, "x must run along the grain"),
        ({"defects": (tiny_knot(), tiny_knot())}, "two defects are called k1"),
        ({"front": ((0, 0), (1, 1))}, "board 1, front face: 2 corners"),
    ],
)
def test_a_board_that_cannot_be(change: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        replace(tiny_board(), **change)  # type: ignore[arg-type]


def test_a_defect_or_price_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="a through defect has no depth of its own"):
        Defect("k", DefectKind.PITH, rectangle(0, 0, 1, 1), Where.THROUGH, 5)
    with pytest.raises(ValueError, match="defect k: depth is 0"):
        Defect("k", DefectKind.PITH, rectangle(0, 0, 1, 1), Where.FRONT, 0)
    with pytest.raises(ValueError, match="price is -1"):
        Price(-1)
    with pytest.raises(ValueError, match="board 9: length is 0"):
        Board.square_edged("9", 0, 100, 20)
