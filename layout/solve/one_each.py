"""One set of parts of each of several boards, that together make up all parts: looked for move by move.

Boards give some hundreds or thousands of sets each (`layout.solve.near_sets`). One board after the
other changes its set for the one that leaves least missing; what stays missing for long gets dearer,
and a set that was chosen waits for some moves before it comes back. Where boards hold
a few hundredths more than all parts, that finds a choice in a moment; that there is none it does not tell.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled
from layout.solve.packed import Whole

__all__ = ["one_of_each"]

_DEARER = 0.2  # of its price, for each copy missing after a move
_FORGOTTEN = 200  # moves, after which half of that is forgotten
_WAITS = (15, 45)  # moves, in which a set does not come back
_DOUBT, _DRAWN = 20, 4096  # of what is missing, by chance, at most so many parts of 1024; so often drawn
_EVERY, _DEAREST = 1 << 24, 1 << 29  # that all parts cost in whole numbers, at first and at most
_STEP = 7919  # a prime: what was drawn is used from another one on at every move

Small = NDArray[np.int16]
Missing = NDArray[np.int32]
Real = NDArray[np.float64]


def one_of_each(
    sets: Sequence[Whole], wanted: Sequence[int], prices: Sequence[int], moves: int, seed: int = 1
) -> list[int] | None:
    """The number of a set of each board; None if none were found that make up all parts.

    Parameters
    ----------
    sets : sequence of array of int, shape (sets, parts)
        Of each board, one at least.
    wanted : sequence of int
    prices : sequence of int
        Of the parts, none nought.
    moves : int
        Given up after so many.
    seed : int, optional
    """
    # By part and set: what is missing is told of all sets at once.
    offered = np.ascontiguousarray(np.concatenate([np.asarray(own, dtype=np.int16) for own in sets]).T)
    starts = np.cumsum([0, *(len(own) for own in sets)], dtype=np.int64)
    chosen = starts[:-1].copy()
    need, price = np.array(wanted, dtype=np.int64), np.array(prices, dtype=np.float64)
    price *= _EVERY / max(float(price @ need), 1.0)
    chance = np.random.default_rng(seed)
    doubts = chance.integers(0, _DOUBT, offered.shape[1] + _DRAWN, dtype=np.int32)
    if not _moved(offered, starts, need, price, doubts, chance.integers(*_WAITS, moves), chosen):
        return None
    found: list[int] = (chosen - starts[:-1]).tolist()
    return found


@compiled("boolean(int16[:, ::1], int64[::1], int64[::1], float64[::1], int32[::1], int64[::1], int64[::1])")
def _moved(
    offered: Small, starts: Whole, need: Whole, price: Real, doubts: Missing, pauses: Whole, chosen: Whole
) -> bool:
    """Whether sets were found; their numbers in `offered` are filled in.

    Parameters
    ----------
    offered : array of int, shape (parts, sets)
    starts : array of int, shape (boards + 1,)
        Where those of a board begin.
    need, price : array, shape (parts,)
    doubts : array of int
        By how many parts of 1024 more counts what a set leaves missing, from another one on at every move.
    pauses : array of int, shape (moves,)
        Moves in which a set does not come back.
    chosen : array of int, shape (boards,)
        Those begun with.
    """
    boards, parts, every = len(chosen), len(need), offered.shape[1]
    most = np.int32(2**31 - 1)
    waits, missing = np.zeros(every, dtype=np.int32), np.empty(every, dtype=np.int32)
    dear, total = price.copy(), np.zeros(parts, dtype=np.int64)
    for board in range(boards):
        total += offered[:, chosen[board]]
    for move in range(1, len(pauses) + 1):
        if (total >= need).all():
            return True
        for board in range(boards):
            first, last = starts[board], starts[board + 1]
            now = missing[first:last]
            now[:] = 0
            for part in range(parts):
                rest = need[part] - total[part] + offered[part, chosen[board]]
                if rest > 0:
                    less, cost, own = np.int32(rest), np.int32(dear[part] + 0.5), offered[part, first:last]
                    for one in range(last - first):
                        now[one] += max(np.int32(less - np.int32(own[one])), np.int32(0)) * cost
        begin, best, turn = (move * _STEP) % (len(doubts) - every), most, np.int32(move)
        doubt = doubts[begin : begin + every]
        for one in range(every):
            more = np.int32((missing[one] >> np.int32(10)) * doubt[one])
            missing[one] = missing[one] + more if waits[one] <= turn else most
            best = min(best, missing[one])
        if best == most:  # all of them wait
            continue
        number, at = 0, 0
        while missing[number] != best:
            number += 1
        while starts[at + 1] <= number:
            at += 1
        for part in range(parts):
            total[part] += offered[part, number] - offered[part, chosen[at]]
        chosen[at] = number
        waits[number] = move + pauses[move - 1]
        for part in range(parts):
            dear[part] += _DEARER * price[part] * max(need[part] - total[part], 0)
        if move % _FORGOTTEN == 0:
            dear = (dear + price) / 2.0
        if (dear * need).sum() > _DEAREST:
            dear /= 2.0
    return False
