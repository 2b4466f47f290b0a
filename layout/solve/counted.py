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

from layout.compiled import compiled
from layout.solve.fields import Field
from layout.solve.priced import Slabs
from layout.solve.stack_ends import StackSets, next_end

__all__ = [
    "Counts",
    "Move",
    "Sets",
    "Tables",
    "ends_of_stacks",
    "heights_of",
    "sets_of",
]

Counts = tuple[int, ...]
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
        return _rows_taken(np.ascontiguousarray(first), np.ascontiguousarray(self.sets.digits.T))


@compiled("int64[::1](int64[:, ::1], int64[:, ::1])")
def _rows_taken(first: NDArray[np.int64], digits: NDArray[np.int64]) -> NDArray[np.int64]:
    """For every set, of so many copies of each part, the rows its slabs take."""
    many, far = len(digits), first.shape[0] - 1
    found = np.full(many, far)
    found[0] = 0
    alone = np.flatnonzero(first[0, 1:] < far) + 1
    for number in range(1, many):
        for own in alone:
            if own > number:
                break
            inside = True
            for t in range(digits.shape[1]):
                inside &= digits[own, t] <= digits[number, t]
            if inside:
                found[number] = min(found[number], first[found[number - own], own])
    return found


def heights_of(slabs: Slabs, sets: Sets, rows: int | None = None) -> Tables:
    """Least heights of slabs that hold a set, by cells left along and first row; of so many rows, if said."""
    field, kind = slabs.field, _kind(slabs)
    many = field.across if rows is None else rows
    table = np.full((field.along + 1, many, sets.size), np.iinfo(kind).max, dtype=kind)
    table[:, :, 0] = 0
    moves = (*_singles(slabs, sets, many), *_stacks(slabs, sets, many))
    numbers = [sets.number(move.counts) for move in moves]
    never = np.iinfo(kind).max
    used = [np.any(move.need < never, axis=1).tolist() for move in moves]
    for left in range(1, field.along + 1):
        now = table[left]
        np.copyto(now, table[left - 1])
        for move, number, there in zip(moves, numbers, used, strict=True):
            place = left // move.step
            if left >= move.length and there[place]:
                _lowered(now, table[left - move.length], move.need[place], move.bar, number)
    return Tables(slabs, sets, moves, table)


@compiled(
    [
        "void(uint8[:, ::1], uint8[:, ::1], uint8[::1], uint8[::1], int64)",
        "void(uint16[:, ::1], uint16[:, ::1], uint16[::1], uint16[::1], int64)",
    ]
)
def _lowered(now: Heights, after: Heights, need: Heights, bar: Heights, number: int) -> None:
    """Lower heights, by row and set, to those of a section first and what is behind it after that."""
    never, within = np.iinfo(now.dtype).max, bar[number:]
    for row in range(len(need)):
        if need[row] < never:
            own, rest, least = now[row, number:], after[row], need[row]
            for one in range(len(own)):
                own[one] = min(own[one], max(max(rest[one], least), within[one]))


def _singles(slabs: Slabs, sets: Sets, rows: int) -> Iterator[Move]:
    """Sections of one piece, in slabs from so many rows on."""
    across, kind = slabs.field.across, _kind(slabs)
    for t in slabs.parts:
        if sets.most[t]:
            one = tuple(int(t == other) for other in range(len(sets.most)))
            bar = np.where(sets.holds(one), 0, np.iinfo(kind).max).astype(kind)
            yield Move(one, slabs.field.lengths[t], bar, _kept(slabs.needs[t][:, :rows], across, kind))


def _stacks(slabs: Slabs, sets: Sets, rows: int) -> Iterator[Move]:
    """Sections with stacks of two or more pieces, in slabs from so many rows on."""
    across, kind = slabs.field.across, _kind(slabs)
    never, first = np.iinfo(kind).max, np.arange(rows)
    known: dict[Counts, tuple[int, Heights]] = {}
    wanted = StackSets(sets.narrow(slabs.field), len(sets.most))
    for which, (length, _) in enumerate(slabs.sections):
        for counts, end in ends_of_stacks(slabs, which, wanted, rows).items():
            if sum(counts) < 2:
                continue
            need: Heights = np.where(end <= across, end - first, never).astype(kind)
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


def ends_of_stacks(slabs: Slabs, which: int, wanted: StackSets, rows: int) -> dict[Counts, NDArray[np.int16]]:
    """Where stacks in sections of one length end at best, by step of place and first row, so many of them."""
    widths, across = slabs.field.widths, slabs.field.across
    after = {t: next_end(mask, widths[t], across) for t, mask in slabs.stacked[which]}
    if not after:
        return {}
    ends, _ = wanted.ends(after, np.arange(rows), across)
    return {
        counts: end
        for counts, end in zip(wanted.counts, ends, strict=True)
        if any(counts) and all(t in after for t, n in enumerate(counts) if n)
    }


def _kept(need: NDArray[np.int16], across: int, kind: type[np.uint8] | type[np.uint16]) -> Heights:
    """Heights, with those that no board has told by the largest number there is."""
    heights = need.astype(kind)
    heights[need > across] = np.iinfo(kind).max
    return heights


def _kind(slabs: Slabs) -> type[np.uint8] | type[np.uint16]:
    """Whole numbers large enough for the rows of a board, and one more for never."""
    return np.uint8 if slabs.field.across < 255 else np.uint16
