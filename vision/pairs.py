"""Marks of the two faces that are one fault: offered to the maker as through.

Both faces' marks are said in the board frame, so a fault that goes straight
through has one place on both. Few do: a knot leans as the branch did, a split
follows the rays. So two marks may be one fault if the lean that would join
them is one a branch or a ray can have, and they are alike in kind and size;
each mark is joined to one other at most, the likeliest pairs first of all
together (assignment).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, hypot, log

import numpy as np
from scipy.optimize import linear_sum_assignment
from shapely import Polygon, unary_union
from shapely.geometry.base import BaseGeometry

from layout.outline import bounds_of, normal_outline
from layout.stock import DefectKind, Where
from vision.marks import Mark, MarkState

__all__ = ["Pair", "Pairing", "paired"]

_FAMILIES = (
    (DefectKind.SOUND_KNOT, DefectKind.DEAD_KNOT, DefectKind.PIN_KNOT),
    (DefectKind.SPLIT, DefectKind.CHECK, DefectKind.SHAKE),
    (DefectKind.BARK_POCKET, DefectKind.RESIN_POCKET),
    (DefectKind.PITH,),
    (DefectKind.SAPWOOD,),
    (DefectKind.STAIN, DefectKind.DECAY),
)
_FAMILY = {kind: number for number, kinds in enumerate(_FAMILIES) for kind in kinds}
_KNOTS, _FISSURES = 0, 1
_STEEPEST = 1.2  # a knot moves sideways at most this much for each mm of thickness (lean of 50 degrees)
_LEAST_TRUST = 0.4
_WORSE_FIRST = {  # which name a pair keeps when its faces differ
    DefectKind.DEAD_KNOT: 0,
    DefectKind.SOUND_KNOT: 1,
    DefectKind.PIN_KNOT: 2,
    DefectKind.SPLIT: 0,
    DefectKind.SHAKE: 1,
    DefectKind.CHECK: 2,
}


@dataclass(frozen=True)
class Pair:
    """Two marks that are probably one fault.

    Parameters
    ----------
    front, back : Mark
    trust : float
        0 to 1.
    through : Mark
        The one mark to offer instead of the two: covers the ground between them
        as well, pending.
    lean : tuple of float
        How far the back lies from the front, along and across [mm].
    """

    front: Mark
    back: Mark
    trust: float
    through: Mark
    lean: tuple[float, float]


@dataclass(frozen=True)
class Pairing:
    """What the two faces say together.

    Parameters
    ----------
    pairs : tuple of Pair
    alone : tuple of Mark
        Marks without a partner, as they were.
    thickness : float
        Of the board: what a pair reaches through, and what a mark alone does not,
        as far as can be seen [mm].
    """

    pairs: tuple[Pair, ...]
    alone: tuple[Mark, ...]
    thickness: float

    @property
    def offered(self) -> tuple[Mark, ...]:
        """The marks to show: one for each pair, then those alone."""
        return (*(pair.through for pair in self.pairs), *self.alone)

    def depth_of(self, mark: Mark) -> tuple[float, float]:
        """(least, greatest) depth that the pairing implies for a mark [mm].

        A pair goes right through. A mark alone ends somewhere within the board,
        if the other face was looked at with the same care.
        """
        if any(mark.id in (pair.front.id, pair.back.id, pair.through.id) for pair in self.pairs):
            return self.thickness, self.thickness
        return 0.0, self.thickness


def paired(front: Sequence[Mark], back: Sequence[Mark], thickness: float) -> Pairing:
    """Marks of both faces, joined where they are probably one fault.

    Parameters
    ----------
    front, back : sequence of Mark
        Marks of either face, all in the board frame; dismissed ones and ones
        already through are left alone.
    thickness : float
        Of the board [mm].

    Raises
    ------
    ValueError
        The thickness is not above 0.
    """
    if not thickness > 0:
        raise ValueError(f"thickness is {thickness}; give a number above 0 (mm)")
    ours = [mark for mark in front if _open(mark, Where.FRONT)]
    theirs = [mark for mark in back if _open(mark, Where.BACK)]
    trusts = np.array([[_trust(a, b, thickness) for b in theirs] for a in ours]).reshape(
        len(ours), len(theirs)
    )
    pairs = []
    for row, column in zip(*linear_sum_assignment(-trusts), strict=True):
        if trusts[row, column] >= _LEAST_TRUST:
            pairs.append(_pair(ours[row], theirs[column], float(trusts[row, column])))
    joined = {id(mark) for pair in pairs for mark in (pair.front, pair.back)}
    alone = tuple(mark for mark in (*front, *back) if id(mark) not in joined)
    return Pairing(tuple(pairs), alone, thickness)


def _open(mark: Mark, where: Where) -> bool:
    return mark.where is where and mark.state is not MarkState.DISMISSED and mark.kind in _FAMILY


def _trust(one: Mark, other: Mark, thickness: float) -> float:
    family = _FAMILY[one.kind]
    if family != _FAMILY[other.kind]:
        return 0.0
    ax, ay, aw, ah = _box(one)
    bx, by, bw, bh = _box(other)
    if family in (_KNOTS, 2):
        reach = _STEEPEST * thickness + 2.0
        far = hypot(bx - ax, by - ay) / reach
        size = abs(log((aw * ah) / (bw * bh))) / 2
        return exp(-(far**2)) * exp(-0.5 * (size / 0.8) ** 2) if far <= 1.3 else 0.0
    overlap_x = min(ax + aw / 2, bx + bw / 2) - max(ax - aw / 2, bx - bw / 2)
    share = max(0.0, overlap_x) / min(aw, bw)
    if family == _FISSURES:
        far = abs(by - ay) / (0.9 * thickness + 3.0)
        length = abs(log(aw / bw))
        return share * exp(-(far**2)) * exp(-0.5 * (length / 1.2) ** 2) if far <= 1.3 else 0.0
    first, second = Polygon(one.outline), Polygon(other.outline)
    shared = first.intersection(second).area / min(first.area, second.area)
    return float(min(1.0, 0.3 + shared)) if shared > 0.3 and share > 0.5 else 0.0


def _box(mark: Mark) -> tuple[float, float, float, float]:
    """Middle and size of a mark's box [mm]."""
    x0, y0, x1, y1 = bounds_of(mark.outline)
    return (x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0


def _pair(front: Mark, back: Mark, trust: float) -> Pair:
    ground: BaseGeometry = unary_union([Polygon(front.outline), Polygon(back.outline)])
    if _FAMILY[front.kind] in (_KNOTS, _FISSURES, 2) or not isinstance(ground, Polygon):
        ground = ground.convex_hull  # what leans from one face to the other lies between them
    assert isinstance(ground, Polygon), "the hull of two outlines encloses ground"
    kind = min(front.kind, back.kind, key=lambda kind: _WORSE_FIRST.get(kind, 9))
    through = replace(
        front,
        id=f"{front.id}+{back.id}",
        kind=kind,
        outline=normal_outline(ground.exterior.coords, "through mark"),
        where=Where.THROUGH,
        score=round(min(front.score, back.score, max(front.score, back.score) * trust + 0.3), 3),
        state=MarkState.PENDING,
        depth=None,
    )
    fx, fy, *_ = _box(front)
    bx, by, *_ = _box(back)
    return Pair(front, back, round(trust, 3), through, (bx - fx, by - fy))
