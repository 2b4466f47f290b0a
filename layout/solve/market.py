"""What parts are worth: fillings made to pay, by the prices a linear programme sets (column generation).

The programme chooses shares of the fillings known, as cheaply as it can, so that
every part is held as often as wanted. Its dual values are prices: the worth of a
copy of each part, and the rent of each board that is sought after. Then

* every board is filled anew, densely, for these prices; a filling worth more than
  its board costs makes the programme cheaper, and the prices change;
* now and then a whole plan is put together at these prices, board by board, the
  one that pays best first. Its last boards are filled for just what is missing,
  so it leaves fillings behind that go well together;
* and the set packing chooses among all of them.

The prices are those of fillings found, not of all there could be, so what the
programme says is no bound.
"""

from collections.abc import Sequence
from math import exp
from random import Random

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csc_array

from layout.solve.construct import Draft, boards_in_play
from layout.solve.dense import dense
from layout.solve.filling import Care, Filler, Filling
from layout.solve.job import Job
from layout.solve.pool import Pool
from layout.solve.stop import Stop

__all__ = ["COST_OF_DENSE", "Market"]

COST_OF_DENSE = 5  # rounds of the walks that take as long as one dense filling
_NEAR = 0.06  # a filling this share of its board's price from paying is kept
_MOST_COLUMNS = 2500  # of the linear programme
_KEPT_COLUMNS = 1500
_POOR = 0.15  # chance of a dense filling for a board that did not nearly pay before
_LOOKED_AT = 5  # boards filled at each step of a plan put together
_MENDED = 0.4  # share of fillings that may count on repairs, where there are any
_SECONDS = 2.0  # for one linear programme [s]


class Market:
    """Prices of parts and boards, and the fillings that made them.

    Parameters
    ----------
    job, filler, pool, chance
    penalties : sequence of float
        Price of leaving one copy of each part without a place [money].
    """

    def __init__(
        self, job: Job, filler: Filler, pool: Pool, chance: Random, penalties: Sequence[float]
    ) -> None:
        self.job, self.filler, self.pool, self.chance = job, filler, pool, chance
        self.worth = [float(penalty) for penalty in penalties]
        self.rents = [0.0] * len(job.boards)
        self._penalties = list(penalties)
        self._columns: list[Filling] = []
        self._known: set[tuple[int, tuple[int, ...]]] = set()
        self._boards = boards_in_play(job)
        self._poor = [False] * len(job.boards)

    def settle(self, stop: Stop, best: Draft) -> bool:
        """Set the prices anew; whether that was possible in time."""
        if len(self._columns) > _MOST_COLUMNS:
            self._columns = self.columns(_KEPT_COLUMNS)
            self._known = {(item.board, item.counts) for item in self._columns}
        for item in best.fillings.values():
            self._keep(item)
        parts, columns = len(self.job.parts), self._columns
        rows = {board: parts + n for n, board in enumerate(sorted({item.board for item in columns}))}
        entries = [(part, n, -float(k)) for n, item in enumerate(columns) for part, k in _held(item)]
        entries += [(rows[item.board], n, 1.0) for n, item in enumerate(columns)]
        entries += [(part, len(columns) + part, -1.0) for part in range(parts)]
        at, of, values = zip(*entries, strict=True)
        size = (parts + len(rows), len(columns) + parts)
        answer = linprog(
            np.array([self.job.prices[item.board] for item in columns] + self._penalties),
            A_ub=csc_array((values, (at, of)), shape=size),
            b_ub=np.array([-float(count) for count in self.job.wanted] + [1.0] * len(rows)),
            method="highs-ds",
            options={} if stop.counted else {"time_limit": min(stop.left(), _SECONDS)},
        )
        if answer.status != 0:
            return False
        duals = (-answer.ineqlin.marginals).tolist()
        self.worth = [max(value, 0.0) for value in duals[:parts]]
        self.rents = [0.0] * len(self.job.boards)
        for board, row in rows.items():
            self.rents[board] = max(duals[row], 0.0)
        self._keep_near(self.pool.taken())
        return True

    def short_by(self, fillings: Sequence[Filling]) -> NDArray[np.float64]:
        """How much each filling is worth less than its board costs with its rent [money]."""
        counts = np.array([item.counts for item in fillings], dtype=np.float64)
        costs = [self.job.prices[item.board] + self.rents[item.board] for item in fillings]
        found: NDArray[np.float64] = np.array(costs) - counts @ np.array(self.worth)
        return found

    def offer(self, stop: Stop, share: float) -> None:
        """Fill every board worth a look for the prices of now."""
        for board in self._boards:
            if stop.now(share):
                return
            price = self.job.prices[board] + self.rents[board]
            if self._poor[board] and self.chance.random() > _POOR:
                continue
            found = self._filled(stop, board, self.job.wanted, price, self.chance.choice((1, 1, 3)))
            worth = sum(self.worth[part] * count for part, count in _held(found))
            self._poor[board] = worth < 0.9 * price
            self._keep_near([found])

    def plan(self, stop: Stop, share: float, least: float) -> Draft:
        """A plan put together at the prices of now; not whole where it would not be cheaper than `least`."""
        job, chance = self.job, self.chance
        draft, money, noise = Draft(list(job.wanted)), 0.0, chance.choice((0.03, 0.08, 0.15))
        counts = np.array([item.counts for item in self._columns])
        boards = np.array([item.board for item in self._columns])
        prices = np.array(job.prices) + 1e-6
        while any(draft.missing) and len(boards) and not stop.now(share):
            held = np.minimum(counts, np.array(draft.missing)) @ np.array(self.worth)
            worth = np.zeros(len(prices))
            np.maximum.at(worth, boards, held)
            worth *= np.array([exp(noise * chance.gauss(0.0, 1.0)) for _ in prices])
            worth[list(draft.fillings)] = -1.0
            ranked = np.argsort(-worth / prices, kind="stable")[:_LOOKED_AT].tolist()
            found = [
                self._filled(stop, board, draft.missing, job.prices[board])
                for board in ranked
                if board not in draft.fillings
            ]
            best = max(found, key=lambda item: self._pays(item, draft, noise), default=None)
            if best is None or not any(best.counts):
                break
            for item in found:
                self._keep(item)
            draft.put(best)
            money += job.prices[best.board]
            rest = sum(value * count for value, count in zip(self.worth, draft.missing, strict=True))
            if money + 0.8 * rest > 1.02 * least:
                break
        return draft

    def _pays(self, filling: Filling, draft: Draft, noise: float) -> float:
        """How well a filling pays; one that ends the plan always does, the cheapest best."""
        price = self.job.prices[filling.board]
        if all(have >= want for have, want in zip(filling.counts, draft.missing, strict=True)):
            return 1e9 - price
        worth = sum(self.worth[part] * count for part, count in _held(filling))
        return worth / (price + 1e-6) * exp(0.5 * noise * self.chance.gauss(0.0, 1.0))

    def _filled(self, stop: Stop, board: int, left: Sequence[int], price: float, beam: int = 1) -> Filling:
        stop.rounds += COST_OF_DENSE
        mended = self.job.mended and self.chance.random() < _MENDED
        care = Care.MENDED if mended else Care.ALLOWED
        return dense(self.filler, board, left, self.worth, price, self.chance, beam, care)

    def _keep_near(self, fillings: Sequence[Filling]) -> None:
        """Let those fillings into the programme that nearly pay."""
        if fillings:
            for item, lack in zip(fillings, self.short_by(fillings).tolist(), strict=True):
                if lack <= _NEAR * self.job.prices[item.board]:
                    self._keep(item)

    def _keep(self, filling: Filling) -> None:
        key = (filling.board, filling.counts)
        if any(filling.counts) and key not in self._known:
            self._known.add(key)
            self._columns.append(filling)

    def columns(self, most: int) -> list[Filling]:
        """The fillings that come nearest to paying."""
        if len(self._columns) <= most:
            return list(self._columns)
        keep = np.argsort(self.short_by(self._columns), kind="stable")[:most]
        return [self._columns[number] for number in keep.tolist()]


def _held(filling: Filling) -> list[tuple[int, int]]:
    return [(part, count) for part, count in enumerate(filling.counts) if count]
