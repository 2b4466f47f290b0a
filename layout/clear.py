"""Where a part may lie on a board, and at what cost.

A `ClearMap` covers the places of one part on one board: cell (i, j) stands for
EVERY place of the sawn piece's corner (for a tilted piece, of the upright box
round it) with x0 + i * column <= x <= x0 + (i + 1) * column, and likewise across.
It is true only if all of them are allowed, in at least one pose, so any point of
a true cell may be used: maps are careful, never hopeful. `judged` decides single
places exactly, with polygons.

Seam for repairs: pass `mending`, a function that prices making a defect good on
a side of a part; places that are allowed at a price then appear in `mend`.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from math import floor

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from layout.cells import Frame
from layout.demands import Demand, Mending, demands, harms, refusals
from layout.faults import Numbers, Shown
from layout.ground import Ground
from layout.parts import Part, PartSide
from layout.placement import sawn_on_board
from layout.poses import Pose, as_placement, box_size, poses
from layout.rules import rule_for
from layout.stock import Defect, Face, Wish

__all__ = ["Bar", "ClearMap", "Verdict", "bars", "clear_map", "judged"]

_TINY = 1e-6
_NONE: Numbers = frozenset()
_PLANINGS = 3  # tried in maps; single places are judged with more


@dataclass(frozen=True)
class ClearMap:
    """Places of one part on one board.

    Parameters
    ----------
    ground : Ground
    length, width : float
        Upright box round the sawn piece [mm].
    ok : array of bool, shape (columns, rows)
        Allowed everywhere in the cell, in some pose, without repair.
    mend : array of float, same shape, or None
        Least repair cost there (inf where not even a repair helps); None if
        nothing can be made good.
    harmed : function or None
        Works out the harm to looks, which few maps are ever asked for.
    """

    ground: Ground
    length: float
    width: float
    ok: NDArray[np.bool_]
    mend: NDArray[np.float32] | None = None
    harmed: Callable[[], NDArray[np.float32] | None] | None = None

    @cached_property
    def harm(self) -> NDArray[np.float32] | None:
        """Least harm to looks in every cell, same shape as `ok`; None where no place has any."""
        return None if self.harmed is None else self.harmed()

    @cached_property
    def anywhere(self) -> bool:
        """Whether the part fits this board at all, if need be with a repair."""
        return bool(self.ok.any()) or (self.mend is not None and bool(np.isfinite(self.mend).any()))

    def cost_at(self, x: float, y: float) -> tuple[float, float]:
        """Repair [money] and harm of the cell that holds a corner (x, y) of the board frame [mm]."""
        # A corner on the line between two cells lies in both: the better one counts.
        places = [
            (i, j)
            for i in _touching((x - self.ground.x0) / self.ground.column, self.ok.shape[0])
            for j in _touching((y - self.ground.y0) / self.ground.row, self.ok.shape[1])
        ]
        allowed = [place for place in places if self.ok[place]]
        if allowed:
            return 0.0, 0.0 if self.harm is None else min(float(self.harm[place]) for place in allowed)
        return 0.0 if self.mend is None else min(float(self.mend[place]) for place in places), 0.0

    def allows(self, x: float, y: float) -> bool:
        """Whether the map allows a corner at (x, y) of the board frame [mm]."""
        i = floor((x - self.ground.x0) / self.ground.column + _TINY)
        j = floor((y - self.ground.y0) / self.ground.row + _TINY)
        columns, rows = self.ok.shape
        inside = (
            x - self.ground.x0 <= self.ground.length - self.length + _TINY
            and y - self.ground.y0 <= self.ground.width - self.width + _TINY
        )
        return inside and 0 <= i < columns and 0 <= j < rows and bool(self.ok[i, j])


def _touching(along: float, count: int) -> tuple[int, ...]:
    """The one cell, or the two, that hold a place told in cells from the ground's origin."""
    last = count - 1
    return tuple({min(int(along + _TINY), last), min(max(int(along - _TINY), 0), last)})


@dataclass(frozen=True)
class Verdict:
    """What one exact place costs: harm, repair [money] and how many repairs; falsy if not allowed."""

    allowed: bool
    harm: float = 0.0
    mend: float = 0.0
    mends: int = 0

    def __bool__(self) -> bool:
        return self.allowed


def clear_map(ground: Ground, part: Part, mending: Mending | None = None) -> ClearMap:
    """All places of a part on a board.

    Parameters
    ----------
    ground : Ground
    part : Part
    mending : function, optional
        Prices for making defects good (see `layout.demands.Mending`).
    """
    length, width = box_size(part, ground.board, ground.shop)
    room_x, room_y = ground.length - length, ground.width - width
    lying = poses(part, ground.board, ground.shop, _PLANINGS) if room_x >= -_TINY and room_y >= -_TINY else ()
    shape = (
        max(floor(room_x / ground.column + _TINY) + 1, 0),
        max(floor(room_y / ground.row + _TINY) + 1, 0),
    )
    if not lying or 0 in shape:
        return ClearMap(ground, length, width, np.zeros((1, 1), dtype=np.bool_))
    if _is_symmetric(part):
        lying = tuple(pose for pose in lying if not pose.end_for_end) or lying
    maker = _Maker(ground, part, lying, Frame(ground, shape, max(room_x, 0.0), length, width))
    if mending is None:
        return ClearMap(ground, length, width, maker.ok(), harmed=maker.harm)
    ok, mend = maker.mended(mending)
    return ClearMap(ground, length, width, ok, mend, partial(maker.harm, mending))


@dataclass(frozen=True)
class _Maker:
    """Makes the map of one part on one ground, pose by pose."""

    ground: Ground
    part: Part
    lying: Sequence[Pose]
    frame: Frame

    def ok(self) -> NDArray[np.bool_]:
        """Cells allowed in some pose."""
        ok = np.zeros(self.frame.shape[::-1], dtype=np.bool_).T
        seen: list[dict[tuple[object, ...], Numbers]] = []
        tried: dict[tuple[Face, bool], list[Shown]] = {}
        for pose in self.lying:
            # The same of planing that leaves no more of any defect, which is sooner said.
            shown = self.ground.faults.shown(self.part.thickness, pose.from_front)
            others = tried.setdefault((pose.face_from, pose.end_for_end), [])
            if any(other.within(shown) for other in others):
                continue
            others.append(shown)
            asked = self._asked(pose)
            here = {item.laid.key: item.defects for item in asked}
            # Where another pose asks no more of any shape, this one allows nothing beyond that.
            if any(all(few <= here.get(key, _NONE) for key, few in one.items()) for one in seen):
                continue
            seen.append(here)
            ok |= ~self.frame.barred(asked)
            if bool(ok.all()):
                break
        return np.ascontiguousarray(ok)

    def mended(self, mending: Mending) -> tuple[NDArray[np.bool_], NDArray[np.float32] | None]:
        """Cells allowed as they are in some pose, and the least price of a repair in every cell."""
        ok = np.zeros(self.frame.shape, dtype=np.bool_)
        mend: NDArray[np.float32] | None = None
        for _, allowed, cost in self._by_pose(mending):
            if cost is not None:
                mend = cost if mend is None else np.minimum(mend, cost)
            ok |= allowed
        return ok, mend

    def harm(self, mending: Mending | None = None) -> NDArray[np.float32] | None:
        """Least harm to looks in every cell, without repair; None where no pose does any."""
        harm: NDArray[np.float32] | None = None
        ok = np.zeros(self.frame.shape, dtype=np.bool_)
        for pose, allowed, _ in self._by_pose(mending):
            harmed = harms(self.ground.faults, self.part, self.ground.shop, pose)
            if harmed or harm is not None:
                here = np.where(allowed, self.frame.weighed(harmed), np.float32(np.inf))
                before = np.where(ok, np.float32(0.0), np.float32(np.inf)) if harm is None else harm
                harm = np.minimum(before, here)
            ok |= allowed
            if harm is None and bool(ok.all()) and not self._worth_seeing:
                break
        return harm

    @property
    def _worth_seeing(self) -> bool:
        return any(defect.wish is Wish.SHOW for defect in self.ground.board.defects)

    def _asked(self, pose: Pose, mending: Mending | None = None) -> tuple[Demand, ...]:
        return demands(self.ground.faults, self.part, self.ground.shop, pose, mending)

    def _by_pose(
        self, mending: Mending | None
    ) -> Iterator[tuple[Pose, NDArray[np.bool_], NDArray[np.float32] | None]]:
        """Poses that differ, each with the cells it allows without repair, and the price of repairs."""
        seen = set()
        for pose in self.lying:
            asked = self._asked(pose, mending)
            harmed = harms(self.ground.faults, self.part, self.ground.shop, pose)
            key = (frozenset(item.key for item in asked), frozenset(item.key for item in harmed))
            if key in seen:
                continue
            seen.add(key)
            allowed = ~self.frame.barred([item for item in asked if item.price is None])
            cost = None
            if priced := [item for item in asked if item.price is not None]:
                cost = np.where(allowed, self.frame.weighed(priced), np.float32(np.inf))
                allowed &= cost == 0
            yield pose, allowed, cost


def _is_symmetric(part: Part) -> bool:
    """Whether it makes no difference which way round the part lies."""
    pairs = ((PartSide.NEAR_EDGE, PartSide.FAR_EDGE), (PartSide.NEAR_END, PartSide.FAR_END))
    return (
        not part.zones
        and part.outline is None
        and all(rule_for(part, one) == rule_for(part, other) for one, other in pairs)
    )


def judged(
    ground: Ground, part: Part, x: float, y: float, pose: Pose, mending: Mending | None = None
) -> Verdict:
    """The exact verdict on one place of the piece's corner (upright box), with polygons [mm]."""
    length, width = box_size(part, ground.board, ground.shop)
    if not _inside(ground, part, x, y, length, width, pose):
        return Verdict(False)
    mend, mends = 0.0, 0
    for asked in demands(ground.faults, part, ground.shop, pose, mending):
        shape = affinity.translate(asked.laid.shape, x, y)
        for number in asked.defects:
            if _meets(shape, ground.grown[number]):
                if asked.price is None:
                    return Verdict(False)
                mend += asked.price
                mends += 1
    harm = 0.0
    for item in harms(ground.faults, part, ground.shop, pose):
        shape = affinity.translate(item.laid.shape, x, y)
        for number, weight in item.weights.items():
            if shape.intersects(ground.grown[number]):
                harm += weight * float(shape.intersection(ground.grown[number]).area)
    return Verdict(True, harm, mend, mends)


@dataclass(frozen=True)
class Bar:
    """A defect that keeps a part off a place.

    Parameters
    ----------
    defect : Defect
    side : PartSide or None
        Side that refuses it; None where making one side good does not help.
    common : shapely geometry
        Ground (or line) the grown defect shares with what may not touch it, in
        the board frame [mm].
    """

    defect: Defect
    side: PartSide | None
    common: BaseGeometry


def bars(ground: Ground, part: Part, x: float, y: float, pose: Pose) -> tuple[Bar, ...]:
    """Every defect that keeps a part off one exact place of its corner (upright box) [mm].

    With repairs, these are the defects to be made good there, side by side.
    """
    found = []
    for number, side, shape in refusals(ground.faults, part, ground.shop, pose):
        here = affinity.translate(shape, x, y)
        if _meets(here, ground.grown[number]):
            found.append(Bar(ground.board.defects[number], side, here.intersection(ground.grown[number])))
    return tuple(found)


def _inside(ground: Ground, part: Part, x: float, y: float, length: float, width: float, pose: Pose) -> bool:
    if ground.wood.is_empty:
        return False
    box: BaseGeometry = shapely.box(x + _TINY, y + _TINY, x + length - _TINY, y + width - _TINY)
    if pose.tilt:
        placed = as_placement(part, 1, ground.board, ground.shop, x, y, pose)
        box = shapely.Polygon(sawn_on_board(placed, part, ground.shop.allowances)).buffer(-_TINY)
    return bool(ground.wood.covers(box))


def _meets(shape: BaseGeometry, obstacle: BaseGeometry) -> bool:
    if not shape.intersects(obstacle):
        return False
    common = shape.intersection(obstacle)
    return bool(common.length > _TINY)
