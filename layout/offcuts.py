"""What is worth keeping of a board after its parts are sawn out."""

from collections.abc import Sequence
from math import ceil

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop
from layout.cuts import Box
from layout.placement import Offcut
from layout.stock import Board

__all__ = ["largest_rectangle", "offcuts_of", "rectangle_in"]


def offcuts_of(
    board: Board, boxes: Sequence[Box], left_over: Sequence[Box], shop: Shop
) -> tuple[Offcut, ...]:
    """Offcuts worth keeping, largest first.

    Parameters
    ----------
    board : Board
    boxes : sequence of (x0, y0, x1, y1)
        Sawn pieces on it [mm].
    left_over : sequence of (x0, y0, x1, y1)
        What straight cuts leave over (`layout.cuts.sawn_apart`); empty if the
        board is sawn along the parts' lines, when the largest free rectangle is
        looked for instead [mm].
    shop : Shop
    """
    wood: BaseGeometry = Polygon(board.front).intersection(Polygon(board.back))
    if left_over:
        lumps: list[BaseGeometry] = [shapely.box(*box) for box in left_over]
    else:
        kerf = shop.allowances.kerf
        taken = [shapely.box(x0 - kerf, y0 - kerf, x1 + kerf, y1 + kerf) for x0, y0, x1, y1 in boxes]
        lumps = [wood.difference(shapely.union_all(taken))]
    least_length, least_width = shop.least_offcut
    found = []
    for lump in lumps:
        box = rectangle_in(lump.intersection(wood), least_length, least_width)
        if box is not None and box[2] - box[0] >= least_length and box[3] - box[1] >= least_width:
            found.append(box)
    found.sort(key=lambda box: (box[0] - box[2]) * (box[3] - box[1]))
    return tuple(Offcut(board.id, *box) for box in found)


def rectangle_in(shape: BaseGeometry, least_length: float = 0.0, least_width: float = 0.0) -> Box | None:
    """A large upright rectangle in a shape; exact if it is one, else to about 1/150 of its size [mm]."""
    if shape.is_empty or shape.area < max(least_length * least_width, 1.0):
        return None
    x0, y0, x1, y1 = shape.bounds
    if shape.area >= (x1 - x0) * (y1 - y0) - 1e-3:
        return x0, y0, x1, y1
    columns = min(ceil((x1 - x0) / 4.0), 150)
    rows = min(ceil((y1 - y0) / 2.0), 100)
    xs, ys = np.linspace(x0, x1, columns + 1), np.linspace(y0, y1, rows + 1)
    shapely.prepare(shape)
    cells = shapely.box(xs[:-1, None] + 1e-6, ys[None, :-1] + 1e-6, xs[1:, None] - 1e-6, ys[None, 1:] - 1e-6)
    best = largest_rectangle(shapely.covers(shape, cells))
    if best is None:
        return None
    i0, j0, i1, j1 = best
    return float(xs[i0]), float(ys[j0]), float(xs[i1]), float(ys[j1])


def largest_rectangle(free: NDArray[np.bool_]) -> tuple[int, int, int, int] | None:
    """The largest all-true block (i0, j0, i1, j1) of a map, ends exclusive (histogram method)."""
    heights = np.zeros(free.shape[1] + 1, dtype=np.int64)
    best, found = 0, None
    for i, line in enumerate(free):
        heights[:-1] = np.where(line, heights[:-1] + 1, 0)
        stack: list[tuple[int, int]] = []
        for j, height in enumerate(heights.tolist()):
            start = j
            while stack and stack[-1][1] >= height:
                start, tall = stack.pop()
                if tall * (j - start) > best:
                    best, found = tall * (j - start), (i + 1 - tall, start, i + 1, j)
            stack.append((start, height))
    return found
