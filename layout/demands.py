"""What a part asks of the wood under it: which defects may not lie where, and which do harm.

A `Demand` is a shape, as it lies in a pose, and the defects that may not touch
it. The meaning is that of `layout.rules`; `layout.clear` turns demands into maps
and judges single places exactly.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely import MultiLineString, Polygon, union_all
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop
from layout.outline import Outline
from layout.parts import Part, PartSide, Visibility, Zone, ZoneRule
from layout.poses import Left, Pose, left_of, moved
from layout.rules import RULES, USUAL, rule_for, tolerated
from layout.stock import Board, Defect, DefectKind, Face, Wish

__all__ = ["Demand", "Harm", "Mend", "Mending", "demands", "harms", "refusals", "side_lines"]


@dataclass(frozen=True)
class Mend:
    """What making a defect good would cost, and where in the part it can be done.

    Parameters
    ----------
    price : float
        [money]
    where : shapely geometry or None
        Ground of the finished part's frame that the grown defect must lie wholly
        inside; None for anywhere [mm].
    """

    price: float
    where: BaseGeometry | None = None


# What making a defect good on a side of a part would take; None: not to be made good there.
Mending = Callable[[Board, Part, Defect, PartSide], Mend | None]

_FACES = (PartSide.FACE, PartSide.BACK)
_EDGES = (PartSide.NEAR_EDGE, PartSide.FAR_EDGE, PartSide.NEAR_END, PartSide.FAR_END)

# How much a tolerated feature disturbs, per 100 mm2 shown; our own scale, no source.
_DISTURBS = {
    DefectKind.SOUND_KNOT: 1.0,
    DefectKind.PIN_KNOT: 0.5,
    DefectKind.DEAD_KNOT: 2.0,
    DefectKind.SAPWOOD: 0.1,
    DefectKind.STAIN: 0.2,
    DefectKind.TORN_GRAIN: 0.2,
}
_USUAL_HARM = 2.0
_SEEN = {Visibility.SHOW: 10.0, Visibility.SEEN_IN_USE: 3.0, Visibility.CONCEALED: 1.0}


@dataclass(frozen=True)
class Demand:
    """A shape of the part and the defects (by number on their board) that may not touch it.

    Parameters
    ----------
    shape : shapely geometry
        Polygons, or lines for edges and ends, from the corner of the upright
        box round the sawn piece [mm].
    defects : frozenset of int
    price : float or None
        None: may not touch. A number: touching costs this much repair [money].
    """

    shape: BaseGeometry
    defects: frozenset[int]
    price: float | None = None


@dataclass(frozen=True)
class Harm:
    """A shape and what each defect under it costs in looks, per mm2 (negative: worth seeing)."""

    shape: BaseGeometry
    weights: Mapping[int, float]


def demands(
    board: Board,
    part: Part,
    shop: Shop,
    pose: Pose,
    mending: Mending | None = None,
    lefts: Sequence[Left] | None = None,
) -> tuple[Demand, ...]:
    """Everything the part asks of the wood in this pose, by shape.

    Parameters
    ----------
    board, part, shop, pose
    mending : function, optional
        Prices for making defects good; a demand that can be met by a repair
        then carries its price instead of being a ban, and is a ban only outside
        the ground where the repair can be made.
    lefts : sequence of Left, optional
        What is left of each defect, if it is not what this pose's planing leaves.
    """
    found: dict[tuple[str, float | None], set[int]] = {}
    fenced: list[tuple[str, int, BaseGeometry]] = []
    for number, defect in enumerate(board.defects):
        left = lefts[number] if lefts else left_of(defect, board, part.thickness, pose.from_front)
        if not left.inside:
            continue
        for name, side in _refusals(defect, part, pose, left):
            mend = None
            if mending is not None and side is not None and defect.wish is not Wish.KEEP_OFF:
                mend = mending(board, part, defect, side)
            if mend is not None and mend.where is not None:
                fenced.append((name, number, mend.where))
            found.setdefault((name, None if mend is None else mend.price), set()).add(number)
    barred = found.get(("whole", None), set())
    for (name, _), numbers in found.items():
        if name != "whole":
            numbers -= barred
    shapes = _shapes(_outline(part), part.zones)
    asked = [
        Demand(_laid(shapes[name], pose, part, shop), frozenset(numbers), price)
        for (name, price), numbers in found.items()
        if numbers and price != 0.0 and name in shapes and not shapes[name].is_empty
    ]
    for name, number, where in fenced:
        outside = shapes[name].difference(where) if name in shapes else Polygon()
        if not outside.is_empty:
            asked.append(Demand(_laid(outside, pose, part, shop), frozenset({number})))
    return tuple(asked)


def refusals(
    board: Board, part: Part, shop: Shop, pose: Pose
) -> Iterator[tuple[int, PartSide | None, BaseGeometry]]:
    """(number of the defect, side that refuses it, shape it may not touch), one by one.

    The side is None where no repair of one side helps: the maker wants the
    defect in no part, or the shape is a zone that must be sound. Shapes are as
    in `Demand`.
    """
    shapes = _shapes(_outline(part), part.zones)
    for number, defect in enumerate(board.defects):
        left = left_of(defect, board, part.thickness, pose.from_front)
        if left.inside:
            for name, side in _refusals(defect, part, pose, left):
                if name in shapes and not shapes[name].is_empty:
                    yield number, side, _laid(shapes[name], pose, part, shop)


def harms(board: Board, part: Part, shop: Shop, pose: Pose) -> tuple[Harm, ...]:
    """What tolerated defects do to the looks of each face in this pose."""
    found = []
    shape = _laid(_shapes(_outline(part), part.zones)["whole"], pose, part, shop)
    for side in _FACES:
        weights = {}
        seen, rule = part.visibility(side), rule_for(part, side)
        for number, defect in enumerate(board.defects):
            left = left_of(defect, board, part.thickness, pose.from_front)
            if not _shows(left, _board_face(pose, side)) or not tolerated(defect, rule):
                continue
            if defect.wish is Wish.SHOW:
                weight = -_SEEN[seen] if seen is Visibility.SHOW else 0.0
            else:
                weight = _DISTURBS.get(defect.kind, _USUAL_HARM) * _SEEN[seen]
            if weight:
                weights[number] = weight / 100.0
        if weights:
            found.append(Harm(shape, weights))
    return tuple(found)


def side_lines(part: Part) -> dict[PartSide, MultiLineString]:
    """Edges and ends of the finished part as lines of its own frame [mm].

    A stretch of a shaped part's outline belongs to the edge or end it faces: to
    an edge if it looks at least as much across the grain as along it.
    """
    return _lines(part.shape)


def _lines(outline: Outline) -> dict[PartSide, MultiLineString]:
    stretches: dict[PartSide, list[Outline]] = {}
    for (x0, y0), (x1, y1) in zip(outline, outline[1:] + outline[:1], strict=True):
        along, across = y1 - y0, x0 - x1
        if abs(across) >= abs(along):
            side = PartSide.NEAR_EDGE if across < 0 else PartSide.FAR_EDGE
        else:
            side = PartSide.NEAR_END if along < 0 else PartSide.FAR_END
        stretches.setdefault(side, []).append(((x0, y0), (x1, y1)))
    return {side: MultiLineString(lines) for side, lines in stretches.items()}


def _outline(part: Part) -> Outline:
    """The finished outline, not put in normal form again."""
    length, width = part.length, part.width
    return part.outline or ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))


@lru_cache(maxsize=512)
def _shapes(outline: Outline, zones: tuple[Zone, ...]) -> dict[str, BaseGeometry]:
    """Every shape a part may have demands for, by name, in its own frame [mm]."""
    whole = Polygon(outline)
    shapes: dict[str, BaseGeometry] = {"whole": whole}
    for number, zone in enumerate(zones):
        shapes[f"zone {number}"] = Polygon(zone.outline).intersection(whole)
    for side in _FACES:
        covered = union_all([Polygon(zone.outline) for zone in _covers(zones, side)])
        shapes[f"open {side.value}"] = whole.difference(covered)
        shapes[f"covered {side.value}"] = whole.intersection(covered)
    shapes.update({side.value: lines for side, lines in _lines(outline).items()})
    return shapes


def _covers(zones: tuple[Zone, ...], side: PartSide) -> list[Zone]:
    return [zone for zone in zones if zone.rule is ZoneRule.COVERED and zone.side in (None, side)]


def _refusals(defect: Defect, part: Part, pose: Pose, left: Left) -> Iterator[tuple[str, PartSide | None]]:
    """Names of the shapes the defect may not touch, each with the side that refuses it."""
    if defect.wish is Wish.KEEP_OFF:
        yield "whole", None
        return
    for number, zone in enumerate(part.zones):
        if zone.rule is ZoneRule.SOUND and (zone.side is None or _shows(left, _board_face(pose, zone.side))):
            yield f"zone {number}", None
    if defect.wish in (Wish.TOLERATE, Wish.SHOW):
        return
    for side in _FACES:
        if not _shows(left, _board_face(pose, side)):
            continue
        covered = bool(_covers(part.zones, side))
        if not tolerated(defect, rule_for(part, side)):
            yield (f"open {side.value}" if covered else "whole"), side
        concealed = RULES[part.tolerates.get(Visibility.CONCEALED, USUAL[Visibility.CONCEALED])]
        if covered and not tolerated(defect, concealed):
            yield f"covered {side.value}", side
    for side in _EDGES:
        if not tolerated(defect, rule_for(part, side)):
            yield side.value, side


def _board_face(pose: Pose, side: PartSide) -> Face:
    return pose.face_from if side is PartSide.FACE else pose.face_from.other


def _shows(left: Left, face: Face) -> bool:
    return left.front if face is Face.FRONT else left.back


def _laid(shape: BaseGeometry, pose: Pose, part: Part, shop: Shop) -> BaseGeometry:
    """A shape of the part frame as it lies in the pose."""
    return shapely.transform(shape, lambda points: moved(points, pose, part, shop))
