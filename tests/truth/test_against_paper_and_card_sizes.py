"""Sizes of paper and of bank cards.

Sources
-------
ISO 216:2007, "Writing paper and certain classes of printed matter - Trimmed sizes -
A and B series" (from memory): A0 has one square metre, sides in the ratio 1 to the
square root of 2, each size half the one before, rounded down to whole millimetres.

ISO/IEC 7810:2019, "Identification cards - Physical characteristics" (from memory):
an ID-1 card is 85.60 mm x 53.98 mm.
"""

from math import floor, sqrt

import pytest

from vision.reference import KnownSize

ROUNDING_MM = 1.0  # halving whole millimetres again and again loses less than one


@pytest.mark.parametrize(("name", "number"), [("A3", 3), ("A4", 4), ("A5", 5)])
def test_the_a_series_is_a_square_metre_halved(name: str, number: int) -> None:
    long, short = (1000.0 * 2 ** (0.25 - number / 2), 1000.0 * 2 ** (-0.25 - number / 2))
    assert KnownSize[name].value == pytest.approx((long, short), abs=ROUNDING_MM)
    assert KnownSize[name].value[0] / KnownSize[name].value[1] == pytest.approx(sqrt(2), abs=0.01)


def test_each_size_is_half_the_one_before() -> None:
    for larger, smaller in ((KnownSize.A3, KnownSize.A4), (KnownSize.A4, KnownSize.A5)):
        assert smaller.value == (larger.value[1], floor(larger.value[0] / 2))


def test_a_bank_card_is_three_and_three_eighths_by_two_and_an_eighth_inches() -> None:
    # The card's size in inches, 3.370 x 2.125 (from memory), says the same another way.
    assert KnownSize.BANK_CARD.value == pytest.approx((3.370 * 25.4, 2.125 * 25.4), abs=0.01)
