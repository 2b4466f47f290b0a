"""Which sets of parts one board can give at once: every one of them, exactly on its grid.

`layout.solve.priced` prices a board as if there were any number of copies, which
leaves holes: sets that no price rules out, though no layout has them. Here copies are
counted. For every set of parts, place along, and row, the least height of a slab that
holds it is worked out step by step; then, set by set, the least of the board's width.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter1d

from layout.solve.fields import Field
from layout.solve.priced import Slabs

__all__ = [
    "Counts",
    "Move",
    "Sets",
    "Tables",
    "ends_of_stacks",
    "heights_of",
    "next_end",
    "sets_of",
    "without_one",
]

Counts = tuple[int, ...]
_FEW = 0.4  # share of a stretch of rows, below which they are looked at one by one
Heights = NDArray[Any]  # 8 bits where they will do, else 16


class Sets:
    """Sets of parts, as the numbers of a mixed radix: one digit, the copies, for each part.

    Parameters
    ----------
    most : sequence of int
        Copies of each part that are of interest.
    """

    def __init__(self, most: Sequence[int]) -> None:
        self.most = tuple(most)
        self.shape = tuple(number + 1 for number in most)
        self.size = prod(self.shape)
        self.strides = [prod(self.shape[t + 1 :]) for t in range(len(most))]
        self.digits = np.indices(self.shape).reshape(len(most), -1)

    def number(self, counts: Sequence[int]) -> int:
        """The number of a set."""
        return sum(count * stride for count, stride in zip(counts, self.strides, strict=True))

    def holds(self, counts: Sequence[int]) -> NDArray[np.bool_]:
        """Which sets contain a given one."""
        held: NDArray[np.bool_] = np.ones(self.size, dtype=np.bool_)
        for t, count in enumerate(counts):
            held &= self.digits[t] >= count
        return held

    def narrow(self, field: Field) -> list[Counts]:
        """Sets that are narrow enough to lie one behind the other across a board, smallest first."""
        found = [
            counts
            for counts in product(*(range(size) for size in self.shape))
            if 0 < sum(n * w for n, w in zip(counts, field.widths, strict=True)) <= field.across
        ]
        return sorted(found, key=sum)


def sets_of(slabs: Slabs, most: Sequence[int]) -> NDArray[np.bool_]:
    """For every set of parts up to so many copies each, whether the board can give it.

    Parameters
    ----------
    slabs : Slabs
        most : sequence of int
        Copies of each part.

    Returns
    -------
    array of bool, shape (most[0] + 1, most[1] + 1, ...)
    """
    sets = Sets([number if t in slabs.parts else 0 for t, number in enumerate(most)])
    found = heights_of(slabs, sets).ends() <= slabs.field.across
    full = np.zeros([number + 1 for number in most], dtype=np.bool_)
    full[tuple(slice(0, size) for size in sets.shape)] = found.reshape(sets.shape)
    return full


@dataclass(frozen=True)
class Move:
    """A section at the beginning of what is left of a slab.

    Parameters
    ----------
    counts : tuple of int
        What lies in it: one piece, or a stack.
    length : int
        Cells it takes along.
    bar : array
        0 for the sets that hold that, never for the others.
    need : array, shape (places along or steps of them, rows)
        Least height of a slab from a row on.
    step : int
        Cells left along for one row of `need`.
    which : int
        Number of the section's length, for stacks.
    """

    counts: Counts
    length: int
    bar: Heights
    need: Heights
    step: int = 1
    which: int = -1


@dataclass(frozen=True)
class Tables:
    """What was worked out of a board.

    Parameters
    ----------
    slabs : Slabs
    sets : Sets
    moves : tuple of Move
    heights : array, shape (cells left along + 1, rows, sets)
        Least height of the last part of a slab that holds a set, by its first row.
    """

    slabs: Slabs
    sets: Sets
    moves: tuple[Move, ...]
    heights: Heights

    def slab_ends(self) -> NDArray[np.int64]:
        """Where a slab with a set ends at best if it begins at a row or after, shape (rows + 2, sets)."""
        heights = self.heights[-1]
        rows = heights.shape[0]
        far = rows + 1
        ends = np.where(heights < np.iinfo(heights.dtype).max, heights + np.arange(rows)[:, None], far)
        first = np.full((rows + 2, self.sets.size), far, dtype=np.int64)
        first[:rows] = np.minimum.accumulate(ends[::-1], axis=0)[::-1]
        return first

    def ends(self, first: NDArray[np.int64] | None = None) -> NDArray[np.int64]:
        """For every set, the rows its slabs take from the first row on; too many if it does not fit."""
        first = self.slab_ends() if first is None else first
        sets, far = self.sets, len(first) - 1
        alone = np.flatnonzero(first[0] < far)
        alone = alone[alone > 0]
        found = np.full(sets.size, far, dtype=np.int64)
        found[0] = 0
        for number in range(1, sets.size):
            inside = alone[(sets.digits[:, alone] <= sets.digits[:, number, None]).all(axis=0)]
            if len(inside):
                found[number] = first[found[number - inside], inside].min()
        return found


def heights_of(slabs: Slabs, sets: Sets) -> Tables:
    """Least heights of slabs that hold a set, by cells left along and first row."""
    field, kind = slabs.field, _kind(slabs)
    table = np.full((field.along + 1, field.across, sets.size), np.iinfo(kind).max, dtype=kind)
    table[:, :, 0] = 0
    moves = (*_singles(slabs, sets), *_stacks(slabs, sets))
    room = np.empty(table.shape[1:], dtype=kind)
    rows = [_rows_of_use(move) for move in moves]
    for left in range(1, field.along + 1):
        now = table[left]
        np.copyto(now, table[left - 1])
        for move, used in zip(moves, rows, strict=True):
            if left < move.length or (there := used[left // move.step]) is None:
                continue
            off, need = sets.number(move.counts), move.need[left // move.step, there, None]
            before = table[left - move.length, there, :-off]
            if isinstance(there, slice):
                more = room[there, off:]
                np.maximum(before, need, out=more)
                np.maximum(more, move.bar[off:], out=more)
                np.minimum(now[there, off:], more, out=now[there, off:])
            else:
                np.maximum(before, need, out=before)
                np.maximum(before, move.bar[off:], out=before)
                now[there, off:] = np.minimum(now[there, off:], before)
    return Tables(slabs, sets, moves, table)


def _rows_of_use(move: Move) -> list[slice | NDArray[np.int64] | None]:
    """By place along, the rows a section may begin in: a stretch of them, or one by one if few."""
    found: list[slice | NDArray[np.int64] | None] = []
    for line in move.need < np.iinfo(move.need.dtype).max:
        rows = np.flatnonzero(line)
        if not len(rows):
            found.append(None)
            continue
        stretch = slice(int(rows[0]), int(rows[-1]) + 1)
        found.append(rows if len(rows) < _FEW * (stretch.stop - stretch.start) else stretch)
    return found


def _singles(slabs: Slabs, sets: Sets) -> Iterator[Move]:
    """Sections of one piece."""
    across, kind = slabs.field.across, _kind(slabs)
    for t in slabs.parts:
        if sets.most[t]:
            one = tuple(int(t == other) for other in range(len(sets.most)))
            bar = np.where(sets.holds(one), 0, np.iinfo(kind).max).astype(kind)
            yield Move(one, slabs.field.lengths[t], bar, _kept(slabs.needs[t], across, kind)[:, :-1])


def _stacks(slabs: Slabs, sets: Sets) -> Iterator[Move]:
    """Sections with stacks of two or more pieces."""
    across, kind = slabs.field.across, _kind(slabs)
    never = np.iinfo(kind).max
    rows = np.arange(across)
    known: dict[Counts, tuple[int, Heights]] = {}
    wanted = sets.narrow(slabs.field)
    for which, (length, _) in enumerate(slabs.sections):
        for counts, end in ends_of_stacks(slabs, which, wanted).items():
            if sum(counts) < 2:
                continue
            high = end[:, :across]
            need: Heights = np.where(high <= across, high - rows, never).astype(kind)
            # A longer section is of no use where a shorter one in it is no higher.
            before = (
                _within(*known[counts], length, slabs.step) if counts in known else np.full_like(need, never)
            )
            better: NDArray[np.bool_] = need < before
            known[counts] = length, np.minimum(before, need)
            if better.any():
                bar = np.where(sets.holds(counts), 0, never).astype(kind)
                need = np.where(better, need, kind(never))
                yield Move(counts, length, bar, need, slabs.step, which)


def _within(short: int, need: Heights, length: int, step: int) -> Heights:
    """Least heights of the shorter sections that lie within longer ones, by step of place."""
    places = max((length - short - step + 1) // step, 0) + 1
    found: Heights = minimum_filter1d(
        need, places, axis=0, mode="constant", cval=np.iinfo(need.dtype).max, origin=(places - 1) // 2
    )
    return found


def ends_of_stacks(slabs: Slabs, which: int, wanted: Sequence[Counts]) -> dict[Counts, NDArray[np.int64]]:
    """Where stacks in sections of one length end at best, by step of place and first row."""
    widths, across = slabs.field.widths, slabs.field.across
    after = {t: next_end(mask, widths[t], across) for t, mask in slabs.stacked[which]}
    known: dict[Counts, NDArray[np.int64]] = {}
    for counts in wanted:
        last = [t for t, count in enumerate(counts) if count]
        if not all(t in after for t in last):
            continue
        if sum(counts) == 1:
            known[counts] = after[last[0]]
            continue
        ends = [np.take_along_axis(after[t], known[without_one(counts, t)], axis=1) for t in last]
        known[counts] = np.minimum.reduce(ends)
    return known


def _kept(need: NDArray[np.int16], across: int, kind: type[np.uint8] | type[np.uint16]) -> Heights:
    """Heights, with those that no board has told by the largest number there is."""
    heights = need.astype(kind)
    heights[need > across] = np.iinfo(kind).max
    return heights


def _kind(slabs: Slabs) -> type[np.uint8] | type[np.uint16]:
    """Whole numbers large enough for the rows of a board, and one more for never."""
    return np.uint8 if slabs.field.across < 255 else np.uint16


def without_one(counts: Counts, t: int) -> Counts:
    """A set less one copy of a part."""
    return (*counts[:t], counts[t] - 1, *counts[t + 1 :])


def next_end(mask: NDArray[np.bool_], width: int, across: int) -> NDArray[np.int64]:
    """Where a piece ends that lies as near as it may at or after a row; across + 1 if it cannot."""
    own = np.where(mask, np.arange(mask.shape[1]) + width, across + 1)
    ends = np.minimum.accumulate(own[:, ::-1], axis=1)[:, ::-1]
    wide = np.full((len(mask), across + 2), across + 1, dtype=np.int64)
    wide[:, : mask.shape[1]] = np.minimum(ends, across + 1)
    return wide
