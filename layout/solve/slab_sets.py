"""Which sets of parts one slab of a board sawn in two stages gives: every one of them, copies counted.

With two stages pieces of a slab lie one behind the other, so a slab holds no more of them than
its length: some thousands of sets, whatever number of sets a board may give. For each of them
the row is worked out in which a slab ends at best that begins in a given one; rows do not
know of each other, so that is done for a few rows at a time. From then on a board is worth
what its best slabs are, in a moment, at any prices of the parts.

On a hopeful grid (`layout.solve.fields`) no slab of any layout is missing, so a worth is a
bound; it lies below that of `layout.solve.priced`, which does not count copies. On a careful
grid what is found can be sawn out as it lies.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout.solve.priced import Piece, Slabs

__all__ = ["SlabSets", "Stretch", "slab_sets"]

Stretch = tuple[int, int, int]  # first row of a slab, the row after it, and the number of its set
Whole = NDArray[np.int64]

_MOST_BYTES = 60_000_000  # of the table that heights are worked out in
_MOST_SETS = 12_000


class SlabSets:
    """Sets that slabs of a board give.

    Parameters
    ----------
    slabs : Slabs
        Of two stages.
    counts : array of int, shape (sets, parts)
        The sets, the empty one first.
    rows : sequence of (array of int, array of int)
        For each first row: sets, and the rows after the slabs that hold them, of those slabs that no
        other is better than, with more in it or a later beginning.
    """

    def __init__(self, slabs: Slabs, counts: Whole, rows: Sequence[tuple[Whole, Whole]]) -> None:
        self.slabs, self.counts, self.rows = slabs, counts, rows

    def best(self, prices: Sequence[float] | NDArray[np.float64]) -> tuple[float, list[Stretch]]:
        """Most worth of the board at prices of the parts (not negative), and slabs that have it."""
        worths = self.counts @ np.array(prices)
        best, chosen = self._from_below(worths)
        found, row = [], 0
        while row < len(chosen):
            slab = chosen[row]
            if slab is None:
                row += 1
                continue
            found.append((row, slab[1], slab[0]))
            row = slab[1]
        return float(best[0]), found

    def given(self, prices: NDArray[np.float64]) -> tuple[float, Whole]:
        """Most worth of the board at prices of the parts (not negative), and copies that have it."""
        worth, slabs = self.best(prices)
        return worth, self.counts[[number for *_, number in slabs]].sum(axis=0)

    def _from_below(self, worths: NDArray[Any]) -> tuple[NDArray[Any], list[tuple[int, int] | None]]:
        """By row, what is worth most from there on, and the set that begins there, with the row after it."""
        across = self.slabs.field.across
        best = np.zeros(across + 1, dtype=worths.dtype)
        chosen: list[tuple[int, int] | None] = [None] * across
        for row in range(across - 1, -1, -1):
            best[row] = best[row + 1]
            sets, ends = self.rows[row]
            if len(sets):
                sums = worths[sets] + best[ends]
                top = int(sums.argmax())
                if sums[top] > best[row]:
                    best[row], chosen[row] = sums[top], (int(sets[top]), int(ends[top]))
        return best, chosen

    def near(self, prices: Sequence[float] | NDArray[np.float64], less: float, most: int) -> list[Stretch]:
        """Slabs of boards worth the most there is, or less by no more than that; the best so many."""
        worths = self.counts @ np.array(prices)
        below, _ = self._from_below(worths)
        above = np.zeros_like(below)
        found: list[tuple[float, Stretch]] = []
        for row, (sets, ends) in enumerate(self.rows):
            if row:
                above[row] = max(above[row], above[row - 1])
            sums = above[row] + worths[sets]
            np.maximum.at(above, ends, sums)
            short = below[0] - sums - below[ends]
            found += [
                (float(short[place]), (row, int(ends[place]), int(sets[place])))
                for place in np.flatnonzero(short <= less)
            ]
        return [slab for _, slab in sorted(found)[:most]]

    def pieces(self, slab: Stretch) -> list[Piece]:
        """Where the pieces of a slab lie."""
        row, end, number = slab
        field, needs = self.slabs.field, self.slabs.needs
        wanted = tuple(self.counts[number].tolist())
        fits = {
            t: [cell for cell in range(field.along) if needs[t][field.along - cell, row] <= end - row]
            for t, n in enumerate(wanted)
            if n
        }
        # Sets one piece larger each time, by the cell where they end soonest, and how they came about.
        ends: dict[tuple[int, ...], tuple[int, tuple[Piece, ...]]] = {(0,) * len(wanted): (0, ())}
        for _ in range(sum(wanted)):
            longer: dict[tuple[int, ...], tuple[int, tuple[Piece, ...]]] = {}
            for counts, (along, before) in ends.items():
                for t, cells in fits.items():
                    place = int(np.searchsorted(cells, along))
                    if counts[t] == wanted[t] or place == len(cells):
                        continue
                    begin = cells[place]
                    more = (*counts[:t], counts[t] + 1, *counts[t + 1 :])
                    if begin + field.lengths[t] < longer.get(more, (field.along + 1, ()))[0]:
                        y = row + int(needs[t][field.along - begin, row]) - field.widths[t]
                        longer[more] = begin + field.lengths[t], (*before, (t, begin, y))
            ends = longer
        return list(ends[wanted][1])


def slab_sets(slabs: Slabs, most: Sequence[int], size: float = np.inf) -> SlabSets | None:
    """The sets of a board, up to so many copies of each part; None if there are too many.

    Parameters
    ----------
    slabs : Slabs
    most : sequence of int
    size : float, optional
        Of the tables that are worked out for it, at most [bytes].

    Raises
    ------
    ValueError
        Slabs are of more than two stages.
    """
    if slabs.stages != 2:
        raise ValueError(f"slabs of {slabs.stages} stages hold stacks; two stages are asked for")
    counts = _counts(slabs, most)
    if counts is None:
        return None
    field = slabs.field
    kind: type[np.uint8] | type[np.uint16] = np.uint8 if field.across < 255 else np.uint16
    if field.along * field.across * len(counts) * np.dtype(kind).itemsize > size:
        return None
    ends = np.full((len(counts), field.across), field.across + 1, dtype=np.int32)
    deep = max((field.lengths[t] for t in slabs.parts), default=0) + 1
    few = max(_MOST_BYTES // (deep * len(counts) * np.dtype(kind).itemsize), 1)
    for first in range(0, field.across, few):
        rows = slice(first, min(first + few, field.across))
        heights = _heights(slabs, counts, rows, deep, kind).astype(np.int32)
        starts = np.arange(rows.start, rows.stop, dtype=np.int32)
        ends[:, rows] = np.where(heights <= field.across, heights + starts, field.across + 1)
    return SlabSets(slabs, counts, _useful(counts, ends))


def _useful(counts: Whole, ends: NDArray[np.int32]) -> list[tuple[Whole, Whole]]:
    """By first row, the sets that no other slab is better than, and where they end."""
    across = ends.shape[1]
    later = np.full_like(ends, across + 1)
    later[:, :-1] = ends[:, 1:]
    later = np.minimum.accumulate(later[:, ::-1], axis=1)[:, ::-1]
    useful: NDArray[np.bool_] = (ends <= across) & (ends < later)
    useful[0] = False
    numbers = _Numbers(counts)
    for t in range(counts.shape[1]):
        more, less = numbers.one_less(t)
        useful[less] &= ends[more] > ends[less]
    found = []
    for row in range(across):
        there = np.flatnonzero(useful[:, row])
        found.append((there, ends[there, row].astype(np.int64)))
    return found


def _counts(slabs: Slabs, most: Sequence[int]) -> Whole | None:
    """Sets that are not longer than a slab, shortest first; None if there are too many."""
    lengths = slabs.field.lengths
    found = np.zeros((1, len(most)), dtype=np.int64)
    long = np.zeros(1, dtype=np.int64)
    for t in slabs.parts:
        layers, sums = [found], [long]
        for copies in range(1, most[t] + 1):
            fits = long + copies * lengths[t] <= slabs.field.along
            layer = found[fits].copy()
            layer[:, t] = copies
            layers.append(layer)
            sums.append(long[fits] + copies * lengths[t])
        found, long = np.concatenate(layers), np.concatenate(sums)
        if len(found) > _MOST_SETS:
            return None
    return found[np.argsort(long, kind="stable")]


class _Numbers:
    """Numbers of sets, by what they hold."""

    def __init__(self, counts: Whole) -> None:
        sizes = counts.max(axis=0) + 1
        self.counts = counts
        self.strides = np.cumprod([1, *sizes[:0:-1]])[::-1].astype(np.int64)
        self._codes = counts @ self.strides
        self._order = np.argsort(self._codes)

    def one_less(self, t: int) -> tuple[Whole, Whole]:
        """Sets with a part, and for each the set with one copy less."""
        more = np.flatnonzero(self.counts[:, t])
        places = np.searchsorted(self._codes[self._order], self._codes[more] - self.strides[t])
        return more, self._order[places]


def _heights(slabs: Slabs, counts: Whole, rows: slice, deep: int, kind: type[Any]) -> NDArray[Any]:
    """Least heights of slabs that hold a set, by first row; the largest number there is for never."""
    field, never = slabs.field, np.iinfo(kind).max
    numbers, long = _Numbers(counts), counts @ np.array(field.lengths)
    moves = []
    for t in slabs.parts:
        need = slabs.needs[t][:, rows]
        more, less = numbers.one_less(t)
        told: NDArray[Any] = need.astype(kind)
        told[need > field.across] = never
        anywhere: NDArray[np.bool_] = np.less(told, never).any(axis=1)
        moves.append((field.lengths[t], told, anywhere, more, less, long[more]))
    # By cells left along; only so many are kept as the longest part has.
    table = np.full((deep, len(counts), rows.stop - rows.start), never, dtype=kind)
    table[0, 0] = 0
    for left in range(1, field.along + 1):
        now = table[left % deep]
        np.copyto(now, table[(left - 1) % deep])
        for length, need, there, more, less, long_ in moves:
            if left < length or not there[left]:
                continue
            count = int(np.searchsorted(long_, left, side="right"))
            heights: NDArray[Any] = np.maximum(table[(left - length) % deep][less[:count]], need[left])
            now[more[:count]] = np.minimum(now[more[:count]], heights)
    found: NDArray[Any] = table[field.along % deep]
    return found
