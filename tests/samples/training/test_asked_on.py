import cv2
import numpy as np

from samples.training.asked_on import with_knots, written_on


def plain(rows=240, columns=1200):
    return np.full((rows, columns, 3), 150, np.uint8)


def a_knot(side=40, dark=0.4):
    """Colour over that of the grain, 128 alike, and its mask."""
    y, x = np.mgrid[:side, :side] - (side - 1) / 2
    inside = np.hypot(x, y) < 0.3 * side
    ratio = np.where(inside, 128 * dark, 128.0)[..., None].repeat(3, axis=2)
    return ratio.astype(np.uint8), np.where(inside, 255, 0).astype(np.uint8)


def test_a_board_written_on_is_the_same_for_the_same_seed_and_mostly_bare():
    board = plain()
    one, other = (written_on(board, 2.0, np.random.default_rng(3)) for _ in range(2))
    assert np.array_equal(one, other)
    touched = (np.abs(one.astype(int) - board).max(axis=2) > 12).mean()
    assert 0.002 < touched < 0.5
    assert np.array_equal(board, plain()), "the board given stays as it is"


def test_knots_are_set_in_where_their_mask_says_fainter_than_they_were():
    board, bits = plain(), np.zeros((240, 1200), np.uint8)
    made, marked = with_knots(board, bits, [a_knot()], 6, np.random.default_rng(1))
    assert marked.any()
    assert not bits.any()
    inside, outside = made[marked > 0], made[marked == 0]
    assert 150 * 0.4 < inside.mean() < 140
    assert np.median(outside) == 150


def test_knots_set_in_do_not_touch():
    _, marked = with_knots(plain(), np.zeros((240, 1200), np.uint8), [a_knot()], 8, np.random.default_rng(2))
    count, _ = cv2.connectedComponents(marked)
    assert count - 1 == 8


def test_a_knot_larger_than_the_board_is_left_out():
    board = plain(20, 200)
    made, marked = with_knots(board, np.zeros((20, 200), np.uint8), [a_knot(90)], 3, np.random.default_rng(3))
    assert not marked.any()
    assert np.array_equal(made, board)
