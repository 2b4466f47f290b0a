"""A width misread bends the lens or leans the camera, and is told all the same."""

from dataclasses import replace

import pytest

from tests.bench.test_scale import BOWED, Shot, shot
from vision.adjust import adjusted
from vision.contradict import contradiction
from vision.evidence import Evidence
from vision.misread import unseen, widths_left_out

ENDS, THREE, FIVE = (0, 4), (0, 2, 4), (0, 1, 2, 3, 4)


def read(one: Shot, which: tuple[int, ...], wrong: int | None = None, by: float = 0.0) -> Evidence:
    """The photograph with some of the five widths read, one of them wrong."""
    widths = tuple((x, width + by * (i == wrong)) for i, (x, width) in enumerate(one.five) if i in which)
    return replace(one.evidence, readings=replace(one.evidence.readings, widths=widths))


def said(evidence: Evidence) -> str:
    return contradiction(evidence, adjusted(evidence)) or ""


@pytest.mark.parametrize("which", [ENDS, THREE, FIVE])
def test_right_readings_of_a_sawn_board_are_not_doubted(which: tuple[int, ...]) -> None:
    for seed in (3, 4):
        assert said(read(shot(seed, 1.05, 0.27), which)) == ""


@pytest.mark.parametrize("wrong", THREE)
def test_one_of_three_misread_by_5_mm_is_said(wrong: int) -> None:
    one = shot(3, 1.05, 0.27)
    assert "the three widths read do not lie on straight edges" in said(read(one, THREE, wrong, 5.0))


def test_of_two_and_of_five_widths_too() -> None:
    one = shot(3, 1.05, 0.27)
    assert "by the two widths read the board tapers by" in said(read(one, ENDS, 4, -5.0))
    width = one.five[4][1] - 5.0
    assert said(read(one, FIVE, 4, -5.0)).startswith(
        f"the width read as {width:g} mm at {one.length:.0f} mm is"
    )


def test_two_more_right_readings_settle_a_board_that_is_wider_in_its_middle() -> None:
    one = shot(60_019, 0, 0, -0.016, kind=BOWED[4])
    assert "the three widths read do not lie on straight edges" in said(read(one, THREE))
    assert said(read(one, FIVE)) == ""


def test_three_widths_of_a_waney_board_do_not_show_a_misread_one_and_it_is_said() -> None:
    one = shot(3, 1.05, 0.27)
    readings = replace(one.evidence.readings, widths=one.widths)
    grown = replace(one.evidence, readings=readings, edges_px=(None, one.evidence.edges_px[1], None, None))
    across = []
    for x, width in one.widths:
        upper, lower = one.frame.to_px([[x, 0.0], [x, width]])
        across.append(((float(upper[0]), float(upper[1])), (float(lower[0]), float(lower[1])), width))
    grown = replace(grown, across_px=tuple(across))
    assert "of 3 widths of a waney board misread by 5 mm would not show" in (
        unseen(grown, adjusted(grown)) or ""
    )
    assert unseen(one.evidence, adjusted(one.evidence)) is None


def test_a_single_width_has_nothing_to_be_held_against() -> None:
    one = shot(3, 1.05, 0.27)
    assert widths_left_out(one.evidence, adjusted(one.evidence)) == []
