"""What parts are worth: fillings made to pay, by the prices a linear programme sets (column generation).

The programme (`layout.solve.columns`) chooses shares of the fillings known. Every
board is then filled anew, densely, for the prices it sets; a filling worth more
than its board costs makes the programme cheaper, and the prices change. Plans are
made of its shares by dives (`layout.solve.dive`).

The prices are those of fillings found, not of all there could be, so what the
programme says is no bound.
"""

from collections.abc import Sequence
from random import Random

import numpy as np
from numpy.typing import NDArray

from layout.solve.columns import Columns, cheapest_shares
from layout.solve.construct import Draft, boards_in_play
from layout.solve.dense import dense
from layout.solve.densest import FEW_COPIES, Densest
from layout.solve.filling import Care, Filler, Filling
from layout.solve.job import Job
from layout.solve.pool import Pool
from layout.solve.stop import Stop

__all__ = ["COST_OF_DENSE", "Market"]

COST_OF_DENSE = 5  # rounds of the walks that take as long as one dense filling
_THICKER = 0.5  # share of those aimed at, or of small jobs, with slabs thicker than their leader,
_COST_OF_THICKER = 3  # which take so many times as long
_NEAR = 0.06  # a filling this share of its board's price from paying is kept
_MOST_COLUMNS = 2500  # of the linear programme
_KEPT_COLUMNS = 1500
_POOR = 0.15  # chance of a dense filling for a board that did not nearly pay before
_MENDED = 0.4  # share of fillings that may count on repairs, where there are any
_SECONDS = 2.0  # for one linear programme [s]


class Market:
    """Prices of parts and boards, and the fillings that made them.

    Parameters
    ----------
    job, filler, pool, chance
    penalties : sequence of float
        Price of leaving one copy of each part without a place [money].

    Attributes
    ----------
    thorough : bool
        Whether the densest fillings are looked for too, which takes long.
    """

    def __init__(
        self, job: Job, filler: Filler, pool: Pool, chance: Random, penalties: Sequence[float]
    ) -> None:
        self.job, self.filler, self.pool, self.chance = job, filler, pool, chance
        self.prices = np.array(job.prices)
        self.penalties = np.array(penalties, dtype=np.float64)
        self.worth, self.rents = self.penalties, np.zeros(len(job.boards))
        self.columns = Columns(len(job.parts))
        self.boards = boards_in_play(job)
        self.thorough = False
        self._few = job.copies() <= FEW_COPIES
        self._densest: Densest | None = None
        self._next = self._next_thorough = 0
        self._poor = [False] * len(job.boards)

    def settle(self, stop: Stop, best: Draft) -> bool:
        """Set the prices anew; whether that was possible in time."""
        if len(self.columns) > _MOST_COLUMNS:
            kept = Columns(len(self.job.parts))
            for number in self.nearest_to_pay(_KEPT_COLUMNS).tolist():
                kept.add(self.columns.fillings[number])
            self.columns = kept
        for item in best.fillings.values():
            self.columns.add(item)
        seconds = None if stop.counted else min(stop.left(), _SECONDS)
        answer = cheapest_shares(
            self.columns.counts, self.columns.boards, self.prices, self.job.wanted, self.penalties, seconds
        )
        if answer is None:
            return False
        self.worth, self.rents = answer.worth, answer.rents
        self._keep_near(self.pool.taken())
        return True

    def offer(self, stop: Stop, share: float) -> None:
        """Fill every board worth a look for the prices of now, from the one it stopped at before."""
        begun = self._next
        for number in range(len(self.boards)):
            self._next = (begun + number) % len(self.boards)
            board = self.boards[self._next]
            if stop.now(share):
                return
            price = float(self.prices[board] + self.rents[board])
            if self._poor[board] and self.chance.random() > _POOR:
                continue
            beam = self.chance.choice((1, 1, 3))
            found = self.filled(stop, board, self.job.wanted, self.worth, price, beam)
            self._poor[board] = float(self.worth @ np.array(found.counts)) < 0.9 * price
            self._keep_near([found])

    def offer_densest(self, stop: Stop, share: float) -> None:
        """Fill boards that nearly pay as densely as can be, from the one it stopped at before."""
        for _ in self.boards if self.thorough else ():
            if stop.now(share):
                return
            board = self.boards[self._next_thorough % len(self.boards)]
            self._next_thorough += 1
            if not self._poor[board]:
                self._keep_near(self.densest(stop, board, self.job.wanted, self.worth))

    def densest(
        self, stop: Stop, board: int, left: Sequence[int], worth: NDArray[np.float64]
    ) -> list[Filling]:
        """The densest fillings of a board with some of what is left, for these prices, if one is thorough."""
        if not self.thorough:
            return []
        if self._densest is None:
            self._densest = Densest(self.job)
        return list(self._densest.filled(stop, board, left, worth.tolist(), self.chance))

    def filled(
        self,
        stop: Stop,
        board: int,
        left: Sequence[int],
        worth: NDArray[np.float64],
        price: float,
        beam: int = 1,
        aimed: bool = False,
    ) -> Filling:
        """A dense filling of a board with some of what is left, for these prices.

        It takes its time in small jobs, and for a set of boards that one aims at.
        """
        thicker = (aimed or self._few) and self.chance.random() < _THICKER
        stop.rounds += COST_OF_DENSE * (_COST_OF_THICKER if thicker else 1)
        mended = self.job.mended and self.chance.random() < _MENDED
        care = Care.MENDED if mended else Care.ALLOWED
        return dense(self.filler, board, left, worth.tolist(), price, self.chance, beam, care, thicker)

    def nearest_to_pay(self, most: int) -> NDArray[np.int64]:
        """Numbers of the fillings that come nearest to paying."""
        if len(self.columns) <= most:
            return np.arange(len(self.columns))
        lacks = self._lacks(self.columns.counts, self.columns.boards)
        return np.argsort(lacks, kind="stable")[:most]

    def _lacks(self, counts: NDArray[np.int32], boards: NDArray[np.int64]) -> NDArray[np.float64]:
        """How much each filling is worth less than its board costs with its rent [money]."""
        found: NDArray[np.float64] = self.prices[boards] + self.rents[boards] - counts @ self.worth
        return found

    def _keep_near(self, fillings: Sequence[Filling]) -> None:
        """Let those fillings into the programme that nearly pay."""
        if not fillings:
            return
        counts = np.array([item.counts for item in fillings], dtype=np.int32)
        boards = np.array([item.board for item in fillings])
        near = self._lacks(counts, boards) <= _NEAR * self.prices[boards]
        for number in np.flatnonzero(near).tolist():
            self.columns.add(fillings[number])
