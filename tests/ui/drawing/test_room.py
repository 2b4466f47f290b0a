"""Room for words."""

from itertools import combinations, pairwise

from hypothesis import given
from hypothesis import strategies as st

from ui.drawing.room import Room, overlap, spread


@given(st.lists(st.floats(-1e3, 1e3), max_size=30).map(sorted), st.floats(0.1, 50))
def test_spread_keeps_order_and_distance(wanted, gap):
    places = spread(wanted, gap)
    assert len(places) == len(wanted)
    assert all(b - a >= gap - 1e-6 for a, b in pairwise(places))


def test_spread_moves_nothing_that_need_not_move():
    assert spread([0.0, 10.0, 30.0], 5.0) == [0.0, 10.0, 30.0]


def test_spread_moves_close_ones_apart_evenly():
    assert spread([9.0, 11.0], 6.0) == [7.0, 13.0]


def test_lanes_never_overlap():
    room = Room()
    boxes = [room.take(room.lane(x, 40.0, 10.0, 100.0, 12.0)) for x in (0.0, 5.0, 10.0, 60.0)]
    assert not any(overlap(a, b) for a, b in combinations(boxes, 2))


def test_best_prefers_ground_that_covers_nothing():
    room = Room(worth_seeing=[(0, 0, 10, 10)])
    assert room.best([(0, 0, 4, 4), (20, 0, 24, 4)]) == (20, 0, 24, 4)
    assert room.best([(0, 0, 4, 4), (8, 8, 12, 12)]) == (8, 8, 12, 12)
    room.take((0, 0, 100, 100))
    assert room.best([(0, 0, 4, 4)]) is None
