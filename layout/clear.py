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

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from layout.demands import Demand, Harm, Mending, demands, harms, refusals
from layout.ground import Ground, Rows, row_extents
from layout.parts import Part, PartSide
from layout.placement import sawn_on_board
from layout.poses import Pose, as_placement, box_size, poses
from layout.rules import rule_for
from layout.stock import Defect, Wish

__all__ = ["Bar", "ClearMap", "Verdict", "bars", "clear_map", "first_at_or_after", "judged"]

_TINY = 1e-6
_NOWHERE = 32767
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
    harm : array of float, same shape, or None
        Least harm to looks there; None where no place has any.
    mend : array of float, same shape, or None
        Least repair cost there (inf where not even a repair helps); None if
        nothing can be made good.
    """

    ground: Ground
    length: float
    width: float
    ok: NDArray[np.bool_]
    harm: NDArray[np.float32] | None = None
    mend: NDArray[np.float32] | None = None

    @cached_property
    def ahead(self) -> NDArray[np.int16]:
        """First allowed column at or after each cell, in its row; 32767 if there is none."""
        return first_at_or_after(self.ok)

    @cached_property
    def anywhere(self) -> bool:
        """Whether the part fits this board at all, if need be with a repair."""
        return bool(self.ok.any()) or (self.mend is not None and bool(np.isfinite(self.mend).any()))

    def cost_at(self, x: float, y: float) -> tuple[float, float]:
        """Repair [money] and harm of the cell that holds a corner (x, y) of the board frame [mm]."""
        columns, rows = self.ok.shape
        i = min(int((x - self.ground.x0) / self.ground.column + _TINY), columns - 1)
        j = min(int((y - self.ground.y0) / self.ground.row + _TINY), rows - 1)
        mend = 0.0 if self.mend is None or self.ok[i, j] else float(self.mend[i, j])
        harm = 0.0 if self.harm is None or not self.ok[i, j] else float(self.harm[i, j])
        return mend, harm

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


def first_at_or_after(ok: NDArray[np.bool_]) -> NDArray[np.int16]:
    """First true column at or after each cell, in its row; 32767 if there is none."""
    columns = np.arange(ok.shape[0], dtype=np.int16)[:, None]
    own = np.where(ok, columns, np.int16(_NOWHERE))
    return np.ascontiguousarray(np.minimum.accumulate(own[::-1], axis=0)[::-1])


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
    frame = _Frame(ground, shape, max(room_x, 0.0), length, width)
    ok = np.zeros(shape, dtype=np.bool_)
    harm: NDArray[np.float32] | None = None
    mend: NDArray[np.float32] | None = None
    seen = set()
    worth_seeing = any(defect.wish is Wish.SHOW for defect in ground.board.defects)
    for pose in lying:
        asked = demands(ground.board, part, ground.shop, pose, mending)
        harmed = harms(ground.board, part, ground.shop, pose)
        key = (_keys(asked), _keys(harmed))
        if key in seen:
            continue
        seen.add(key)
        allowed = frame.barred([item for item in asked if item.price is None]) < 0.5
        priced = [item for item in asked if item.price is not None]
        if priced:
            cost = np.where(allowed, frame.weighed(priced), np.float32(np.inf))
            mend = cost if mend is None else np.minimum(mend, cost)
            allowed &= cost == 0
        if harmed or harm is not None:
            here = np.where(allowed, frame.weighed(harmed), np.float32(np.inf))
            before = np.where(ok, np.float32(0.0), np.float32(np.inf)) if harm is None else harm
            harm = np.minimum(before, here)
        ok |= allowed
        if harm is None and mend is None and not worth_seeing and bool(ok.all()):
            break
    return ClearMap(ground, length, width, ok, harm, mend)


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
    for asked in demands(ground.board, part, ground.shop, pose, mending):
        shape = affinity.translate(asked.shape, x, y)
        for number in asked.defects:
            if _meets(shape, ground.grown[number]):
                if asked.price is None:
                    return Verdict(False)
                mend += asked.price
                mends += 1
    harm = 0.0
    for item in harms(ground.board, part, ground.shop, pose):
        shape = affinity.translate(item.shape, x, y)
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
    for number, side, shape in refusals(ground.board, part, ground.shop, pose):
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


def _keys(items: Iterable[Demand | Harm]) -> frozenset[tuple[str, str]]:
    return frozenset(
        (
            shapely.normalize(item.shape).wkb_hex,
            repr(
                (sorted(item.defects), item.price)
                if isinstance(item, Demand)
                else sorted(item.weights.items())
            ),
        )
        for item in items
    )


@dataclass(frozen=True)
class _Frame:
    """The cells of one map, and how obstacles fall on them."""

    ground: Ground
    shape: tuple[int, int]
    room_x: float
    length: float
    width: float

    @cached_property
    def outside(self) -> "_Span":
        """The stretches barred by wood that is not there; the same in every pose."""
        rows = self.ground.rows
        box = shapely.box(0.0, 0.0, self.length, self.width)
        return self._spans(box, rows, np.flatnonzero(rows.owner < 0))

    def barred(self, asked: Sequence[Demand]) -> NDArray[np.float64]:
        """How many obstacle rows bar each cell; 0 where none does."""
        rows = self.ground.rows
        spans = [self.outside]
        for item in asked:
            which = np.flatnonzero(np.isin(rows.owner, list(item.defects)))
            spans += [self._spans(shape, rows, which) for shape in _simple(item.shape)]
        return self._summed(spans)

    def weighed(self, items: Sequence[Demand | Harm]) -> NDArray[np.float32]:
        """Sum of the weights of the defects that touch each cell.

        A defect counts once, by the hull of its rows; a harm counts as if all of
        the defect lay in the part, so this guides and `judged` decides.
        """
        hulls = self.ground.hulls
        spans: list[_Span] = []
        for item in items:
            shape = shapely.box(*item.shape.bounds)
            if isinstance(item, Demand):
                priced = dict.fromkeys(item.defects, item.price or 0.0)
            else:
                areas = self.ground.areas
                priced = {n: w * min(areas[n], shape.area) for n, w in item.weights.items()}
            for worth_seeing in (False, True):
                numbers = sorted(number for number, weight in priced.items() if (weight < 0) == worth_seeing)
                weights = np.array([priced[number] for number in numbers])
                which = np.array(numbers, dtype=np.int64)
                spans.append(self._spans(shape, hulls, which, weights, whole=worth_seeing))
        summed = self._summed(spans).astype(np.float32)
        summed[np.abs(summed) < 1e-6] = 0.0
        return summed

    def _spans(
        self,
        shape: BaseGeometry,
        rows: Rows,
        which: NDArray[np.int64],
        weights: NDArray[np.float64] | None = None,
        whole: bool = False,
    ) -> "_Span":
        """Rows and open stretches of x in which the piece's corner would bring the shape onto obstacles.

        With `whole`, only where the shape takes in all of the obstacle's length.
        """
        if not len(which):
            none = np.zeros(0)
            return none.astype(np.int64), none, none, none
        low, high = rows.low[which], rows.high[which]
        x0, y0, x1, y1 = shape.bounds
        row = self.ground.row
        upright = shape.geom_type == "LineString" or shape.area >= (x1 - x0) * (y1 - y0) - _TINY
        if upright:
            reach = (floor(y0 / row + _TINY), ceil(y1 / row - _TINY))
            near, far = _window(low, high, *reach, self.shape[1])
            near, far = (far - x1, near - x0) if whole else (near - x1, far - x0)
        else:
            near, far = self._swept(shape, low, high)
        obstacle, j = np.nonzero(near < far)
        by = np.ones(len(obstacle)) if weights is None else weights[obstacle]
        return j, near[obstacle, j], far[obstacle, j], by

    def _swept(
        self, shape: BaseGeometry, low: NDArray[np.float64], high: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The same for a shape that is no upright rectangle, row by row of the shape."""
        row, rows = self.ground.row, self.shape[1]
        _, y0, _, y1 = shape.bounds
        first = floor(y0 / row)
        count = max(ceil(y1 / row) - first, 1)
        left, right = np.full(count, np.inf), np.full(count, -np.inf)
        row_extents(_ring(shape) - (0.0, first * row), row, left, right)
        # A place anywhere in row j brings row s of the shape onto obstacle rows j + s and j + s + 1.
        lows, highs = _window(low, high, first, first + 1, rows + count)
        near = np.full((len(low), rows), np.inf)
        far = np.full((len(low), rows), -np.inf)
        for step in range(count):
            if left[step] <= right[step]:
                np.minimum(near, lows[:, step : step + rows] - right[step], out=near)
                np.maximum(far, highs[:, step : step + rows] - left[step], out=far)
        return near, far

    def _summed(self, spans: "Sequence[_Span]") -> NDArray[Any]:
        columns, rows = self.shape
        if not spans:
            return np.zeros(self.shape)
        j, near, far, weight = (np.concatenate(item) for item in zip(*spans, strict=True))
        first = np.clip(np.floor((near + _TINY) / self.ground.column), 0, columns)
        last = np.clip(np.ceil((far - _TINY) / self.ground.column), 0, columns)
        there = (first < last) & (near < self.room_x - _TINY) & (far > _TINY)
        size, at = (columns + 1) * rows, j[there]
        starts = first[there].astype(np.int64) * rows + at
        ends = last[there].astype(np.int64) * rows + at
        steps = np.bincount(starts, weight[there], size) - np.bincount(ends, weight[there], size)
        return np.cumsum(steps.reshape(columns + 1, rows), axis=0)[:-1]


_Span = tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


def _window(
    low: NDArray[np.float64], high: NDArray[np.float64], first: int, last: int, rows: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Least low and greatest high over obstacle rows j + first .. j + last, for places in rows j."""
    size = last - first + 1
    before = max(-first, 0) + size
    start = before + first + size // 2
    after = max(start + rows - low.shape[1] - before, 0) + size
    filters = (minimum_filter1d, np.inf, low), (maximum_filter1d, -np.inf, high)
    found = []
    for filtered, nothing, values in filters:
        wide = np.full((len(values), before + values.shape[1] + after), nothing)
        wide[:, before : before + values.shape[1]] = values
        done = filtered(wide, size, axis=1, mode="constant", cval=nothing)
        found.append(done[:, start : start + rows])
    return found[0], found[1]


def _simple(shape: BaseGeometry) -> list[BaseGeometry]:
    """Polygons and single lines of a shape; a long sloping one is cut short along the grain."""
    found = []
    for part in shapely.get_parts(shape):
        x0, y0, x1, y1 = part.bounds
        upright = part.area >= (x1 - x0) * (y1 - y0) - _TINY
        if part.geom_type == "LineString" and (x1 - x0 < _TINY or y1 - y0 < _TINY):
            upright = True
        if upright or x1 - x0 < 90.0:
            found.append(part)
            continue
        edges = np.linspace(x0, x1, ceil((x1 - x0) / 60.0) + 1)
        slabs = shapely.intersection(part, shapely.box(edges[:-1], y0 - 1, edges[1:], y1 + 1))
        found += [
            piece
            for piece in shapely.get_parts(slabs)
            for piece in shapely.get_parts(piece)
            if piece.geom_type in ("Polygon", "LineString")
        ]
    return found


def _ring(shape: BaseGeometry) -> NDArray[np.float64]:
    return shapely.get_coordinates(
        shapely.get_exterior_ring(shape) if shape.geom_type == "Polygon" else shape
    )
