"""Where in a part a defect could be made good: the engine's view of repairs, before anything is placed.

A defect of a known size can be patched if its grown outline lies wholly in the
part's inside, spliced or sliced off if it lies near an end, and so on. The ground
given is where that holds; `layout.repair.carry_out` makes the real repair.
"""

from functools import lru_cache

import shapely
from shapely import Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop
from layout.demands import Mend, Mending
from layout.glue import RepairKind
from layout.ground import grown
from layout.parts import Part, PartSide, Visibility, ZoneRule
from layout.repair.fault import COMES_OUT
from layout.repair.filler import LARGEST
from layout.repair.idea import may_show, price, sound_zones
from layout.repair.patch import LONGEST, TIP, WIDEST
from layout.repair.slice import LEAST_THICKNESS, MOST
from layout.repair.splice import STEEPEST
from layout.rules import size_across
from layout.stock import Board, Defect

__all__ = ["mendable", "mending_of"]

_FACES = (PartSide.FACE, PartSide.BACK)
_ENDS = (PartSide.NEAR_END, PartSide.FAR_END)


def mending_of(shop: Shop, defects: frozenset[tuple[str, str, str]]) -> Mending:
    """A `Mending` for these (board, defect, part): where a repair can be made, and at what price."""
    known: dict[tuple[str, str, str, PartSide], Mend | None] = {}

    def mending(board: Board, part: Part, defect: Defect, side: PartSide) -> Mend | None:
        if (board.id, defect.id, part.name) not in defects:
            return None
        key = (board.id, defect.id, part.name, side)
        if key not in known:
            known[key] = mendable(board, part, defect, side, shop)
        return known[key]

    return mending


def mendable(board: Board, part: Part, defect: Defect, side: PartSide, shop: Shop) -> Mend | None:
    """Where a defect must lie to be made good on this side, and the least price of it; None for nowhere."""
    x0, y0, x1, y1 = grown(defect, board, shop).bounds
    found = {RepairKind.FILLER: _filler(part, defect, side, shop)}
    if side in _FACES:
        found[RepairKind.PATCH] = _patch(part, defect, side, shop, (x1 - x0, y1 - y0))
        found[RepairKind.SLICE] = _slice(part, defect, side, shop, defect.kind in COMES_OUT)
    else:
        # Taken off with the face it goes down from, it is gone from edges and end as well.
        found[RepairKind.SLICE] = shapely.union_all(
            [_slice(part, defect, face, shop, True) for face in _FACES]
        )
    found[RepairKind.EDGE_STRIP] = _strips(part, side, shop)
    found[RepairKind.SPLICE] = _splice(part, shop)
    grounds = {kind: ground for kind, ground in found.items() if not ground.is_empty}
    prices = [amount for kind in grounds if (amount := price(kind, shop.repairs)) is not None]
    return Mend(min(prices), shapely.union_all(list(grounds.values()))) if prices else None


def _filler(part: Part, defect: Defect, side: PartSide, shop: Shop) -> BaseGeometry:
    small = size_across(defect) <= LARGEST.get(defect.kind, -1.0)
    if price(RepairKind.FILLER, shop.repairs) is None or not small or not may_show(part, {side}):
        return Polygon()
    # It may run over the edge: filler does.
    return (
        Polygon(part.shape)
        .buffer(20.0 + size_across(defect), join_style="mitre")
        .difference(sound_zones(part))
    )


def _patch(part: Part, defect: Defect, side: PartSide, shop: Shop, size: tuple[float, float]) -> BaseGeometry:
    rules = shop.repairs
    high = size[1] + 2 * rules.margin
    tip = TIP * high / 2
    long = size[0] + 2 * rules.margin + 2 * tip
    seen = set(_FACES) if defect.kind in COMES_OUT and defect.depth is None else {side}
    if price(RepairKind.PATCH, rules) is None or not may_show(part, seen) or high > WIDEST or long > LONGEST:
        return Polygon()
    along, across = rules.margin + tip, rules.margin
    ground: BaseGeometry = Polygon(part.shape).buffer(-rules.clearance, join_style="mitre")
    for dx, dy in ((along, across), (-along, across), (along, -across), (-along, -across)):
        ground = ground.intersection(affinity.translate(ground, dx, dy))
    for zone in part.zones:
        if zone.rule is ZoneRule.SOUND:
            x0, y0, x1, y1 = Polygon(zone.outline).bounds
            reach_x, reach_y = along + rules.clearance, across + rules.clearance
            ground = ground.difference(box(x0 - reach_x, y0 - reach_y, x1 + reach_x, y1 + reach_y))
    return ground


def _slice(part: Part, defect: Defect, side: PartSide, shop: Shop, wholly: bool) -> BaseGeometry:
    rules = shop.repairs
    edges = {PartSide.NEAR_EDGE, PartSide.FAR_EDGE}
    if price(RepairKind.SLICE, rules) is None or part.visibility(side) is not Visibility.CONCEALED:
        return Polygon()
    if part.outline is not None or any(part.visibility(edge) is Visibility.SHOW for edge in edges):
        return Polygon()
    deep = part.thickness if defect.depth is None else min(defect.depth, part.thickness)
    over = max(LEAST_THICKNESS, deep + 0.5) if wholly else LEAST_THICKNESS
    room = min(rules.slope * (MOST * part.thickness - over), part.length - rules.slope * over)
    zones = sound_zones(part, side)
    found = []
    for near in (True, False):
        if part.visibility(_ENDS[0 if near else 1]) is Visibility.SHOW:
            continue
        reached = room
        if not zones.is_empty:
            first = zones.bounds[0] if near else part.length - zones.bounds[2]
            reached = min(room, first - rules.slope * over)
        if reached > 0:
            found.append(_from_end(part, reached, near))
    return shapely.union_all(found) if found else Polygon()


def _splice(part: Part, shop: Shop) -> BaseGeometry:
    reached = part.length / 3 - STEEPEST * part.thickness - shop.repairs.clearance
    if price(RepairKind.SPLICE, shop.repairs) is None or part.outline is not None or reached <= 0:
        return Polygon()
    if not may_show(part, set(PartSide)):
        return Polygon()
    return shapely.union_all([_from_end(part, reached, near) for near in (True, False)])


def _strips(part: Part, side: PartSide, shop: Shop) -> BaseGeometry:
    if price(RepairKind.EDGE_STRIP, shop.repairs) is None or part.outline is not None:
        return Polygon()
    zones, found = sound_zones(part), []
    for near, other in ((True, PartSide.FAR_EDGE), (False, PartSide.NEAR_EDGE)):
        if side is other or not may_show(part, set(PartSide) - {other}):
            continue
        reached = part.width / 3
        if not zones.is_empty:
            reached = min(reached, zones.bounds[1] if near else part.width - zones.bounds[3])
        reached -= shop.repairs.margin
        if reached > 0:
            far = 1000.0  # what lies beyond the edge is sawn off anyway
            y0, y1 = (-far, reached) if near else (part.width - reached, part.width + far)
            found.append(box(-far, y0, part.length + far, y1))
    return shapely.union_all(found) if found else Polygon()


@lru_cache(maxsize=256)
def _end_box(length: float, width: float, reached: float, near: bool) -> Polygon:
    far = 1000.0
    if near:
        return box(-far, -far, reached, width + far)
    return box(length - reached, -far, length + far, width + far)


def _from_end(part: Part, reached: float, near: bool) -> Polygon:
    return _end_box(part.length, part.width, reached, near)
