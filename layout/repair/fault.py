"""What is wrong with a placed part, in its own frame: the faults a repair would have to make good."""

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop, sawn_length, sawn_width
from layout.demands import side_lines
from layout.ground import grown
from layout.parts import Part, PartSide, Visibility, ZoneRule
from layout.placement import Placement
from layout.poses import left_of
from layout.rules import RULES, USUAL, rule_for, tolerated
from layout.stock import Board, Defect, DefectKind, Face, Where, Wish

__all__ = ["COMES_OUT", "Fault", "Host", "depths", "faults", "from_board"]

# Loose, soft or split wood comes out altogether; the rest may be covered by sound wood.
COMES_OUT = frozenset(
    {
        DefectKind.DEAD_KNOT,
        DefectKind.DECAY,
        DefectKind.BARK_POCKET,
        DefectKind.RESIN_POCKET,
        DefectKind.INSECT_HOLES,
        DefectKind.WANE,
        DefectKind.PITH,
        DefectKind.SHAKE,
        DefectKind.SPLIT,
    }
)
_FACES = (PartSide.FACE, PartSide.BACK)


@dataclass(frozen=True)
class Host:
    """A placed part with all it needs to be mended."""

    placement: Placement
    part: Part
    board: Board
    shop: Shop


@dataclass(frozen=True)
class Fault:
    """A defect that a part may not show, where it lies in the part.

    Parameters
    ----------
    defect : Defect
    sides : frozenset of PartSide
        Where it shows and is not tolerated.
    reach : shapely geometry
        Its grown outline inside the finished part, in the part frame [mm].
    top, bottom : float
        Depths it reaches between, from the part's face side [mm].
    in_zone : bool
        Whether it lies in a place that must be sound.
    barred : bool
        Whether the maker wants it in no part at all.
    """

    defect: Defect
    sides: frozenset[PartSide]
    reach: BaseGeometry
    top: float
    bottom: float
    in_zone: bool = False
    barred: bool = False

    def depth_from(self, side: PartSide, thickness: float) -> float:
        """How deep it reaches from the face or back of a part of this thickness [mm]."""
        return self.bottom if side is PartSide.FACE else thickness - self.top


def faults(host: Host) -> tuple[Fault, ...]:
    """Every fault of a placed part, in the order of the board's defects (meaning: `layout.rules`)."""
    found = []
    part, place = host.part, host.placement
    whole = Polygon(part.shape)
    lines = side_lines(part)
    for defect in host.board.defects:
        left = left_of(defect, host.board, part.thickness, place.from_front)
        if not left.inside:
            continue
        reach = from_board(grown(defect, host.board, host.shop), host)
        if reach.intersection(whole).area <= 1e-6:
            continue
        shows = {Face.FRONT: left.front, Face.BACK: left.back}
        towards = {PartSide.FACE: place.face_from, PartSide.BACK: place.face_from.other}
        showing = {side: shows[towards[side]] for side in _FACES}
        barred = defect.wish is Wish.KEEP_OFF
        in_zone = _in_zone(part, reach, whole, showing)
        sides = _refusing(defect, part, reach, whole, lines, showing)
        if sides or in_zone or barred:
            top, bottom = depths(defect, host)
            found.append(Fault(defect, sides, reach.intersection(whole), top, bottom, in_zone, barred))
    return tuple(found)


def from_board(shape: BaseGeometry, host: Host) -> BaseGeometry:
    """A shape of the board frame in the finished part's frame [mm]."""
    part, place = host.part, host.placement
    length, width = sawn_length(part, host.shop.allowances), sawn_width(part, host.shop.allowances)
    middle_x, middle_y = place.x + length / 2, place.y + width / 2
    turn = radians(-place.tilt)
    flip_x = -1 if place.end_for_end else 1
    flip_y = -1 if place.end_for_end != (place.face_from is Face.BACK) else 1

    def moved(points: NDArray[np.float64]) -> NDArray[np.float64]:
        dx, dy = points[:, 0] - middle_x, points[:, 1] - middle_y
        along = (dx * cos(turn) - dy * sin(turn)) * flip_x + part.length / 2
        across = (dx * sin(turn) + dy * cos(turn)) * flip_y + part.width / 2
        return np.stack((along, across), axis=1)

    return shapely.transform(shape, moved)


def depths(defect: Defect, host: Host) -> tuple[float, float]:
    """Between which depths a defect lies in the planed part, from its face side [mm]."""
    board, part, off = host.board, host.part, host.placement.from_front
    low, high = 0.0, board.thickness
    if defect.where is not Where.THROUGH and defect.depth is not None:
        if defect.where is Where.FRONT:
            high = defect.depth
        else:
            low = board.thickness - defect.depth
    top, bottom = max(low - off, 0.0), min(high - off, part.thickness)
    if host.placement.face_from is Face.BACK:
        return part.thickness - bottom, part.thickness - top
    return top, bottom


def _in_zone(part: Part, reach: BaseGeometry, whole: Polygon, showing: dict[PartSide, bool]) -> bool:
    return any(
        zone.rule is ZoneRule.SOUND
        and (zone.side is None or showing[zone.side])
        and reach.intersection(Polygon(zone.outline).intersection(whole)).area > 1e-6
        for zone in part.zones
    )


def _refusing(
    defect: Defect,
    part: Part,
    reach: BaseGeometry,
    whole: Polygon,
    lines: dict[PartSide, MultiLineString],
    showing: dict[PartSide, bool],
) -> frozenset[PartSide]:
    if defect.wish in (Wish.TOLERATE, Wish.SHOW):
        return frozenset()
    sides = {side for side in _FACES if showing[side] and _face_refuses(defect, part, side, reach, whole)}
    sides |= {
        side
        for side, line in lines.items()
        if not tolerated(defect, rule_for(part, side)) and reach.intersection(line).length > 1e-6
    }
    return frozenset(sides)


def _face_refuses(defect: Defect, part: Part, side: PartSide, reach: BaseGeometry, whole: Polygon) -> bool:
    covers = [
        Polygon(zone.outline)
        for zone in part.zones
        if zone.rule is ZoneRule.COVERED and zone.side in (None, side)
    ]
    covered = shapely.union_all(covers) if covers else Polygon()
    concealed = RULES[part.tolerates.get(Visibility.CONCEALED, USUAL[Visibility.CONCEALED])]
    in_open = reach.intersection(whole.difference(covered)).area > 1e-6
    under = reach.intersection(whole.intersection(covered)).area > 1e-6
    return (in_open and not tolerated(defect, rule_for(part, side))) or (
        under and not tolerated(defect, concealed)
    )
