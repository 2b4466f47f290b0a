"""Suggestions on real boards that nobody here drew; the limits lie below what was measured, with room."""

import pytest

from tests.vision.suggest.scans import scanned_boards
from vision.score import score_marks
from vision.suggest import learned
from vision.suggest.every import suggest_marks


def score_of_board_d(shared):
    """Board D, on which nothing was learned."""
    _, picture, truth = next(scanned_boards(shared, names="board_D*"))
    return score_marks(suggest_marks(picture, 2.0), truth, picture.shape[1] / 2.0)


@pytest.mark.data
def test_knots_of_a_scanned_board_are_found_without_flooding_the_maker(shared_data):
    score = score_of_board_d(shared_data)
    assert score.by_kind["knot"].recall >= 0.8
    assert score.by_kind["knot"].recall_overlapped >= 0.75
    assert score.false_per_metre <= 1.5


@pytest.mark.data
def test_without_the_net_it_works_less_well_but_works(shared_data, monkeypatch):
    monkeypatch.setattr(learned, "_net", lambda: None)
    score = score_of_board_d(shared_data)
    assert score.by_kind["knot"].recall >= 0.65
    assert score.false_per_metre <= 2.5
