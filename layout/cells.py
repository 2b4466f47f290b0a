"""The cells of a clear map, and how obstacles fall on them."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.demands import Demand, Harm
from layout.ground import Ground, Rows, extreme_rows
from layout.reach import reach_of
from layout.row_loops import row_extents

__all__ = ["Frame"]

_TINY = 1e-6
_OUTSIDE = frozenset({-1})  # the owner of wood that is not there
_NONE: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Frame:
    """The cells of one map, and how obstacles fall on them."""

    ground: Ground
    shape: tuple[int, int]
    room_x: float
    length: float
    width: float

    def barred(self, asked: Sequence[Demand]) -> NDArray[np.bool_]:
        """Cells some of whose places bring a shape onto a defect it may not touch, or off the wood."""
        box = (0.0, 0.0, self.length, self.width)
        wanted: dict[tuple[float, float, float, float], frozenset[int]] = {box: _OUTSIDE}
        spans = []
        for item in asked:
            for upright in item.laid.upright:
                wanted[upright] = wanted.get(upright, _NONE) | item.defects
            spans += [self._swept(shape, item.defects) for shape in item.laid.others]
        reach = reach_of(self.ground)
        columns, rows = self.shape
        found = self._summed(spans).T > 0.5 if spans else np.zeros((rows, columns), dtype=np.bool_)
        for upright, numbers in wanted.items():
            reach.bar(found, numbers, upright, self.room_x)
        return found.T

    def weighed(self, items: Sequence[Demand | Harm]) -> NDArray[np.float32]:
        """Sum of the weights of the defects that touch each cell.

        A defect counts once, by the hull of its rows; a harm counts as if all of
        the defect lay in the part, so this guides and `judged` decides.
        """
        hulls = self.ground.hulls
        spans: list[_Span] = []
        for item in items:
            shape = shapely.box(*item.laid.shape.bounds)
            if isinstance(item, Demand):
                priced = dict.fromkeys(item.defects, item.price or 0.0)
            else:
                areas = self.ground.areas
                priced = {n: w * min(areas[n], shape.area) for n, w in item.weights.items()}
            for worth_seeing in (False, True):
                numbers = sorted(number for number, weight in priced.items() if (weight < 0) == worth_seeing)
                weights = np.array([priced[number] for number in numbers])
                which = np.array(numbers, dtype=np.int64)
                spans.append(self._hull_spans(shape, hulls, which, weights, worth_seeing))
        summed = self._summed(spans).astype(np.float32)
        summed[np.abs(summed) < 1e-6] = 0.0
        return summed

    def _hull_spans(
        self,
        shape: BaseGeometry,
        rows: Rows,
        which: NDArray[np.int64],
        weights: NDArray[np.float64],
        whole: bool,
    ) -> "_Span":
        """Rows and open stretches of x in which the corner brings the shape's upright box onto obstacles.

        With `whole`, only where the box takes in all of the obstacle's length.
        """
        if not len(which):
            none = np.zeros(0)
            return none.astype(np.int64), none, none, none
        x0, y0, x1, y1 = shape.bounds
        reach = (floor(y0 / self.ground.row + _TINY), ceil(y1 / self.ground.row - _TINY))
        near, far = extreme_rows(rows.low[which], rows.high[which], *reach, self.shape[1])
        near, far = (far - x1, near - x0) if whole else (near - x1, far - x0)
        obstacle, j = np.nonzero(near < far)
        return j, near[obstacle, j], far[obstacle, j], weights[obstacle]

    def _swept(self, shape: BaseGeometry, numbers: frozenset[int]) -> "_Span":
        """The same for a shape that is no upright rectangle, row by row of the shape and of the obstacles."""
        row = self.ground.row
        _, y0, _, y1 = shape.bounds
        first = floor(y0 / row)
        count = max(ceil(y1 / row) - first, 1)
        left, right = np.full(count + 2, np.inf), np.full(count + 2, -np.inf)
        row_extents(_ring(shape) - (0.0, first * row), row, left[1:-1], right[1:-1])
        # A place in row j brings row s of the shape onto obstacle rows j + s and j + s + 1.
        left, right = np.minimum(left[:-1], left[1:]), np.maximum(right[:-1], right[1:])
        steps = np.flatnonzero(left <= right)
        low, high, across = reach_of(self.ground).spans(numbers)
        j = across[:, None] - (first + steps)
        near, far = low[:, None] - right[steps], high[:, None] - left[steps]
        there = (j >= 0) & (j < self.shape[1]) & (near < far)
        found = j[there]
        return found, near[there], far[there], np.ones(len(found))

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


def _ring(shape: BaseGeometry) -> NDArray[np.float64]:
    return shapely.get_coordinates(
        shapely.get_exterior_ring(shape) if shape.geom_type == "Polygon" else shape
    )
