"""One set of parts of each of several boards, that together make up all parts: looked for move by move.

Boards give some hundreds or thousands of sets each (`layout.solve.near_sets`). One board after the
other changes its set for the one that leaves least missing; what stays missing for long gets dearer,
and a set that was chosen waits for some moves before it comes back. Where boards hold
a few hundredths more than all parts, that finds a choice in a moment; that there is none it does not tell.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layout.solve.packed import Whole

__all__ = ["one_of_each"]

_DEARER = 0.05  # of its price, for each copy missing after a move
_FORGOTTEN = 200  # moves, after which half of that is forgotten
_WAITS = (5, 15)  # moves, in which a set does not come back
_DOUBT = 0.02  # of what is missing, by chance

Small = NDArray[np.int16]


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
    chance = np.random.default_rng(seed)
    need, price = np.array(wanted, dtype=np.int16), np.array(prices, dtype=np.float64)
    offered: list[Small] = [own.astype(np.int16) for own in sets]
    waits = [np.zeros(len(own), dtype=np.int64) for own in offered]
    chosen = [0] * len(offered)
    dear, total = price.copy(), sum(own[0] for own in offered)
    for move in range(1, moves + 1):
        if (total >= need).all():
            return chosen
        best: tuple[float, int, int] | None = None
        for board, own in enumerate(offered):
            rest = need - (total - own[chosen[board]])
            missing = (np.maximum(rest - own, 0) @ dear) * (1.0 + _DOUBT * chance.random(len(own)))
            missing[waits[board] > move] = np.inf
            number = int(missing.argmin())
            if best is None or missing[number] < best[0]:
                best = float(missing[number]), board, number
        assert best is not None
        _, board, number = best
        total = total - offered[board][chosen[board]] + offered[board][number]
        chosen[board] = number
        waits[board][number] = move + int(chance.integers(*_WAITS))
        dear += _DEARER * price * np.maximum(need - total, 0)
        if move % _FORGOTTEN == 0:
            dear = (dear + price) / 2
    return None
