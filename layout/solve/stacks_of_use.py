"""Sets of pieces that stacks have to hold to be of use: those worth what is asked, and what leads to them.

A stack of a height is of use where it is worth so much. So a set matters if some height holds it and is
worth its asking, or if pieces that fill the rest of the height could make up for what is missing.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled
from layout.solve.counted import Counts

__all__ = ["NEVER", "least_asked", "sets_of_use"]

NEVER = 1 << 30  # asked where no stack is worth it

Whole = NDArray[np.int64]


@compiled("int64[::1](int32[:, :, ::1], int16[:, :, ::1], int64[::1], int64[::1])")
def least_asked(asked: NDArray[np.int32], best: NDArray[np.int16], numbers: Whole, rows: Whole) -> Whole:
    """What is asked of stacks at least, by their height, wherever there are stacks that are worth it.

    Parameters
    ----------
    asked : array of int, shape (places, height + 1, rows)
    best : array of int, shape (numbers, height + 1 or more, row + 1)
        Worth of the best stack.
    numbers : array of int, shape (places,)
    rows : array of int, shape (rows,)
    """
    found = np.full(asked.shape[1], 1 << 30, dtype=np.int64)
    for place in range(len(numbers)):
        for height in range(asked.shape[1]):
            own, there = asked[place, height], best[numbers[place], height]
            least = found[height]
            for line in range(len(rows)):
                if own[line] < least and there[rows[line]] >= own[line]:
                    least = np.int64(own[line])
            found[height] = least
    return found


def sets_of_use(
    parts: Sequence[int], widths: Sequence[int], prices: Sequence[int], most: Sequence[int], least: Whole
) -> list[Counts]:
    """Sets of one piece or more, the smallest first, with all that lie in them.

    Parameters
    ----------
    parts : sequence of int
        That may lie in such stacks.
    widths, prices, most : sequence of int, one each part
        Heights they take, worths, and copies at most.
    least : array of int, shape (height + 1,)
        What a stack of that height has to be worth, `NEVER` for none.
    """
    there = [t for t in parts if prices[t] and most[t]]
    taken = np.array([(widths[t], prices[t]) for t in there], dtype=np.int64).reshape(-1, 2)
    need = _needed(least, taken)
    counts, wide, worth = np.zeros((1, len(prices)), dtype=np.int64), *np.zeros((2, 1), dtype=np.int64)
    for t in there:
        every, last = [(counts, wide, worth)], (counts, wide, worth)
        for _ in range(most[t]):
            fits = last[1] + widths[t] < len(need)
            counts, wide, worth = last[0][fits], last[1][fits] + widths[t], last[2][fits] + prices[t]
            of_use = worth >= need[wide]
            if not of_use.any():
                break
            counts = counts[of_use]
            counts[:, t] += 1
            last = counts, wide[of_use], worth[of_use]
            every.append(last)
        counts, wide, worth = (np.concatenate([one[which] for one in every]) for which in range(3))
    pieces = counts.sum(axis=1)
    order = np.argsort(pieces, kind="stable")
    return [tuple(row) for row in counts[order[pieces[order] > 0]].tolist()]


@compiled("int64[::1](int64[::1], int64[:, ::1])")
def _needed(least: Whole, taken: Whole) -> Whole:
    """What a set has to be worth, by the height its pieces take one above the other."""
    high = len(least)
    filled = np.zeros(high, dtype=np.int64)  # the most that any pieces are worth, by height
    for height in range(1, high):
        filled[height] = filled[height - 1]
        for part in range(len(taken)):
            if taken[part, 0] <= height:
                more = taken[part, 1] + filled[height - taken[part, 0]]
                filled[height] = max(filled[height], more)
    found = np.full(high, 1 << 30, dtype=np.int64)
    for wide in range(high):
        for height in range(wide, high):
            found[wide] = min(found[wide], least[height] - filled[height - wide])
    return found
