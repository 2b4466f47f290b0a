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

_DEARER = 0.05  # of its price, for each copy missing after a move
_FORGOTTEN = 200  # moves, after which half of that is forgotten
_WAITS = (5, 15)  # moves, in which a set does not come back
_DOUBT, _DRAWN = 0.02, 4096  # of what is missing, by chance; so often drawn

Small = NDArray[np.int16]
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
    offered = np.concatenate([np.asarray(own, dtype=np.int16) for own in sets])
    starts = np.cumsum([0, *(len(own) for own in sets)], dtype=np.int64)
    chosen = starts[:-1].copy()
    need, price = np.array(wanted, dtype=np.int64), np.array(prices, dtype=np.float64)
    chance = np.random.default_rng(seed)
    doubts, waits = 1.0 + _DOUBT * chance.random(_DRAWN), chance.integers(*_WAITS, moves)
    if not _moved(offered, starts, need, price, doubts, waits, chosen):
        return None
    found: list[int] = (chosen - starts[:-1]).tolist()
    return found


@compiled(
    "boolean(int16[:, ::1], int64[::1], int64[::1], float64[::1], float64[::1], int64[::1], int64[::1])"
)
def _moved(
    offered: Small, starts: Whole, need: Whole, price: Real, doubts: Real, pauses: Whole, chosen: Whole
) -> bool:
    """Whether sets were found; their numbers in `offered` are filled in.

    Parameters
    ----------
    offered : array of int, shape (sets, parts)
    starts : array of int, shape (boards + 1,)
        Where those of a board begin.
    need, price : array, shape (parts,)
    doubts : array
        What is missing counts so many times, in turn.
    pauses : array of int, shape (moves,)
        Moves in which a set does not come back.
    chosen : array of int, shape (boards,)
        Those begun with.
    """
    boards, parts, doubted = len(chosen), len(need), 0
    waits = np.zeros(len(offered), dtype=np.int64)
    dear, rest = price.copy(), np.empty(parts, dtype=np.int64)
    total = np.zeros(parts, dtype=np.int64)
    for board in range(boards):
        total += offered[chosen[board]]
    for move in range(1, len(pauses) + 1):
        if (total >= need).all():
            return True
        best, at, number = np.inf, -1, -1
        for board in range(boards):
            for part in range(parts):
                rest[part] = need[part] - total[part] + offered[chosen[board], part]
            for one in range(starts[board], starts[board + 1]):
                if waits[one] > move:
                    continue
                missing = 0.0
                for part in range(parts):
                    if rest[part] > offered[one, part]:
                        missing += (rest[part] - offered[one, part]) * dear[part]
                        if missing >= best:
                            break
                if missing < best:
                    missing *= doubts[doubted]
                    doubted = (doubted + 1) % len(doubts)
                    if missing < best:
                        best, at, number = missing, board, one
        if at < 0:  # all of them wait
            continue
        total += offered[number]
        total -= offered[chosen[at]]
        chosen[at] = number
        waits[number] = move + pauses[move - 1]
        for part in range(parts):
            dear[part] += _DEARER * price[part] * max(need[part] - total[part], 0)
        if move % _FORGOTTEN == 0:
            dear = (dear + price) / 2.0
    return False
