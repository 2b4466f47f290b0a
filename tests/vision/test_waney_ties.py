"""What ties two overlapping photographs of a waney board, and which first guess is believed."""

import numpy as np

from vision.frame import Frame
from vision.join import Join
from vision.overlap import Match
from vision.waney_ties import edges_shared, lies_as_said


def match(apart: float) -> Match:
    """Six places of two pieces, so far apart."""
    left = np.linspace(apart, apart + 400.0, 6)
    return Match(np.column_stack([left, left - apart, np.zeros(6)]), Join(0.4, 0.1, 0.0, 1.0, weak=False))


def test_grain_found_alike_elsewhere_than_lines_say_is_not_believed() -> None:
    # As seen on a maple board: sure of itself, and 447 mm off.
    assert not lies_as_said(match(969.0), 522.0, 1100.0)
    assert not lies_as_said(match(522.0), 969.0, 1100.0)


def test_a_first_guess_may_be_out_of_scale_by_some_parts_of_a_hundred() -> None:
    assert lies_as_said(match(503.0), 522.0, 1100.0)


def test_where_no_grain_was_found_nothing_is_doubted() -> None:
    assert lies_as_said(Match(np.zeros((0, 3)), match(1.0).join), 522.0, 1100.0)


def test_edges_of_first_guesses_of_another_scale_and_turn_are_shared_all_the_same() -> None:
    # Two guesses of one board, the second 10 % too narrow and turned by 2 degrees: its edges lie 13 mm
    # farther in on either side, and drift. One station of one edge was followed astray.
    same = Frame(np.eye(3))
    x = np.linspace(0.0, 500.0, 26)
    first = (np.column_stack([x, -130.0 + 0 * x]), np.column_stack([x, 130.0 + 0 * x]))
    turned = 0.035 * (x - 250.0)
    second = (np.column_stack([x, -117.0 + turned]), np.column_stack([x, 117.0 + turned]))
    assert len(edges_shared(0, (same, same), (0.0, 500.0), (first, second))) == 10
    astray = second[0].copy()
    astray[np.abs(x - 250.0) < 15.0, 1] += 25.0
    ties = edges_shared(0, (same, same), (0.0, 500.0), (first, (astray, second[1])))
    assert len(ties) == 9
    assert not any(tie.left_px == (250.0, -130.0) for tie in ties)
