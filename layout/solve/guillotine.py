"""Exact values of one plate that is cut straight through: dynamic programmes.

Free of the trade: whole numbers, one plate, items with values. They price what a
board can give at most, and they are what the search is measured against.

References
----------
.. [1] Herz, J. C. (1972), recursive computing with normal patterns; Beasley, J. E.
   (1985), JORSA 36, 297-306: guillotine cutting by dynamic programming with cut
   positions restricted to sums of item sizes (from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Item", "Plate", "best_with_cuts", "best_with_defects", "sums_up_to"]

Area = tuple[int, int, int, int]


@dataclass(frozen=True)
class Item:
    """Something worth cutting out: length, width, value, and how many there may be (None: any number)."""

    length: int
    width: int
    value: int
    copies: int | None = None


@dataclass(frozen=True)
class Plate:
    """A plate and its items; defects as (x, y, length, width) may lie in no item."""

    length: int
    width: int
    items: tuple[Item, ...]
    defects: tuple[Area, ...] = ()
    may_turn: bool = False

    def lying(self) -> list[tuple[int, int, int]]:
        """(length, width, value) of every item either way round that fits the plate, each once."""
        found = set()
        for item in self.items:
            for length, width in {(item.length, item.width), (item.width, item.length)}:
                turned = (length, width) != (item.length, item.width)
                if length <= self.length and width <= self.width and (self.may_turn or not turned):
                    found.add((length, width, item.value))
        return sorted(found)


def _sums(sizes: Sequence[int], most: int) -> NDArray[np.int64]:
    """All sums of sizes up to a limit, any number of each: the only places where a cut is of use."""
    # Doubled often enough, each size may be taken as often as it fits.
    times = [size << step for size in set(sizes) for step in range(max(most // size, 1).bit_length())]
    return np.array(sums_up_to(times, most), dtype=np.int64)


def sums_up_to(sizes: Sequence[int], most: int) -> list[int]:
    """All sums of some of the sizes, each taken once at most, up to a limit; 0 included."""
    reached, mask = 1, (1 << (most + 1)) - 1
    for size in sizes:
        reached |= (reached << size) & mask
    return [value for value in range(most + 1) if reached >> value & 1]


def best_with_cuts(plate: Plate) -> int:
    """Most value of a plate without defects, any number of copies, straight cuts, any number of stages."""
    items = plate.lying()
    if not items:
        return 0
    xs = _sums([length for length, _, _ in items], plate.length)
    ys = _sums([width for _, width, _ in items], plate.width)
    best = np.zeros((len(xs), len(ys)), dtype=np.int64)
    for length, width, value in items:
        corner = best[np.searchsorted(xs, length) :, np.searchsorted(ys, width) :]
        np.maximum(corner, value, out=corner)
    cuts_x, cuts_y = _cuts(xs), _cuts(ys)
    for i, (first_x, rest_x) in enumerate(cuts_x):
        row = best[i]
        if i:
            np.maximum(row, best[i - 1], out=row)
        if len(first_x):
            np.maximum(row, (best[first_x] + best[rest_x]).max(axis=0), out=row)
        before = 0
        for j, (first_y, rest_y) in enumerate(cuts_y):
            value = max(int(row[j]), before)
            if len(first_y):
                value = max(value, int((row[first_y] + row[rest_y]).max()))
            row[j] = before = value
    return int(best[-1, -1])


def _cuts(sums: NDArray[np.int64]) -> list[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """For every size, the cuts worth trying: number of the smaller size, and of what is left."""
    found = []
    for size in sums.tolist():
        first = np.arange(1, int(np.searchsorted(sums, size // 2, side="right")))
        found.append((first, np.searchsorted(sums, size - sums[first], side="right") - 1))
    return found


def best_with_defects(plate: Plate) -> int:
    """Most value of a plate with defects, any number of copies, straight cuts at any whole number.

    Every sub-rectangle is solved, smallest first: all places of one size at once.
    """
    bad = np.zeros((plate.length + 1, plate.width + 1), dtype=np.int64)
    for x, y, length, width in plate.defects:
        bad[max(x, 0) + 1 : x + length + 1, max(y, 0) + 1 : y + width + 1] = 1
    total = bad.cumsum(0).cumsum(1)
    worth: dict[tuple[int, int], int] = {}
    for length, width, value in plate.lying():
        worth[length, width] = max(value, worth.get((length, width), 0))
    best: dict[tuple[int, int], NDArray[np.int64]] = {}
    for a in range(1, plate.length + 1):
        for b in range(1, plate.width + 1):
            best[a, b] = _of_size(plate, a, b, worth.get((a, b), 0), best, total)
    return int(best[plate.length, plate.width][0, 0])


def _of_size(
    plate: Plate,
    a: int,
    b: int,
    worth: int,
    best: dict[tuple[int, int], NDArray[np.int64]],
    total: NDArray[np.int64],
) -> NDArray[np.int64]:
    """Most value of every sub-rectangle of a size, by the place of its corner."""
    rows, columns = plate.length - a + 1, plate.width - b + 1
    value = np.zeros((rows, columns), dtype=np.int64)
    if worth:
        hit = total[a:, b:] - total[:rows, b:] - total[a:, :columns] + total[:rows, :columns]
        value[hit == 0] = worth
    for c in range(1, a):
        np.maximum(value, best[c, b][:rows] + best[a - c, b][c : c + rows], out=value)
    for c in range(1, b):
        np.maximum(value, best[a, c][:, :columns] + best[a, b - c][:, c : c + columns], out=value)
    return value
