"""Dives: a linear programme's shares of fillings made a plan, one whole filling at a time.

At each step the programme is solved for what is still missing, with every filling
known cut down to it; one filling of which much is used is taken whole, a few of
the boards that pay best are filled anew for the prices it sets, and the programme
is asked again. A dive begins with the whole job, or with a plan from which some
boards were taken, and is given up as soon as the programme sees nothing cheaper.

References
----------
.. [1] Sadykov, Vanderbeck, Pessoa, Tahiri, Uchoa (2019), INFORMS J. Computing 31,
   251-267: diving heuristics in branch-and-price (from memory).
"""

from collections.abc import Sequence
from math import exp

import numpy as np
from numpy.typing import NDArray

from layout.solve.columns import Columns, Shares, cheapest_shares
from layout.solve.construct import Draft, trimmed
from layout.solve.market import Market
from layout.solve.stop import Stop

__all__ = ["dived"]

_COST_OF_STEP = 10  # rounds of the walks that take as long as one linear programme
_MOST_COLUMNS = 1200
_FILLED = 6  # boards filled anew at each step
_ENOUGH = 1.005  # times the money allowed, above which a dive is given up
_WHOLE = 0.95  # share of a filling that is taken beside another one
_LOOKED_AT = 8  # fillings of the largest shares
_SECONDS = 2.0  # for one linear programme [s]
_NOTHING = 1e-3  # a share that makes fillings not used eligible too


def dived(
    market: Market,
    draft: Draft,
    boards: Sequence[int],
    ceiling: float,
    stop: Stop,
    share: float,
) -> Draft | None:
    """A draft made whole from what the boards given can hold, or None where it would not be cheaper.

    Parameters
    ----------
    market : Market
    draft : Draft
        What is kept.
    boards : sequence of int
        Those that may be used for what it is missing.
    ceiling : float
        Money that the whole draft should not cost.
    stop, share
    """
    dive = _Dive(market, draft, boards, stop)
    noise = market.chance.choice((0.1, 0.3, 1.0))
    while any(dive.draft.missing):
        if stop.now(share):
            return None
        answer = dive.shares()
        if answer is None or dive.money + answer.cost > _ENOUGH * ceiling:
            return None
        if dive.fill(answer):
            answer = dive.shares()
            if answer is None or dive.money + answer.cost > _ENOUGH * ceiling:
                return None
        if not dive.take(answer, noise):
            break
    return dive.draft


class _Dive:
    """A draft half made, and the fillings it may be made whole with."""

    def __init__(self, market: Market, draft: Draft, boards: Sequence[int], stop: Stop) -> None:
        self.market, self.stop = market, stop
        self.draft = draft.copy()
        self.money = draft.money(market.job)
        self._open = np.zeros(len(market.prices), dtype=np.bool_)
        self._open[list(boards)] = True
        self._open[list(draft.fillings)] = False
        self._columns = Columns(len(market.job.parts))
        near = market.nearest_to_pay(_MOST_COLUMNS)
        for number in near[self._open[market.columns.boards[near]]].tolist():
            self._columns.add(market.columns.fillings[number])
        self._useful = np.zeros(0, dtype=np.int64)
        self._held = np.zeros((0, 0), dtype=np.int32)

    def shares(self) -> Shares | None:
        """The cheapest shares of fillings for what is missing."""
        self.stop.rounds += _COST_OF_STEP
        missing = np.array(self.draft.missing, dtype=np.int32)
        held = np.minimum(self._columns.counts, missing)
        here = self._open[self._columns.boards] & held.any(axis=1)
        self._useful = np.flatnonzero(here)
        self._held = held[self._useful]
        seconds = None if self.stop.counted else min(max(self.stop.left(), 0.01), _SECONDS)
        market, of = self.market, self._columns.boards[self._useful]
        return cheapest_shares(self._held, of, market.prices, self.draft.missing, market.penalties, seconds)

    def fill(self, answer: Shares) -> bool:
        """Fill the boards that pay best anew for the prices of now; whether something new came of it."""
        market = self.market
        pays = np.where(self._open, -market.prices - answer.rents, -np.inf)
        of = self._columns.boards[self._useful]
        np.maximum.at(pays, of, self._held @ answer.worth - answer.rents[of] - market.prices[of])
        new = False
        for board in np.argsort(-pays, kind="stable")[:_FILLED].tolist():
            if not self._open[board]:
                break
            price = float(market.prices[board] + answer.rents[board])
            found = market.filled(self.stop, board, self.draft.missing, answer.worth, price)
            market.columns.add(found)
            new = self._columns.add(found) or new
        return new

    def take(self, answer: Shares, noise: float) -> bool:
        """Take a filling of which much is used, and all that are used whole; whether there was one."""
        chance, taken = self.market.chance, False
        drawn = np.array([exp(noise * chance.gauss(0.0, 1.0)) for _ in answer.shares])
        ranked: NDArray[np.int64] = np.argsort(-(answer.shares + _NOTHING) * drawn, kind="stable")
        for number in ranked[:_LOOKED_AT].tolist():
            filling = self._columns.fillings[int(self._useful[number])]
            held = np.minimum(filling.counts, self.draft.missing)
            if not self._open[filling.board] or (held != self._held[number]).any():
                continue
            if taken and answer.shares[number] < _WHOLE:
                continue
            self.draft.put(filling)
            if min(self.draft.missing) < 0:
                self.draft = trimmed(self.draft)
            self._open[filling.board] = False
            taken = True
        self.money = self.draft.money(self.market.job)
        return taken
