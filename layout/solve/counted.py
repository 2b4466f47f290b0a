"""Which sets of parts one board can give at once: every one of them, exactly on its grid.

`layout.solve.priced` prices a board as if there were any number of copies, which
leaves holes: sets that no price rules out, though no layout has them. Here copies are
counted. For every set of parts, place along, and row, the least height of a slab that
holds it is worked out step by step; then, set by set, the least of the board's width.
"""

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout.solve.priced import Slabs

__all__ = ["Sets", "sets_of"]

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
    heights = _heights(slabs, sets)
    found = _ends(heights, sets) <= slabs.field.across
    full = np.zeros([number + 1 for number in most], dtype=np.bool_)
    full[tuple(slice(0, size) for size in sets.shape)] = found.reshape(sets.shape)
    return full


def _heights(slabs: Slabs, sets: Sets) -> Heights:
    """Least height of a slab that holds a set, by first row."""
    field, kind = slabs.field, _kind(slabs)
    never = np.iinfo(kind).max
    table = np.full((field.along + 1, field.across, sets.size), never, dtype=kind)
    table[:, :, 0] = 0
    room = np.empty(table.shape[1:], dtype=kind)
    singles = [t for t in slabs.parts if sets.most[t]]
    needs = {t: _kept(slabs.needs[t], field.across, kind) for t in singles}
    ones = {t: tuple(int(t == other) for other in range(len(sets.most))) for t in singles}
    bars = {t: np.where(sets.holds(ones[t]), 0, never).astype(kind) for t in singles}
    stacks = list(_stacks(slabs, sets))
    for left in range(1, field.along + 1):
        now = table[left]
        np.copyto(now, table[left - 1])
        moves = [(sets.strides[t], field.lengths[t], bars[t], needs[t][left, :-1]) for t in singles]
        moves += [(off, length, bar, need[left // slabs.step]) for off, length, bar, need in stacks]
        for off, length, bar, need in moves:
            if left < length or need.min() == never:
                continue
            more = room[:, off:]
            np.maximum(table[left - length, :, :-off], need[:, None], out=more)
            np.maximum(more, bar[off:], out=more)
            np.minimum(now[:, off:], more, out=now[:, off:])
    last: Heights = table[-1]
    return last


def _stacks(slabs: Slabs, sets: Sets) -> Iterator[tuple[int, int, Heights, Heights]]:
    """Stacks of two or more pieces: number of their set, length, what bars other sets, least heights."""
    across, kind = slabs.field.across, _kind(slabs)
    never = np.iinfo(kind).max
    rows = np.arange(across)
    before: dict[Counts, Heights] = {}
    wanted = list(_narrow(slabs, sets))
    for which, (length, _) in enumerate(slabs.sections):
        for counts, end in _ends_of_stacks(slabs, which, wanted).items():
            if sum(counts) < 2:
                continue
            high = end[:, :across]
            need: Heights = np.where(high <= across, high - rows, never).astype(kind)
            # A longer section that is no better anywhere is of no use.
            known = before.get(counts, np.full_like(need, never))
            better: NDArray[np.bool_] = np.any(need < known, axis=1, keepdims=True)
            before[counts] = np.minimum(known, need)
            if better.any():
                bar = np.where(sets.holds(counts), 0, never).astype(kind)
                yield sets.number(counts), length, bar, np.where(better, need, kind(never))


def _ends_of_stacks(slabs: Slabs, which: int, wanted: Sequence[Counts]) -> dict[Counts, NDArray[np.int64]]:
    """Where stacks in sections of one length end at best, by step of place and first row."""
    widths, across = slabs.field.widths, slabs.field.across
    after = {t: _next_end(mask, widths[t], across) for t, mask in slabs.stacked[which]}
    known: dict[Counts, NDArray[np.int64]] = {}
    for counts in wanted:
        last = [t for t, count in enumerate(counts) if count]
        if not all(t in after for t in last):
            continue
        if sum(counts) == 1:
            known[counts] = after[last[0]]
            continue
        ends = [np.take_along_axis(after[t], known[_less(counts, t)], axis=1) for t in last]
        known[counts] = np.minimum.reduce(ends)
    return known


def _kept(need: NDArray[np.int16], across: int, kind: type[np.uint8] | type[np.uint16]) -> Heights:
    """Heights, with those that no board has told by the largest number there is."""
    return np.where(need <= across, need, np.iinfo(kind).max).astype(kind)


def _kind(slabs: Slabs) -> type[np.uint8] | type[np.uint16]:
    """Whole numbers large enough for the rows of a board, and one more for never."""
    return np.uint8 if slabs.field.across < 255 else np.uint16


def _less(counts: Counts, t: int) -> Counts:
    return (*counts[:t], counts[t] - 1, *counts[t + 1 :])


def _narrow(slabs: Slabs, sets: Sets) -> Iterator[Counts]:
    """Sets that are narrow enough to lie one behind the other across the board, smallest first."""
    found = [
        counts
        for counts in product(*(range(size) for size in sets.shape))
        if 0 < sum(n * w for n, w in zip(counts, slabs.field.widths, strict=True)) <= slabs.field.across
    ]
    yield from sorted(found, key=sum)


def _next_end(mask: NDArray[np.bool_], width: int, across: int) -> NDArray[np.int64]:
    """Where a piece ends that lies as near as it may at or after a row; across + 1 if it cannot."""
    own = np.where(mask, np.arange(mask.shape[1]) + width, across + 1)
    ends = np.minimum.accumulate(own[:, ::-1], axis=1)[:, ::-1]
    wide = np.full((len(mask), across + 2), across + 1, dtype=np.int64)
    wide[:, : mask.shape[1]] = np.minimum(ends, across + 1)
    return wide


def _ends(heights: Heights, sets: Sets) -> NDArray[np.int64]:
    """For every set, the rows its slabs take from the first row on; too many if it does not fit."""
    rows = heights.shape[0]
    far = rows + 1
    ends = np.where(heights < np.iinfo(heights.dtype).max, heights + np.arange(rows)[:, None], far)
    first = np.full((rows + 2, sets.size), far, dtype=np.int64)
    first[:rows] = np.minimum.accumulate(ends[::-1], axis=0)[::-1]
    alone = np.flatnonzero(first[0] < far)
    alone = alone[alone > 0]
    found = np.full(sets.size, far, dtype=np.int64)
    found[0] = 0
    for number in range(1, sets.size):
        inside = alone[(sets.digits[:, alone] <= sets.digits[:, number, None]).all(axis=0)]
        if len(inside):
            found[number] = first[found[number - inside], inside].min()
    return found
