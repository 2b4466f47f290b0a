"""Suggestions on real boards that nobody here drew; the limits lie below what was measured, with room."""

from itertools import islice

import pytest

from tests.vision.suggest.scans import scanned_boards
from vision.score import score_marks, summed
from vision.suggest.every import suggest_marks


@pytest.mark.data
def test_most_knots_of_two_scanned_boards_are_found_without_flooding_the_maker(shared_data):
    scores = [
        score_marks(suggest_marks(picture, 2.0), truth, picture.shape[1] / 2.0)
        for _, picture, truth in islice(scanned_boards(shared_data), 2, 4)
    ]
    score = summed(scores)
    assert score.by_kind["knot"].recall >= 0.85
    assert score.false_per_metre <= 10
