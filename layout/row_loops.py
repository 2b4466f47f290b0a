"""The inner loops of clear maps, compiled: outlines row by row, and cells that obstacles bar."""

from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled

__all__ = ["bar_cells", "row_extents"]

Real = NDArray[np.float64]

_TINY = 1e-6


@compiled("void(float64[:, ::1], float64, float64[::1], float64[::1])")
def row_extents(points: Real, row: float, low: Real, high: Real) -> None:
    """Widen low and high by the stretch of x a line through the points takes in each row [mm].

    Parameters
    ----------
    points : array, shape (points, 2)
        x and y of each, from where the rows begin.
    row : float
        How wide a row is.
    low, high : array, shape (rows,)
    """
    for one in range(len(points) - 1):
        ax, ay, bx, by = points[one, 0], points[one, 1], points[one + 1, 0], points[one + 1, 1]
        below, above = min(ay, by), max(ay, by)
        slope = 0.0 if by == ay else (bx - ax) / (by - ay)
        for j in range(max(floor(below / row) - 1, 0), min(floor(above / row) + 2, len(low))):
            near = max(below, j * row + _TINY)
            far = min(above, j * row + row - _TINY)
            if near <= far:
                first = ax + (near - ay) * slope
                last = bx if by == ay else ax + (far - ay) * slope
                low[j] = min(low[j], min(first, last))
                high[j] = max(high[j], max(first, last))


@compiled(
    "void(boolean[:, :], float64[::1], float64[::1], int64[::1], int64[::1],"
    " float64, float64, float64, float64, int64, int64)"
)
def bar_cells(
    found: NDArray[np.bool_],
    low: Real,
    high: Real,
    across: NDArray[np.int64],
    which: NDArray[np.int64],
    near: float,
    far: float,
    room: float,
    column: float,
    first: int,
    last: int,
) -> None:
    """Mark the cells some of whose places bring a rectangle onto stretches of x, one by one.

    Parameters
    ----------
    found : array of bool, shape (rows, columns)
        Marked true there.
    low, high, across : array, shape (stretches,)
        Where each begins and ends [mm], and its row.
    which : array of int
        Numbers of those that count.
    near, far : float
        Least and greatest x of the rectangle, from the place of the piece's corner [mm].
    room : float
        Greatest x of a place [mm].
    column : float
        How long a cell is [mm].
    first, last : int
        Rows the rectangle reaches over, from its place on.
    """
    rows, columns = found.shape
    for one in which:
        begin, end = low[one] - far, high[one] - near
        if begin < room - _TINY and end > _TINY:
            i0 = max(floor((begin + _TINY) / column), 0)
            i1 = min(ceil((end - _TINY) / column), columns)
            for j in range(max(across[one] - last, 0), min(across[one] - first + 1, rows)):
                for i in range(i0, i1):
                    found[j, i] = True
