"""Board feet, cubic metres and waste against definitions and worked figures.

Sources:
[1] Board foot: 144 cubic inches, 1 in x 12 in x 12 in (forum and calculator pages,
    read at second hand); the inch is 25.4 mm exactly (international inch, 1959).
[2] ncwoodworker.net thread 12283: 2 in x 7 in x 8 ft is 9.33 board feet (read).
[3] "Calculating Waste from Rough Lumber", woodweb.com: with 30 % waste buy
    net / 0.70 (read at second hand; it prints 142.85 for 142.857).
"""

import pytest

from layout.volume import BOARD_FOOT, board_feet, buy_for_waste, cubic_metres, waste_from_added

INCH, FOOT = 25.4, 304.8


def test_the_board_foot() -> None:
    assert pytest.approx(0.002359737, abs=5e-10) == BOARD_FOOT
    assert pytest.approx(423.776, abs=5e-4) == 1 / BOARD_FOOT
    assert board_feet(12 * FOOT, 12 * INCH, INCH) == pytest.approx(12)
    assert cubic_metres(FOOT, FOOT, FOOT) == pytest.approx(12 * BOARD_FOOT)


def test_a_plank_of_2_by_7_inches_and_8_feet() -> None:
    assert board_feet(8 * FOOT, 7 * INCH, 2 * INCH) == pytest.approx(9.33, abs=0.005)


def test_thin_wood_counts_as_an_inch() -> None:
    """From memory."""
    assert board_feet(FOOT, 12 * INCH, 15) == pytest.approx(1)


def test_waste_is_of_what_is_bought() -> None:
    assert buy_for_waste(100, 0.30) == pytest.approx(142.857, abs=0.001)
    assert waste_from_added(0.30) == pytest.approx(0.231, abs=0.0005)
    assert buy_for_waste(100, waste_from_added(0.30)) == pytest.approx(130)


def test_shares_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="waste is 1"):
        buy_for_waste(100, 1)
    with pytest.raises(ValueError, match=r"added is -0\.1"):
        waste_from_added(-0.1)
