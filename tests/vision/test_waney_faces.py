"""A waney board's narrower face over its wider one: by the middles of both, owning to what nothing says."""

from dataclasses import replace

import numpy as np
import pytest

from vision.waney_faces import APART, laid_over, narrower
from vision.waney_scale import Laid

LENGTH, WIDE, THICK = 900.0, 200.0, 40.0
X = np.linspace(0.0, LENGTH, 91)
UPPER, LOWER = 6.0 * np.sin(X / 90.0), WIDE + 5.0 * np.sin(X / 60.0 + 1.0)
INSETS = (22.0, 8.0)  # bark slopes far more at one edge than at the other


def ring(upper: np.ndarray, lower: np.ndarray) -> np.ndarray:
    return np.concatenate([np.column_stack([X, upper]), np.column_stack([X, lower])[::-1]])


WIDER = ring(UPPER, LOWER)
NARROWER = ring(UPPER + INSETS[0], LOWER - INSETS[1])


@pytest.mark.parametrize("sloped", [0.0, 12.0])
def test_the_narrower_face_lies_along_the_middle_of_the_wider_one(sloped: float) -> None:
    middles = Laid(np.eye(3), WIDE, WIDE - sum(INSETS), 0.5)
    aslant = WIDER + np.column_stack([0 * WIDER[:, 0], sloped * (WIDER[:, 0] / LENGTH - 0.5)])
    laid = laid_over(NARROWER, middles, aslant, WIDE, THICK)
    assert laid.aside_mm == APART * THICK
    placed = NARROWER @ laid.turn[:2, :2].T + laid.turn[:2, 2]
    half = len(X)
    off = placed[:half, 1] + placed[half:][::-1, 1] - aslant[:half, 1] - aslant[half:][::-1, 1]
    assert off / 2 == pytest.approx((laid.width_mm - WIDE) / 2, abs=0.5)


def test_the_wider_face_and_one_laid_by_its_edge_stay_where_they_are() -> None:
    assert narrower(NARROWER, WIDER, LENGTH)
    middles = Laid(np.eye(3), WIDE, WIDE, 0.5)
    assert laid_over(WIDER, middles, NARROWER, WIDE, THICK) is middles
    by_edge = replace(middles, by_middles=False)
    assert laid_over(NARROWER, by_edge, WIDER, WIDE, THICK) is by_edge
