"""How far one can go along a board before a fault: one table for all parts that mind the same faults.

`Reach` keeps, for a set of obstacles, the x at which the next of them begins, cell
by cell. A rectangle of any length is clear where that x lies beyond its far end,
so each further part costs a comparison and nothing more. For rectangles over
several rows the least of the rows counts, read off tables of 1, 2, 4 ... rows.
"""

from collections import OrderedDict
from functools import lru_cache
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from layout.ground import Ground
from layout.row_loops import bar_cells

__all__ = ["Reach", "reach_of"]

Rectangle = tuple[float, float, float, float]
Numbers = frozenset[int]
Map = NDArray[np.bool_]
Table = NDArray[np.float32]

_TINY = 1e-6
_APART = 1e5  # more than any board is long [mm]
_FEW = 160  # rows of obstacles that are quicker marked one by one
_MOST_TABLES = 24  # kept for each ground
_MOST_ROOM = 64e6  # that they take together, but for the latest [bytes]


class Reach:
    """Where rectangles are clear of obstacles on one ground.

    Parameters
    ----------
    ground : Ground
    """

    def __init__(self, ground: Ground) -> None:
        rows = ground.rows
        self._column, self._row = ground.column, ground.row
        self._columns, self._count = floor(ground.length / ground.column) + 2, rows.low.shape[1] + 2
        obstacle, across = np.nonzero(rows.low <= rows.high)
        owner, low, high = rows.owner[obstacle], rows.low[obstacle, across], rows.high[obstacle, across]
        order = np.lexsort((high, across))
        self._owner, self._across = owner[order], across[order]
        self._low, self._high = low[order], high[order]
        self._which: dict[Numbers, NDArray[np.int64]] = {}
        self._tables: OrderedDict[tuple[Numbers, float], list[Table]] = OrderedDict()

    def bar(self, found: Map, numbers: Numbers, box: Rectangle, room: float) -> None:
        """Mark the cells of a map some of whose places bring a rectangle onto an obstacle.

        Parameters
        ----------
        found : array of bool, shape (rows, columns)
            Marked true there.
        numbers : frozenset of int
            Owners of the obstacles: defects by number, -1 for wood that is not there.
        box : (x0, y0, x1, y1)
            The rectangle, from the place of the piece's corner [mm].
        room : float
            Greatest x of a place [mm].
        """
        first, last = floor(box[1] / self._row + _TINY), ceil(box[3] / self._row - _TINY)
        which = self._spans(numbers)
        if len(which) <= _FEW:
            stretches = self._low, self._high, self._across, which
            last = max(last, first)
            bar_cells(found, *stretches, box[0], box[2], room, self._column, first, last)
        else:
            found |= self._barred(found.shape, numbers, box, room, first, max(last, first))

    def spans(self, numbers: Numbers) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
        """Stretches of x (low, high) that obstacles take, and the row of each [mm]."""
        which = self._spans(numbers)
        return self._low[which], self._high[which], self._across[which]

    def _spans(self, numbers: Numbers) -> NDArray[np.int64]:
        which = self._which.get(numbers)
        if which is None:
            which = self._which[numbers] = np.flatnonzero(np.isin(self._owner, list(numbers)))
        return which

    def _barred(
        self, shape: tuple[int, ...], numbers: Numbers, box: Rectangle, room: float, first: int, last: int
    ) -> Map:
        """The same from the tables: the next obstacle begins before the rectangle's far end."""
        rows, columns = shape
        shift = floor(box[0] / self._column + _TINY)
        levels = self._table(numbers, max(box[0] - shift * self._column, 0.0))
        level = (last - first + 1).bit_length() - 1
        while len(levels) <= level:
            below, step = levels[-1], 1 << (len(levels) - 1)
            levels.append(np.minimum(below[:-step], below[step:]))
        table, second = levels[level], last + 1 - (1 << level)
        near = table[first : first + rows, shift : shift + columns]
        if second != first:
            near = np.minimum(near, table[second : second + rows, shift : shift + columns])
        ends = np.minimum(np.arange(1, columns + 1) * self._column, room) + (box[2] - _TINY)
        found: Map = near < _at_least(ends)
        return found

    def _table(self, numbers: Numbers, offset: float) -> list[Table]:
        """Where the next obstacle begins, as seen from each cell moved on by the offset; row by row [mm]."""
        key = (numbers, round(offset, 7))
        levels = self._tables.get(key)
        if levels is None:
            levels = self._tables[key] = [self._first_table(numbers, offset)]
            while len(self._tables) > 1 and (len(self._tables) > _MOST_TABLES or self.room > _MOST_ROOM):
                self._tables.popitem(last=False)
        return levels

    @property
    def room(self) -> float:
        """What the tables kept take, on a fine grid many times as much as on a coarse one [bytes]."""
        return sum(float(table.nbytes) for levels in self._tables.values() for table in levels)

    def _first_table(self, numbers: Numbers, offset: float) -> Table:
        which = self._spans(numbers)
        cells = np.ceil((self._high[which] - offset - _TINY) / self._column).astype(np.int64) - 1
        which, cells = which[cells >= 0], np.minimum(cells[cells >= 0], self._columns - 1)
        across = self._across[which]
        # A running least from the far end that begins anew in every row: the rows are kept far apart.
        apart = across * _APART
        least = np.minimum.accumulate((self._low[which] + apart)[::-1])[::-1] - apart
        # Each value holds up to its own cell from that of the one before; none after the last of a row.
        ends = across * self._columns + cells + 1
        row_ends = np.arange(1, self._count + 1) * self._columns
        at = np.searchsorted(ends, row_ends, side="right")
        values = np.insert(_at_most(least), at, np.float32(np.inf))
        sizes = np.diff(np.insert(ends, at, row_ends), prepend=0)
        return np.repeat(values, sizes).reshape(self._count, self._columns)


def _at_most(values: NDArray[np.float64]) -> NDArray[np.float32]:
    """Values in short form, none rounded up."""
    short = values.astype(np.float32)
    return np.where(short > values, np.nextafter(short, np.float32(-np.inf)), short)


def _at_least(values: NDArray[np.float64]) -> NDArray[np.float32]:
    """Values in short form, none rounded down."""
    short = values.astype(np.float32)
    return np.where(short < values, np.nextafter(short, np.float32(np.inf)), short)


@lru_cache(maxsize=4)
def reach_of(ground: Ground) -> Reach:
    """The tables of a ground, kept while it is one of the last few asked about."""
    return Reach(ground)
