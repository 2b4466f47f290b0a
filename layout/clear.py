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

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from layout.demands import Demand, Harm, Mending, demands, harms
from layout.ground import Ground, row_extents
from layout.parts import Part
from layout.placement import sawn_on_board
from layout.poses import Pose, as_placement, box_size, poses

__all__ = ["ClearMap", "Verdict", "clear_map", "judged"]

_TINY = 1e-6
_NOWHERE = 32767


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
        columns = np.arange(self.ok.shape[0], dtype=np.int16)[:, None]
        own = np.where(self.ok, columns, np.int16(_NOWHERE))
        return np.ascontiguousarray(np.minimum.accumulate(own[::-1], axis=0)[::-1])

    @cached_property
    def anywhere(self) -> bool:
        """Whether the part fits this board at all."""
        return bool(self.ok.any())

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


@dataclass(frozen=True)
class Verdict:
    """What one exact place costs: harm to looks, and repair [money]; falsy if it is not allowed."""

    allowed: bool
    harm: float = 0.0
    mend: float = 0.0

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
    lying = poses(part, ground.board, ground.shop) if room_x >= -_TINY and room_y >= -_TINY else ()
    shape = (
        max(floor(room_x / ground.column + _TINY) + 1, 0),
        max(floor(room_y / ground.row + _TINY) + 1, 0),
    )
    if not lying or 0 in shape:
        return ClearMap(ground, length, width, np.zeros((1, 1), dtype=np.bool_))
    frame = _Frame(ground, shape, max(room_x, 0.0), length, width)
    ok = np.zeros(shape, dtype=np.bool_)
    harm: NDArray[np.float32] | None = None
    mend: NDArray[np.float32] | None = None
    seen = set()
    for pose in lying:
        asked = demands(ground.board, part, ground.shop, pose, mending)
        harmed = harms(ground.board, part, ground.shop, pose)
        key = (_keys(asked), _keys(harmed))
        if key in seen:
            continue
        seen.add(key)
        barred = frame.touched([item for item in asked if item.price is None])
        allowed = barred == 0
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
        if harm is None and mend is None and bool(ok.all()):
            break
    return ClearMap(ground, length, width, ok, harm, mend)


def judged(
    ground: Ground, part: Part, x: float, y: float, pose: Pose, mending: Mending | None = None
) -> Verdict:
    """The exact verdict on one place of the piece's corner (upright box), with polygons [mm]."""
    length, width = box_size(part, ground.board, ground.shop)
    if not _inside(ground, part, x, y, length, width, pose):
        return Verdict(False)
    mend = 0.0
    for asked in demands(ground.board, part, ground.shop, pose, mending):
        shape = affinity.translate(asked.shape, x, y)
        for number in asked.defects:
            if _meets(shape, ground.grown[number]):
                if asked.price is None:
                    return Verdict(False)
                mend += asked.price
    harm = 0.0
    for item in harms(ground.board, part, ground.shop, pose):
        shape = affinity.translate(item.shape, x, y)
        for number, weight in item.weights.items():
            if shape.intersects(ground.grown[number]):
                harm += weight * float(shape.intersection(ground.grown[number]).area)
    return Verdict(True, harm, mend)


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
            shapely.to_wkt(shapely.normalize(item.shape), rounding_precision=3),
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

    def touched(self, asked: Sequence[Demand]) -> NDArray[np.int32]:
        """How many obstacle rows bar each cell; 0 where none does."""
        rows = self.ground.rows
        outside = np.flatnonzero(rows.owner < 0)
        box = shapely.box(0.0, 0.0, self.length, self.width)
        spans = [self._spans(box, outside)] if len(outside) else []
        for item in asked:
            which = np.flatnonzero(np.isin(rows.owner, list(item.defects)))
            spans += [self._spans(shape, which) for shape in _simple(item.shape)]
        return np.rint(self._summed(spans, None)).astype(np.int32)

    def weighed(self, items: Sequence[Demand | Harm]) -> NDArray[np.float32]:
        """Sum of the weights of the obstacles that touch each cell."""
        rows = self.ground.rows
        spans, weights = [], []
        for item in items:
            priced = (
                dict.fromkeys(item.defects, item.price or 0.0) if isinstance(item, Demand) else item.weights
            )
            for number, weight in priced.items():
                which = np.flatnonzero(rows.owner == number)
                for shape in _simple(item.shape):
                    span = self._hull(self._spans(shape, which))
                    if isinstance(item, Harm):
                        area = min(float(self.ground.grown[number].area), float(shape.area))
                        spans.append(span)
                        weights.append(weight * area)
                    else:
                        spans.append(span)
                        weights.append(weight)
        return self._summed(spans, weights).astype(np.float32)

    def _hull(self, span: "_Span") -> "_Span":
        """One stretch per row for all pieces of one defect, so that it counts once."""
        if not len(span[0]):
            return span
        low = np.full(self.shape[1], np.inf)
        high = np.full(self.shape[1], -np.inf)
        np.minimum.at(low, span[0], span[1])
        np.maximum.at(high, span[0], span[2])
        there = np.flatnonzero(low < high)
        return there, low[there], high[there]

    def _spans(self, shape: BaseGeometry, which: NDArray[np.int64]) -> "_Span":
        """Rows and open stretches of x in which the piece's corner would bring the shape onto obstacles."""
        low, high = self.ground.rows.low[which], self.ground.rows.high[which]
        if not len(which):
            none = np.zeros(0)
            return none.astype(np.int64), none, none
        x0, y0, x1, y1 = shape.bounds
        row = self.ground.row
        upright = shape.geom_type == "LineString" or shape.area >= (x1 - x0) * (y1 - y0) - _TINY
        if upright:
            reach = (floor(y0 / row + _TINY), ceil(y1 / row - _TINY))
            near, far = _window(low, high, *reach, self.shape[1])
            near, far = near - x1, far - x0
        else:
            near, far = self._swept(shape, low, high)
        obstacle, j = np.nonzero(near < far)
        return j, near[obstacle, j], far[obstacle, j]

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
        near = np.full((len(low), rows), np.inf)
        far = np.full((len(low), rows), -np.inf)
        for step in range(count):
            if left[step] > right[step]:
                continue
            one, other = _window(low, high, first + step, first + step + 1, rows)
            np.minimum(near, one - right[step], out=near)
            np.maximum(far, other - left[step], out=far)
        return near, far

    def _summed(self, spans: Sequence["_Span"], weights: Sequence[float] | None) -> NDArray[np.float64]:
        columns, rows = self.shape
        steps = np.zeros((columns + 1) * rows)
        for number, (j, near, far) in enumerate(spans):
            weight = 1.0 if weights is None else weights[number]
            first = np.floor((near + _TINY) / self.ground.column)
            last = np.ceil((far - _TINY) / self.ground.column)
            first = np.clip(first, 0, columns)
            last = np.clip(last, 0, columns)
            there = (first < last) & (near < self.room_x - _TINY) & (far > _TINY)
            at = j[there]
            size = (columns + 1) * rows
            steps += weight * np.bincount(first[there].astype(np.int64) * rows + at, minlength=size)
            steps -= weight * np.bincount(last[there].astype(np.int64) * rows + at, minlength=size)
        summed: NDArray[np.float64] = np.cumsum(steps.reshape(columns + 1, rows), axis=0)[:-1]
        if weights is not None:
            summed[np.abs(summed) < 1e-9] = 0.0
        return summed


_Span = tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]


def _window(
    low: NDArray[np.float64], high: NDArray[np.float64], first: int, last: int, rows: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Least low and greatest high over obstacle rows j + first .. j + last, for places in rows j."""
    size = last - first + 1
    pad = max(size, -first, last, 0) + 1
    wide = ((0, 0), (pad, pad + max(rows - low.shape[1], 0)))
    start = pad + first + size // 2
    near = minimum_filter1d(
        np.pad(low, wide, constant_values=np.inf), size, axis=1, mode="constant", cval=np.inf
    )
    far = maximum_filter1d(
        np.pad(high, wide, constant_values=-np.inf), size, axis=1, mode="constant", cval=-np.inf
    )
    return near[:, start : start + rows], far[:, start : start + rows]


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
