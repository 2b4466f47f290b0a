"""What the sheets say of a fault is what the independent verifier says of it."""

import re

import numpy as np
import pytest

from layout.allowances import Allowances, Shop
from layout.check import violations
from layout.outline import Outline, rectangle
from layout.parts import Part, PartSide, Visibility, Zone, ZoneRule
from layout.placement import Layout, Placement
from layout.stock import Board, Defect, DefectKind, Face, Where, Wish
from ui.drawing.fates import Fate, fates

SHOP = Shop(allowances=Allowances(defect_margin=2.0, knot_along=0.3, knot_across=0.1, skim=1.0))
BRACKET: Outline = ((0, 0), (300, 0), (300, 60), (180, 70), (90, 110), (0, 110))


def a_defect(number: int, chance: np.random.Generator) -> Defect:
    long, wide = chance.uniform(2, 60), chance.uniform(1, 30)
    x, y = chance.uniform(0, 340), chance.uniform(0, 110)
    where = list(Where)[int(chance.integers(3))]
    depth = None if where is Where.THROUGH or chance.random() < 0.4 else float(chance.uniform(1, 29))
    kind = list(DefectKind)[int(chance.integers(len(DefectKind)))]
    wish = list(Wish)[int(chance.choice(4, p=(0.1, 0.7, 0.1, 0.1)))]
    return Defect(f"q{number}", kind, rectangle(x, y, x + long, y + wide), where, depth, wish)


def a_part(chance: np.random.Generator) -> Part:
    ways = list(Visibility)
    sides = {side: ways[int(chance.integers(3))] for side in PartSide}
    tolerates = {Visibility.SHOW: "J20"} if chance.random() < 0.3 else {}
    zones = tuple(
        Zone(
            f"zone {rank}",
            rectangle(
                x := chance.uniform(0, 200), y := chance.uniform(0, 50), x + chance.uniform(20, 99), y + 50
            ),
            list(ZoneRule)[int(chance.integers(2))],
            (None, PartSide.FACE, PartSide.BACK)[int(chance.integers(3))],
        )
        for rank in range(int(chance.integers(3)))
    )
    outline = BRACKET if chance.random() < 0.3 else None
    return Part("part", 300, 110, 22, sides=sides, outline=outline, zones=zones, tolerates=tolerates)


def a_placement(chance: np.random.Generator) -> Placement:
    face, turned = list(Face)[int(chance.integers(2))], bool(chance.random() < 0.5)
    tilt = float(chance.choice((0.0, 0.0, 2.5, -1.5)))
    return Placement("part", 1, "1", 30, 10, face, turned, tilt, from_front=float(chance.uniform(1, 6)))


@pytest.mark.parametrize("seed", range(60))
def test_a_fault_breaks_a_rule_on_the_sheet_just_when_the_verifier_says_so(seed):
    chance = np.random.default_rng(seed)
    defects = tuple(a_defect(number, chance) for number in range(12))
    off = {"error": 0.7} if seed % 2 else {"error": 3.1, "error_across": 0.4}
    off |= {"error_back": (0.5, 6.0)} if seed % 3 == 0 else {}
    board, part = Board.square_edged("1", 400, 150, 30, defects=defects, **off), a_part(chance)
    layout = Layout((a_placement(chance),))
    said = " ".join(each.message for each in violations((board,), (part,), SHOP, layout))
    blamed = set(re.findall(r"\b(q\d+) at ", said))
    against = {each.defect.id for each in fates(board, (part,), SHOP, layout) if each.fate is Fate.AGAINST}
    assert against == blamed


def fate_and_verdict(part: Part, defect: Defect) -> tuple[Fate, bool]:
    board = Board.square_edged("1", 400, 150, 30, defects=(defect,))
    layout = Layout((Placement("part", 1, "1", 30, 10, from_front=4.0),))
    found = fates(board, (part,), SHOP, layout)[0].fate
    return found, bool([each for each in violations((board,), (part,), SHOP, layout) if "q1" in each.message])


def test_what_covers_a_face_does_not_hide_an_edge():
    shelf = Zone("shelf", rectangle(0, 0, 300, 40), ZoneRule.COVERED)
    part = Part("part", 300, 110, 22, zones=(shelf,))
    # the finished part lies at 35..335, 12..122: the knot crosses its near edge, which is seen in use
    on_edge = Defect("q1", DefectKind.SOUND_KNOT, rectangle(100, 8, 125, 30), Where.FRONT)
    inside = Defect("q1", DefectKind.SOUND_KNOT, rectangle(100, 18, 125, 40), Where.FRONT)
    assert fate_and_verdict(part, on_edge) == (Fate.AGAINST, True)
    assert fate_and_verdict(part, inside) == (Fate.CONCEALED, False)


def test_two_covers_side_by_side_hide_what_lies_under_both():
    left = Zone("rail", rectangle(0, 0, 80, 110), ZoneRule.COVERED, PartSide.FACE)
    right = Zone("shelf", rectangle(80, 0, 300, 110), ZoneRule.COVERED, PartSide.FACE)
    under_both = Defect("q1", DefectKind.SOUND_KNOT, rectangle(105, 50, 125, 70), Where.FRONT)
    whole = Part("part", 300, 110, 22, zones=(left, right))
    assert fate_and_verdict(whole, under_both) == (Fate.CONCEALED, False)
    assert fate_and_verdict(Part("part", 300, 110, 22, zones=(left,)), under_both) == (Fate.AGAINST, True)
