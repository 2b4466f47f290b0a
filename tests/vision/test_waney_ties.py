"""Which first guess about two overlapping photographs of a waney board is believed."""

import numpy as np

from vision.join import Join
from vision.overlap import Match
from vision.waney_ties import lies_as_said


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
