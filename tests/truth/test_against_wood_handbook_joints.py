"""Scarf joints against the Wood Handbook.

Source: Wood Handbook, FPL-GTR-190 (2010), Chapter 10 (bonded joints), read: the
glued area of a scarf or finger joint should be at least 10 times the section; a
slope of 1 in 12 or flatter is strongest; an end butt joint reaches about a quarter
of the tension strength. Efficiencies of plain scarfs (Table, 1:12 90 %, 1:10
85 %, 1:8 80 %, 1:5 65 %) are FROM MEMORY and marked so wherever they are shown.
"""

import pytest

from layout.repair.slice import wedge_angle
from layout.repair.splice import LEAST_AREA, efficiency, scarf_area

TENTH_DEGREE = 0.05


def test_ten_times_the_section() -> None:
    assert scarf_area(10) >= LEAST_AREA == 10
    assert scarf_area(9.9) < LEAST_AREA
    assert scarf_area(12) == pytest.approx(12.04, abs=0.005)


@pytest.mark.parametrize(("slope", "length", "angle"), [(8, 160, 7.1), (10, 200, 5.7), (12, 240, 4.8)])
def test_bevel_of_20_mm_wood(slope: float, length: float, angle: float) -> None:
    """Length n times the thickness; angles worked out."""
    assert slope * 20 == length
    assert wedge_angle(slope) == pytest.approx(angle, abs=TENTH_DEGREE)


@pytest.mark.parametrize(("slope", "share"), [(12, 0.90), (10, 0.85), (8, 0.80), (5, 0.65), (20, 0.90)])
def test_efficiency_from_memory(slope: float, share: float) -> None:
    assert efficiency(slope) == pytest.approx(share)


def test_a_steeper_scarf_is_never_stronger_and_a_butt_joint_is_none() -> None:
    shares = [efficiency(slope / 2) for slope in range(30)]
    assert shares == sorted(shares)
    assert shares[0] == 0
