from dataclasses import replace

import pytest

from layout.outline import rectangle
from layout.parts import PartSide, Visibility
from layout.rules import RULES, rule_for, size_across, tolerated
from layout.stock import Defect, DefectKind, Where, Wish
from tests.builders import tiny_knot, tiny_parts

RAIL = tiny_parts()[0]


def knot(size: float, kind: DefectKind = DefectKind.SOUND_KNOT) -> Defect:
    return Defect("k", kind, rectangle(0, 0, 2 * size, size), Where.FRONT)


def test_a_knot_is_known_by_its_size_across_the_grain() -> None:
    assert size_across(tiny_knot()) == 40


@pytest.mark.parametrize("size", [2, 5, 10, 20, 30, 40, 50])
def test_a_class_takes_knots_up_to_its_number(size: int) -> None:
    rule = RULES[f"J{size}"]
    assert tolerated(knot(size), rule)
    assert not tolerated(knot(size + 0.1), rule)
    assert not tolerated(knot(1, DefectKind.SHAKE), rule)


def test_clear_is_clear() -> None:
    assert not any(tolerated(knot(0.5, kind), RULES["clear"]) for kind in DefectKind)


@pytest.mark.parametrize(
    "kind",
    [
        DefectKind.SHAKE,
        DefectKind.SPLIT,
        DefectKind.DECAY,
        DefectKind.PITH,
        DefectKind.METAL,
        DefectKind.WANE,
    ],
)
def test_what_no_side_takes_even_out_of_sight(kind: DefectKind) -> None:
    assert not tolerated(knot(1, kind), RULES["out of sight"])


def test_the_maker_s_wish_goes_before_the_rule() -> None:
    assert tolerated(replace(knot(90), wish=Wish.SHOW), RULES["clear"])
    assert tolerated(replace(knot(90), wish=Wish.TOLERATE), RULES["clear"])
    assert not tolerated(replace(knot(1), wish=Wish.KEEP_OFF), RULES["out of sight"])


def test_the_rule_of_a_side() -> None:
    assert rule_for(RAIL, PartSide.FACE).name == "clear"
    assert rule_for(RAIL, PartSide.NEAR_END).name == "small features"
    assert rule_for(RAIL, PartSide.BACK).name == "out of sight"
    classed = replace(RAIL, tolerates={Visibility.SHOW: "J10"})
    assert rule_for(classed, PartSide.FACE).name == "J10"
    with pytest.raises(ValueError, match="no rule is called 'J11'; choose from clear"):
        rule_for(replace(RAIL, tolerates={Visibility.SHOW: "J11"}), PartSide.FACE)
