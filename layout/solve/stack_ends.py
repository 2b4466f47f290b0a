"""Where stacks of pieces end that begin at or after a row, set by set, in sections of one length."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled

__all__ = ["Ends", "StackSets", "next_end", "without_one"]

Counts = tuple[int, ...]
Ends = NDArray[np.int16]
Whole = NDArray[np.int64]


class StackSets:
    """Sets of pieces that stacks may hold.

    Parameters
    ----------
    wanted : sequence of tuple of int
        Smaller ones first; with each also those with one piece less.
    parts : int
    """

    def __init__(self, wanted: Sequence[Counts], parts: int) -> None:
        self.counts: list[Counts] = [(0,) * parts, *wanted]
        numbers = {counts: number for number, counts in enumerate(self.counts)}
        # The last piece of a set may be any in turn: the set without it, and which it is.
        last = [
            [(numbers[without_one(counts, t)], t) for t, n in enumerate(counts) if n] for counts in wanted
        ]
        self._starts = np.cumsum([0, 0, *(len(one) for one in last)])
        self._pairs = np.array([pair for one in last for pair in one], dtype=np.int64).reshape(-1, 2)

    def ends(self, after: Mapping[int, Ends], rows: Whole, high: int) -> tuple[Ends, Ends]:
        """Where stacks end at best; across + 1 if they end beyond the board.

        Parameters
        ----------
        after : mapping of int to array of int, shape (places, across + 2)
            For parts that may lie in such sections, by place, where a piece ends at or after a row.
        rows : array of int, shape (rows,)
            From which on stacks are asked for.
        high : int
            Stacks that are higher in all rows of a place need not be right.

        Returns
        -------
        array of int, shape (sets + 1, places, rows), and array of int, shape (sets + 1, places)
            That of no pieces first; and the least heights, higher than `high` if a stack is.
        """
        places, wide = next(iter(after.values())).shape
        every = np.full((len(self.counts[0]), places, wide), wide - 1, dtype=np.int16)
        for t, one in after.items():
            every[t] = one
        return _ends(every, self._starts, self._pairs, rows, high)


def next_end(mask: NDArray[np.bool_], width: int, across: int) -> Ends:
    """Where a piece ends that lies as near as it may at or after a row; across + 1 if it cannot.

    Parameters
    ----------
    mask : array of bool, shape (places, rows)
        Where it may lie.
    width, across : int

    Returns
    -------
    array of int, shape (places, across + 2)
    """
    wide = np.empty((len(mask), across + 2), dtype=np.int16)
    _next_ends(wide, np.ascontiguousarray(mask), width, across)
    return wide


@compiled("void(int16[:, ::1], boolean[:, ::1], int64, int64)")
def _next_ends(found: Ends, mask: NDArray[np.bool_], width: int, across: int) -> None:
    """As `next_end`, filled in."""
    for place in range(len(found)):
        end = across + 1
        for row in range(across + 1, -1, -1):
            if row < mask.shape[1] and mask[place, row]:
                end = min(row + width, across + 1)
            found[place, row] = end


def without_one(counts: Counts, t: int) -> Counts:
    """A set less one copy of a part."""
    return (*counts[:t], counts[t] - 1, *counts[t + 1 :])


@compiled(
    "Tuple((int16[:, :, ::1], int16[:, ::1]))(int16[:, :, ::1], int64[::1], int64[:, ::1], int64[::1], int64)"
)
def _ends(after: Ends, starts: Whole, pairs: Whole, rows: Whole, high: int) -> tuple[Ends, Ends]:
    """As `StackSets.ends`, of all parts; pairs of a set begin at `starts`: the set before, and the part."""
    places, beyond = after.shape[1], np.int16(after.shape[2] - 1)
    first = rows.astype(np.int16)
    found = np.full((len(starts) - 1, places, len(rows)), beyond, dtype=np.int16)
    lows = np.full((len(found), places), beyond, dtype=np.int16)
    for place in range(places):
        found[0, place] = first
        lows[0, place] = 0
    for one in range(1, len(found)):
        for place in range(places):
            own = found[one, place]
            for pair in range(starts[one], starts[one + 1]):
                if lows[pairs[pair, 0], place] <= high:
                    before, ends = found[pairs[pair, 0], place], after[pairs[pair, 1], place]
                    for row in range(len(own)):
                        if before[row] >= beyond:  # and all further ones
                            break
                        own[row] = min(own[row], ends[before[row]])
            low = beyond
            for row in range(len(own)):
                height = np.int16(own[row] - first[row]) if own[row] < beyond else beyond
                low = min(low, height)
            lows[one, place] = low
    return found, lows
