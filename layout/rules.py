"""What each side of a part tolerates, and what "a defect shows on a side" means.

The meaning, used by the engine and, written a second time, by the verifier:

* A defect's GROWN outline is its outline buffered by the defect margin plus the
  stated error of the face it shows on, a through defect's by that of the worse
  face; for knots it is first stretched by the disturbed grain
  (`Allowances.knot_along`, `knot_across`).
* A one-face defect whose known depth is no more than what is planed off its
  face is gone. A known depth that reaches through the planed part makes it show
  on the far face as well. A through defect shows on both faces.
* It shows on a face of a part when its grown outline overlaps the finished
  part's outline, and on an edge or end when its grown outline crosses that side
  of the finished part.
* Where it shows it must be tolerated by the rule of that side: by the rule for
  concealed sides inside a COVERED zone of that face.
* A defect that overlaps a SOUND zone at any remaining depth is never tolerated
  (a zone of one face asks only about defects that show on that face).
* `Wish.KEEP_OFF` is never tolerated in a part while any of it remains;
  `TOLERATE` and `SHOW` are tolerated everywhere but in SOUND zones.
"""

from dataclasses import dataclass, field
from functools import lru_cache
from math import inf

from layout.outline import Outline, bounds_of
from layout.parts import Part, PartSide, Visibility
from layout.stock import Defect, DefectKind, Wish

__all__ = ["RULES", "USUAL", "FaceRule", "rule_for", "size_across", "tolerated"]


@dataclass(frozen=True)
class FaceRule:
    """Largest size of each kind that a side may show; a kind not named is not tolerated.

    Parameters
    ----------
    name : str
    largest : dict of DefectKind to float
        Greatest extent across the grain [mm]; inf for any size.
    """

    name: str
    largest: dict[DefectKind, float] = field(default_factory=dict)


def _knots_up_to(size: float) -> dict[DefectKind, float]:
    return {
        DefectKind.SOUND_KNOT: size,
        DefectKind.PIN_KNOT: size,
        DefectKind.DEAD_KNOT: size,
        DefectKind.SAPWOOD: inf,
    }


_CONCEALED = {
    DefectKind.SOUND_KNOT: inf,
    DefectKind.PIN_KNOT: inf,
    DefectKind.DEAD_KNOT: 30.0,
    DefectKind.CHECK: inf,
    DefectKind.SAPWOOD: inf,
    DefectKind.BARK_POCKET: 40.0,
    DefectKind.RESIN_POCKET: inf,
    DefectKind.STAIN: inf,
    DefectKind.TORN_GRAIN: inf,
}

# The J classes follow EN 942: class number = largest knot in mm on one face
# (limits from memory; dead but tight knots counted alike, loose ones never:
# mark a loose knot "keep off"). Shares of the part's width are not applied.
# "clear", "small features" and "out of sight" are common practice, no source.
RULES: dict[str, FaceRule] = {
    rule.name: rule
    for rule in (
        FaceRule("clear"),
        FaceRule("small features", {DefectKind.SOUND_KNOT: 10.0, DefectKind.PIN_KNOT: 6.0}),
        FaceRule("out of sight", _CONCEALED),
        *(FaceRule(f"J{size}", _knots_up_to(float(size))) for size in (2, 5, 10, 20, 30, 40, 50)),
    )
}

USUAL: dict[Visibility, str] = {
    Visibility.SHOW: "clear",
    Visibility.SEEN_IN_USE: "small features",
    Visibility.CONCEALED: "out of sight",
}


def rule_for(part: Part, side: PartSide) -> FaceRule:
    """The rule a side of a part is judged by.

    Raises
    ------
    ValueError
        The part names a rule that does not exist.
    """
    seen = part.visibility(side)
    name = part.tolerates.get(seen, USUAL[seen])
    if name not in RULES:
        raise ValueError(f"part {part.name}: no rule is called {name!r}; choose from {', '.join(RULES)}")
    return RULES[name]


def size_across(defect: Defect) -> float:
    """Extent across the grain, the size a knot is known by [mm] (EN 1309-3 general method, from memory)."""
    return _across(defect.outline)


@lru_cache(maxsize=4096)
def _across(outline: Outline) -> float:
    _, y0, _, y1 = bounds_of(outline)
    return y1 - y0


def tolerated(defect: Defect, rule: FaceRule) -> bool:
    """Whether a side judged by this rule may show the defect."""
    if defect.wish is Wish.KEEP_OFF:
        return False
    if defect.wish in (Wish.TOLERATE, Wish.SHOW):
        return True
    return size_across(defect) <= rule.largest.get(defect.kind, -1.0)
