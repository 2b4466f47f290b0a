"""Dimensional change coefficients against the shrinkage they come from.

Source: Wood Handbook, Wood as an Engineering Material, FPL-GTR-190, Forest
Products Laboratory, USDA Forest Service, Madison 2010; Table 4-3 (shrinkage from
green to ovendry) and Table 13-5 (coefficients). Both read. The
edition of 2021 (FPL-GTR-282) keeps Table 13-5.

The relation C = 1 / (3000/S - 20) is worked out, not printed in the book: fibre
saturation at 30 %, size referred to 10 %.
"""

import pytest

from layout.timber import TIMBERS, Trust, coefficient_from_shrinkage, timber_called

# The coefficients are printed to five decimals.
PRINTED = 0.00001

# Wood: shrinkage radial, tangential [%] (Table 4-3); CR, CT [1/%] (Table 13-5).
BOTH_TABLES = {
    "alder, red": (4.4, 7.3, 0.00151, 0.00256),
    "ash, black": (5.0, 7.8, 0.00172, 0.00274),
    "ash, green": (4.6, 7.1, 0.00169, 0.00274),
    "ash, Oregon": (4.1, 8.1, 0.00141, 0.00285),
    "ash, pumpkin": (3.7, 6.3, 0.00126, 0.00219),
    "ash, white": (4.9, 7.8, 0.00169, 0.00274),
    "aspen, quaking": (3.5, 6.7, 0.00119, 0.00234),
    "basswood, American": (6.6, 9.3, 0.00230, 0.00330),
    "beech, American": (5.5, 11.9, 0.00190, 0.00431),
    "birch, paper": (6.3, 8.6, 0.00219, 0.00304),
    "birch, river": (4.7, 9.2, 0.00162, 0.00327),
    "birch, sweet": (6.5, 9.0, 0.00256, 0.00338),
    "birch, yellow": (7.3, 9.5, 0.00256, 0.00338),
    "buckeye, yellow": (3.6, 8.1, 0.00123, 0.00285),
    "butternut": (3.4, 6.4, 0.00116, 0.00223),
    "cherry, black": (3.7, 7.1, 0.00126, 0.00248),
    "chestnut, American": (3.4, 6.7, 0.00116, 0.00234),
    "cottonwood, black": (3.6, 8.6, 0.00123, 0.00304),
    "cottonwood, eastern": (3.9, 9.2, 0.00133, 0.00327),
    "elm, American": (4.2, 9.5, 0.00144, 0.00338),
    "elm, cedar": (4.7, 10.2, 0.00183, 0.00419),
    "elm, rock": (4.8, 8.1, 0.00165, 0.00285),
    "elm, slippery": (4.9, 8.9, 0.00169, 0.00315),
    "elm, winged": (5.3, 11.6, 0.00183, 0.00419),
    "hackberry": (4.8, 8.9, 0.00165, 0.00315),
    "hickory, pecan": (4.9, 8.9, 0.00169, 0.00315),
    "oak, live": (6.6, 9.5, 0.00230, 0.00338),
    "oak, overcup": (5.3, 12.7, 0.00183, 0.00462),
    "oak, white": (5.6, 10.5, 0.00180, 0.00365),
    "persimmon, common": (7.9, 11.2, 0.00278, 0.00403),
    "sassafras": (4.0, 6.2, 0.00137, 0.00216),
    "sweetgum": (5.3, 10.2, 0.00183, 0.00365),
    "sycamore, American": (5.0, 8.4, 0.00172, 0.00296),
    "tanoak": (4.9, 11.7, 0.00169, 0.00423),
    "tupelo, black": (5.1, 8.7, 0.00176, 0.00308),
    "tupelo, water": (4.2, 7.6, 0.00144, 0.00267),
    "walnut, black": (5.5, 7.8, 0.00190, 0.00274),
    "willow, black": (3.3, 8.7, 0.00112, 0.00308),
}

# The book gives these the coefficients of a neighbour or a trade group: green ash
# those of white ash, sweet birch of yellow birch, cedar elm of winged elm, white
# oak of the mixed "commercial white oak".
GIVEN_A_GROUP = {"ash, green", "birch, sweet", "elm, cedar", "oak, white"}


@pytest.mark.parametrize("wood", sorted(set(BOTH_TABLES) - GIVEN_A_GROUP))
def test_table_13_5_rebuilt_from_table_4_3(wood: str) -> None:
    radial, tangential, cr, ct = BOTH_TABLES[wood]
    assert coefficient_from_shrinkage(radial) == pytest.approx(cr, abs=PRINTED)
    assert coefficient_from_shrinkage(tangential) == pytest.approx(ct, abs=PRINTED)


@pytest.mark.parametrize("wood", sorted(GIVEN_A_GROUP))
def test_the_four_that_stand_for_a_group_are_the_only_misses(wood: str) -> None:
    radial, tangential, cr, ct = BOTH_TABLES[wood]
    assert abs(coefficient_from_shrinkage(radial) - cr) > PRINTED
    assert abs(coefficient_from_shrinkage(tangential) - ct) > PRINTED


@pytest.mark.parametrize(
    ("name", "wood"),
    [
        ("white oak", "oak, white"),
        ("ash", "ash, white"),
        ("beech", "beech, American"),
        ("birch", "birch, yellow"),
        ("cherry", "cherry, black"),
        ("chestnut", "chestnut, American"),
        ("walnut", "walnut, black"),
        ("sycamore", "sycamore, American"),
        ("elm", "elm, American"),
    ],
)
def test_our_table_is_the_book_s(name: str, wood: str) -> None:
    timber = timber_called(name)
    assert (timber.radial.value, timber.tangential.value) == BOTH_TABLES[wood][2:]
    assert timber.radial.trust is timber.tangential.trust is Trust.READ


def test_the_other_book_values() -> None:
    """Table 13-5 alone (read): red oak commercial, sugar and red maple."""
    for name, cr, ct in (
        ("red oak", 0.00158, 0.00369),
        ("maple", 0.00165, 0.00353),
        ("soft maple", 0.00137, 0.00289),
    ):
        timber = timber_called(name)
        assert (timber.radial.value, timber.tangential.value) == (cr, ct)


def test_the_rough_rule_is_low() -> None:
    """S/3000 comes out 4 to 7 % low for hardwoods' tangential shrinkage of 7 to 10.5 %."""
    for shrinkage in (7.0, 10.5):
        low = 1 - shrinkage / 3000 / coefficient_from_shrinkage(shrinkage)
        assert 0.04 < low < 0.075


def test_what_is_not_read_says_so() -> None:
    for timber in TIMBERS:
        for figure in (timber.radial, timber.tangential, timber.density):
            assert figure.source
            assert figure.verified == (figure.trust is not Trust.MEMORY)
    assert timber_called("walnut").density.trust.value == "unverified (from memory)"


def test_shrinkage_that_no_wood_has() -> None:
    with pytest.raises(ValueError, match="shrinkage is 0 %"):
        coefficient_from_shrinkage(0)
