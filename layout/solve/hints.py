"""Sets of parts that boards really give, and nearly pay for: found by the search's own market in a moment.

A bound that begins with them looks at prices that matter from the start. They say nothing of what
boards cannot give.
"""

from collections.abc import Sequence
from random import Random

import numpy as np

from layout.allowances import Shop
from layout.cuts import Box
from layout.parts import Part
from layout.solve.construct import boards_by_value, first_draft, parts_by_size
from layout.solve.filling import Filler
from layout.solve.job import job_of
from layout.solve.market import Market
from layout.solve.outside import Outside
from layout.solve.params import SolveParams
from layout.solve.pool import Pool
from layout.solve.stop import Stop
from layout.stock import Board

__all__ = ["likely_sets"]

_MOST = 400  # sets, of all boards


def likely_sets(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    known: Outside,
    taken: Sequence[Sequence[Box]],
    seconds: float,
) -> list[list[tuple[int, ...]]]:
    """For each board, sets it gives that come near to paying; none for those that hold locked pieces.

    Parameters
    ----------
    boards, parts, shop
    known : Outside
        Of the same boards: how much is wanted.
    taken : sequence of sequence of Box
        Locked pieces of each board [mm].
    seconds : float
        For the search [s].
    """
    free = [number for number, boxes in enumerate(taken) if not boxes]
    found: list[list[tuple[int, ...]]] = [[] for _ in boards]
    if not free:
        return found
    job = job_of([boards[number] for number in free], parts, shop, known.wanted)
    stop = Stop(SolveParams(seconds=seconds))
    filler, weights = Filler(job), job.weights()
    dear = (2.0 * sum(job.prices) + 1.0) / min(weights)
    market = Market(job, filler, Pool(), Random(0), [dear * weight for weight in weights])
    first = first_draft(job, filler, parts_by_size(job), boards_by_value(job))
    filler.views.hurry = stop.cut
    while not stop.now() and market.settle(stop, first):
        market.offer(stop, 1.0)
    counts = np.minimum(market.columns.counts, known.wanted)
    for number in market.nearest_to_pay(_MOST).tolist():
        found[free[int(market.columns.boards[number])]].append(tuple(counts[number].tolist()))
    return found
