"""The cells of a clear map, and how obstacles fall on them."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d
from shapely.geometry.base import BaseGeometry

from layout.demands import Demand, Harm
from layout.ground import Ground, Rows, row_extents

__all__ = ["Frame"]

_TINY = 1e-6


@dataclass(frozen=True)
class Frame:
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
