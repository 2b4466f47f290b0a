import numpy as np
import pytest
from shapely import Point, Polygon

from layout.outline import bounds_of
from layout.stock import DefectKind, Face, Turn, Where
from tests.vision.suggest.made_boards import PX_PER_MM, clear_board, photographed, with_crack, with_knot
from vision.errors import VisionError
from vision.marks import MarkState, Origin
from vision.suggest.every import suggest_marks

KNOTS = {DefectKind.SOUND_KNOT, DefectKind.DEAD_KNOT, DefectKind.PIN_KNOT}


def test_clear_straight_grain_needs_no_mark():
    assert suggest_marks(photographed(clear_board()), PX_PER_MM) == ()


def test_a_knot_is_found_where_it_is_and_as_big_as_it_is():
    marks = suggest_marks(photographed(with_knot(clear_board(), 200, 50, 18)), PX_PER_MM)
    (mark,) = marks
    x0, y0, x1, y1 = bounds_of(mark.outline)
    assert mark.kind in KNOTS
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((200, 50), abs=1.5)
    assert (x1 - x0, y1 - y0) == pytest.approx((18, 18), abs=4)
    assert len(mark.outline) > 6, "an outline that follows the knot is no box"
    assert (mark.origin, mark.state, mark.where) == (Origin.SUGGESTED, MarkState.PENDING, Where.FRONT)
    assert 0.5 <= mark.score <= 1


def test_a_small_knot_is_a_pin_knot():
    (mark,) = suggest_marks(photographed(with_knot(clear_board(), 300, 70, 4.5, dark=0.3)), PX_PER_MM)
    assert mark.kind is DefectKind.PIN_KNOT


def test_a_crack_is_found_along_its_line():
    marks = suggest_marks(photographed(with_crack(clear_board(), 150, 60, 120)), PX_PER_MM)
    assert [mark.kind for mark in marks] == [DefectKind.CHECK]
    x0, y0, x1, y1 = bounds_of(marks[0].outline)
    assert x0 == pytest.approx(150, abs=15)
    assert x1 == pytest.approx(270, abs=15)
    assert y1 - y0 < 10


@pytest.mark.parametrize(("turned", "where"), [(Turn.ROLLED, (200, 70)), (Turn.TUMBLED, (300, 50))])
def test_marks_of_the_back_lie_in_the_board_frame(turned, where):
    picture = photographed(with_knot(clear_board(), 200, 50, 18))
    (mark,) = suggest_marks(picture, PX_PER_MM, Face.BACK, turned)
    assert mark.where is Where.BACK
    assert Polygon(mark.outline).centroid.distance(Point(where)) < 1.5


def test_a_long_board_is_marked_once_at_the_seams_of_its_stretches():
    board = clear_board(1400)
    places = [100, 640, 700, 705 + 28, 1300]
    for x in places:
        board = with_knot(board, x, 60, 16)
    marks = suggest_marks(photographed(board), PX_PER_MM)
    middles = [Polygon(mark.outline).centroid.x for mark in marks if mark.kind in KNOTS]
    assert middles == pytest.approx(places, abs=3)
    assert len({mark.id for mark in marks}) == len(marks)


def test_marks_stay_on_the_board():
    picture = photographed(with_knot(clear_board(), 250, 1, 20, dark=0.3))
    (mark,) = suggest_marks(picture, PX_PER_MM)
    x0, y0, x1, y1 = bounds_of(mark.outline)
    assert x0 >= 0
    assert y0 >= 0
    assert x1 <= 500
    assert y1 <= 120


@pytest.mark.parametrize("scale", [0.0, -1.0, float("nan")])
def test_a_scale_of_nothing_is_refused_with_a_sentence(scale):
    with pytest.raises(VisionError, match="scale"):
        suggest_marks(photographed(clear_board()), scale)


def test_a_grey_picture_is_refused_with_a_sentence():
    with pytest.raises(VisionError, match="colour picture"):
        suggest_marks(np.zeros((20, 30), np.uint8), 1.0)
