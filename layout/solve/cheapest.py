"""The cheapest boards that rows of worths allow: by trying them, the likeliest first.

A row asks that boards used are together worth so much; worths are not negative. Whether a board is used is
decided board by board, those that are worth most for their money first. What is left to be paid is at least
what it would be if boards could be had in shares and all rows were one: their sum, each as often as it
counts in the programme of shares. Rows are few and much alike, so hardly anything has to be tried.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from layout.compiled import compiled

__all__ = ["cheapest"]

_MOST_TRIES = 200_000
_TINY = 1e-9

Real = NDArray[np.float64]


def cheapest(money: Real, worths: Real, least: Real) -> tuple[float, tuple[int, ...]] | None:
    """What the cheapest boards cost that are worth enough in every row, and which.

    Parameters
    ----------
    money : array, shape (boards,)
        Prices, not negative.
    worths : array, shape (rows, boards)
        Not negative.
    least : array, shape (rows,)

    Returns
    -------
    (money, boards) or None
        Infinity and no boards where no boards do; None where too much would have to be tried.
    """
    if (worths.sum(axis=1) < least - _TINY * np.abs(least)).any():
        return np.inf, ()
    found = linprog(money, A_ub=-worths, b_ub=-least, bounds=(0.0, 1.0), method="highs")
    if found.status != 0:
        return None
    counts = np.maximum(-found.ineqlin.marginals, 0.0)
    own = np.ascontiguousarray(counts @ worths)
    # A board of no worth comes last, and is paid for in vain.
    order = np.argsort(np.where(own > 0.0, money / np.maximum(own, _TINY), np.inf), kind="stable")
    used = np.zeros(len(money), dtype=np.bool_)
    paid = _tried(
        np.ascontiguousarray(money[order]),
        np.ascontiguousarray(worths.T[order]),
        np.ascontiguousarray(least),
        np.ascontiguousarray(own[order]),
        float(counts @ least),
        _MOST_TRIES,
        used,
    )
    return None if paid < 0.0 else (paid, tuple(np.sort(order[used]).tolist()))


@compiled("float64(float64[::1], float64[:, ::1], float64[::1], float64[::1], float64, int64, boolean[::1])")
def _tried(
    money: Real,
    worths: Real,
    least: Real,
    own: Real,
    need: float,
    most: int,
    used: NDArray[np.bool_],
) -> float:
    """The money, and which boards are used; -1 where it takes too many tries, infinity where none do.

    Parameters
    ----------
    money, worths, least
        As of `cheapest`, a line of `worths` for each board, in the order boards are decided in.
    own : array, shape (boards,)
        Worths in the sum of all rows.
    need : float
        The least of that sum.
    most : int
        Tries.
    used : array of bool, shape (boards,)
        Filled in.
    """
    boards, rows = worths.shape
    rest = np.zeros((boards + 1, rows))  # worths of all boards from one on
    for board in range(boards - 1, -1, -1):
        rest[board] = rest[board + 1] + worths[board]
    lacking = np.empty((boards + 1, rows))  # by boards decided
    lacking[0] = least * (1.0 - 1e-9)
    paid, gained = np.zeros(boards + 1), np.zeros(boards + 1)
    state = np.zeros(boards + 1, dtype=np.int64)  # what was tried of each board: nothing, it, all without it
    best, tries, at = np.inf, 0, 0
    while at >= 0:
        if state[at] == 0:
            tries += 1
            if tries > most:
                return -1.0
            enough, may = True, True
            for row in range(rows):
                enough &= lacking[at, row] <= 0.0
                may &= lacking[at, row] <= rest[at, row]
            if enough and paid[at] < best:
                best = paid[at]
                for board in range(boards):
                    used[board] = board < at and state[board] == 1
            left, money_left = need - gained[at], paid[at]
            for board in range(at, boards):
                if left <= 0.0:
                    break
                if own[board] > 0.0:
                    share = min(left / own[board], 1.0)
                    money_left += share * money[board]
                    left -= share * own[board]
            if enough or not may or money_left > best - 1e-6:
                at -= 1
                continue
        if state[at] == 2:
            state[at] = 0
            at -= 1
            continue
        state[at] += 1
        take = state[at] == 1
        at += 1
        state[at] = 0
        paid[at] = paid[at - 1] + (money[at - 1] if take else 0.0)
        gained[at] = gained[at - 1] + (own[at - 1] if take else 0.0)
        for row in range(rows):
            lacking[at, row] = lacking[at - 1, row] - (worths[at - 1, row] if take else 0.0)
    return best
