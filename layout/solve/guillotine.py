"""Exact values of one plate: dynamic programmes for straight cuts, a constraint programme without them.

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
from ortools.sat.python import cp_model

__all__ = ["Item", "Plate", "best_with_cuts", "best_with_defects", "best_without_cuts"]

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
    """All sums of sizes up to a limit, 0 included: the only places where a cut is of use."""
    reached = 1
    mask = (1 << (most + 1)) - 1
    for size in set(sizes):
        step = size
        while step <= most:
            reached |= (reached << step) & mask
            step *= 2
    return np.array([value for value in range(most + 1) if reached >> value & 1], dtype=np.int64)


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


def best_without_cuts(plate: Plate, seconds: float, workers: int = 1) -> tuple[int, int, bool]:
    """Most value with copies limited and no rule of cutting: (value reached, bound, proved).

    Parameters
    ----------
    plate : Plate
        Every item with its number of copies; not turned.
    seconds : float
        Time limit [s].
    workers : int
    """
    model = cp_model.CpModel()
    along, across, chosen = [], [], []
    for item in plate.items:
        before = None
        for _ in range(item.copies or 1):
            if item.length > plate.length or item.width > plate.width:
                continue
            here = model.new_bool_var("")
            x = model.new_int_var(0, plate.length - item.length, "")
            y = model.new_int_var(0, plate.width - item.width, "")
            along.append(model.new_optional_fixed_size_interval_var(x, item.length, here, ""))
            across.append(model.new_optional_fixed_size_interval_var(y, item.width, here, ""))
            if before is not None:
                model.add_implication(here, before)
            before = here
            chosen.append((item, here))
    model.add_no_overlap_2d(along, across)
    model.add(sum(item.length * item.width * here for item, here in chosen) <= plate.length * plate.width)
    model.maximize(sum(item.value * here for item, here in chosen))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    solver.parameters.use_area_energetic_reasoning_in_no_overlap_2d = True
    status = solver.solve(model)
    return round(solver.objective_value), round(solver.best_objective_bound), status == cp_model.OPTIMAL
