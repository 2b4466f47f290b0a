"""A waney board's narrower face over its wider one: by the middles of both, and by what is read of both."""

from dataclasses import replace

import numpy as np
import pytest

from vision.waney_faces import APART, OtherFace, Same, laid_over, lies_over, narrower
from vision.waney_scale import Laid

LENGTH, WIDE, THICK = 900.0, 200.0, 40.0
X = np.linspace(0.0, LENGTH, 91)
UPPER, LOWER = 6.0 * np.sin(X / 90.0), WIDE + 5.0 * np.sin(X / 60.0 + 1.0)
INSETS = (22.0, 8.0)  # bark slopes far more at one edge than at the other
MIDDLES = Laid(np.eye(3), WIDE, WIDE - sum(INSETS), 0.5)


def ring(upper: np.ndarray, lower: np.ndarray) -> np.ndarray:
    return np.concatenate([np.column_stack([X, upper]), np.column_stack([X, lower])[::-1]])


WIDER = ring(UPPER, LOWER)
NARROWER = ring(UPPER + INSETS[0], LOWER - INSETS[1])
BADLY_LAID = NARROWER + np.column_stack([0 * NARROWER[:, 0], 5.0 - 9.0 * NARROWER[:, 0] / LENGTH])


def off(laid: Laid) -> float:
    """How far the narrower face lies from its place, at worst."""
    placed = NARROWER @ laid.turn[:2, :2].T + laid.turn[:2, 2]
    return float(np.abs(placed - NARROWER - [0.0, (laid.width_mm - WIDE) / 2]).max())


@pytest.mark.parametrize("sloped", [0.0, 12.0])
def test_the_narrower_face_lies_along_the_middle_of_the_wider_one(sloped: float) -> None:
    aslant = WIDER + np.column_stack([0 * WIDER[:, 0], sloped * (WIDER[:, 0] / LENGTH - 0.5)])
    laid = laid_over(NARROWER, MIDDLES, OtherFace(aslant), WIDE, THICK)
    assert (laid.apart_mm, laid.aside_mm) == (APART * THICK, 0.0)
    placed = NARROWER @ laid.turn[:2, :2].T + laid.turn[:2, 2]
    half = len(X)
    middle = placed[:half, 1] + placed[half:][::-1, 1] - aslant[:half, 1] - aslant[half:][::-1, 1]
    assert middle / 2 == pytest.approx((laid.width_mm - WIDE) / 2, abs=0.5)


def test_the_wider_face_and_one_laid_by_its_edge_stay_where_they_are() -> None:
    assert narrower(NARROWER, WIDER, LENGTH)
    wide = Laid(np.eye(3), WIDE, WIDE, 0.5)
    assert laid_over(WIDER, wide, OtherFace(NARROWER), WIDE, THICK) is wide
    by_edge = replace(wide, by_middles=False)
    assert laid_over(NARROWER, by_edge, OtherFace(WIDER), WIDE, THICK) is by_edge


@pytest.mark.parametrize("on_lower", [False, True])
def test_two_readings_with_a_square_lay_it_to_the_rule(on_lower: bool) -> None:
    out = -INSETS[int(on_lower)]
    by_middles = laid_over(NARROWER, MIDDLES, OtherFace(WIDER), WIDE, THICK)
    read = laid_over(NARROWER, MIDDLES, OtherFace(WIDER, ((0, out), (LENGTH, out)), on_lower), WIDE, THICK)
    assert off(by_middles) == pytest.approx(7.0, abs=0.5)
    assert off(read) < 0.6
    assert read.apart_mm < 2.5
    assert not read.notes


def test_one_reading_fixes_the_shift_and_leaves_the_turn() -> None:
    one, two = (
        lies_over(BADLY_LAID, WIDER, LENGTH, THICK, read) for read in ([(0, -22)], [(0, -22), (900, -22)])
    )
    assert (two.shift_mm, two.turn_mm) == pytest.approx((-0.5, 9.0), abs=0.6)
    assert 2 * two.apart_mm < one.apart_mm < APART * THICK


def test_places_of_both_faces_lay_it_as_well() -> None:
    there = np.array([[120.0, 70.0], [820.0, 140.0]])
    here = there + np.column_stack([[0.0, 0.0], 5.0 - 9.0 * there[:, 0] / LENGTH])
    found = lies_over(BADLY_LAID, WIDER, LENGTH, THICK, same=np.column_stack([here, there[:, 1]]))
    assert (found.shift_mm, found.turn_mm) == pytest.approx((-0.5, 9.0), abs=0.8)
    assert found.apart_mm < 5


def test_a_place_is_looked_up_where_the_photograph_shows_it() -> None:
    other = OtherFace(WIDER, same=(Same("A", (0, 0), (450.0, 90.0)), Same("B", (0, 0), (800.0, 120.0))))
    laid = laid_over(NARROWER, MIDDLES, other, WIDE, THICK, [(450.0, 90.0), (800.0, 120.0)])
    assert off(laid) < 1.0
    told = laid_over(NARROWER, MIDDLES, other, WIDE, THICK, [(450.0, 90.0), (790.0, 120.0)]).notes
    assert "B lies 10 mm farther along one face than along the other" in told[0]


def test_a_reading_that_cannot_be_is_told_and_not_used() -> None:
    """The sign of one end taken for the other: 22 out for 22 under."""
    found = lies_over(NARROWER, WIDER, LENGTH, THICK, [(0, -22), (LENGTH, 22)])
    assert "cannot be: at 900 mm as seen it would lie 37 mm beside" in found.note
    assert found == replace(lies_over(NARROWER, WIDER, LENGTH, THICK), note=found.note)


def test_readings_that_do_not_agree_are_told_and_owned_to() -> None:
    found = lies_over(NARROWER, WIDER, LENGTH, THICK, [(0, -22), (450, -12), (LENGTH, -22)])
    assert "does not agree: at 450 mm" in found.note
    assert found.apart_mm > 8.0
