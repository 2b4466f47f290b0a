"""Sets of boards cheaper than the best plan, and plans made of nothing but such a set.

What a plan costs is settled by its boards, so here the boards come first. Only sets matter to
which no further board could be added without costing as much as the best plan: a larger set
holds more. With the boards of a set free, the linear programme (`layout.solve.columns`) says
how much of the parts the fillings known leave without a place, and at its prices the boards
are filled anew, denser each time; when nothing is left over, whole fillings are taken one by
one. Its prices also say of every other set how much that may hold, and the most promising set
is tried next. Every set is listed, so this is for jobs of few boards.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp

import numpy as np
from numpy.typing import NDArray

from layout.solve.columns import Columns, Shares, cheapest_shares
from layout.solve.construct import Draft, trimmed
from layout.solve.market import Market
from layout.solve.stop import Stop

__all__ = ["Target", "Targets", "made_anew", "made_of"]

_LOOKED_AT = 60  # sets that hold most
_MOST_PRICES = 40  # remembered
_TIRED = 0.01  # of room counted off for every try before
_NOISE = 0.01
_COST_OF_STEP = 10  # rounds of the walks that take as long as one linear programme
_BEAMS = (1, 3, 10)  # of dense fillings
_FILLED = 8  # times that boards are filled anew before the first filling is taken,
_FILLED_LATER = 6  # and before each of the others
_IDLE, _IDLE_AT_LAST = 3, 6  # times without gain, after which that is given up; with one board open
_ANEW = 2  # boards of a draft that lacks little, filled anew together
_HOPELESS = 0.02  # share of the parts left over, with every board still open, that ends a try
_DOUBTFUL = 0.08  # share of the parts left over, up to which the densest fillings are looked for,
_THOROUGH = 3  # so many times
_SECONDS = 2.0  # for one linear programme [s]
_LEAST = 1e-6


@dataclass(frozen=True)
class Target:
    """A set of boards worth a try.

    Parameters
    ----------
    boards : tuple of int
    room : float
        About how much of the parts it holds by what is known of its boards; below 1 not all.
    tries : int
        How often it was chosen, this time counted.
    """

    boards: tuple[int, ...]
    room: float
    tries: int = 1


class Targets:
    """Which set of boards to try next.

    Parameters
    ----------
    market : Market
    weights : sequence of float
        What leaving out one copy of each part weighs.
    """

    def __init__(self, market: Market, weights: Sequence[float]) -> None:
        self.market = market
        self.weights = np.array(weights, dtype=np.float64)
        self._wanted = np.array(market.job.wanted, dtype=np.float64)
        self._prices: list[NDArray[np.float64]] = []
        self._tries: dict[tuple[int, ...], int] = {}
        self._listed_for, self._listed = -1.0, np.zeros((0, 0), dtype=np.bool_)

    def learn(self, worth: NDArray[np.float64]) -> None:
        """Remember prices of parts: at each of them a set must be worth what all parts are."""
        need = float(worth @ self._wanted)
        if need > 0.0:
            self._prices = [*self._prices[1 - _MOST_PRICES :], worth / need]

    def lacks(self, draft: Draft) -> float:
        """What the copies that a draft leaves out weigh, as a share of all."""
        return float(self.weights @ np.array(draft.missing) / max(self.weights @ self._wanted, 1.0))

    def next(self, money: float) -> Target | None:
        """The most promising set that costs less than that, or None where there is none [money]."""
        sets = self._all(money)
        if not len(sets) or not self._prices:
            return None
        room = (sets @ self._values()).min(axis=1)
        chosen, most = None, -np.inf
        for number in np.argsort(-room, kind="stable")[:_LOOKED_AT].tolist():
            boards = tuple(
                sorted(self.market.boards[place] for place in np.flatnonzero(sets[number]).tolist())
            )
            hope = room[number] - _TIRED * self._tries.get(boards, 0) + _NOISE * self.market.chance.random()
            if hope > most:
                chosen, most = Target(boards, float(room[number])), hope
        assert chosen is not None
        tries = self._tries[chosen.boards] = self._tries.get(chosen.boards, 0) + 1
        return replace(chosen, tries=tries)

    def _values(self) -> NDArray[np.float64]:
        """Worth of the best filling known, by board in play and prices remembered."""
        columns, boards = self.market.columns, np.array(self.market.boards)
        worth = np.minimum(columns.counts, self.market.job.wanted) @ np.array(self._prices).T
        order = np.argsort(columns.boards, kind="stable")
        known, first = np.unique(columns.boards[order], return_index=True)
        values = np.zeros((len(self.market.prices), len(self._prices)))
        values[known] = np.maximum.reduceat(worth[order], first)
        found: NDArray[np.float64] = values[boards]
        return found

    def _all(self, money: float) -> NDArray[np.bool_]:
        """Every set that costs less, and to which no board can be added; a row for each."""
        if self._listed_for != money:
            count, prices = len(self.market.boards), self.market.prices[self.market.boards]
            sets = (np.arange(1 << count)[:, None] >> np.arange(count)) & 1 == 1
            paid = sets @ prices
            another = np.where(sets, np.inf, prices).min(axis=1)
            self._listed = sets[(paid < money - _LEAST) & (paid + another >= money - _LEAST)]
            self._listed_for = money
        return self._listed


def made_of(targets: Targets, target: Target, stop: Stop, share: float, kept: Draft | None = None) -> Draft:
    """A draft on these boards alone, as whole as it was got; a part of it may be given."""
    making = _Making(targets, target, stop, kept)
    noise = targets.market.chance.choice((0.1, 0.3, 1.0))
    most = _HOPELESS * float(targets.weights @ np.array(targets.market.job.wanted))
    while any(making.draft.missing) and making.open and not stop.now(share):
        answer = making.filled_up(_FILLED_LATER if making.draft.fillings else _FILLED, share)
        if answer is None or (not making.draft.fillings and answer.cost > most):
            break
        if not making.take(answer, noise):
            break
    return making.draft


def made_anew(targets: Targets, target: Target, draft: Draft, stop: Stop, share: float) -> Draft:
    """A draft of a set with some of its boards filled anew; the same one where that leaves more over."""
    used, kept = list(draft.fillings), draft.copy()
    for board in targets.market.chance.sample(used, min(_ANEW, len(used))):
        kept.clear(board)
    found = made_of(targets, target, stop, share, kept)
    return found if targets.lacks(found) <= targets.lacks(draft) else draft


class _Making:
    """A draft half made on a few boards, and the fillings it may be made whole with."""

    def __init__(self, targets: Targets, target: Target, stop: Stop, kept: Draft | None) -> None:
        self.targets, self.market, self.stop = targets, targets.market, stop
        job, known = self.market.job, self.market.columns
        self.draft = Draft(list(job.wanted)) if kept is None else kept.copy()
        self.open = set(target.boards).difference(self.draft.fillings)
        self._free = np.zeros(len(job.boards))
        self._columns = Columns(len(job.parts))
        for number in np.flatnonzero(np.isin(known.boards, target.boards)).tolist():
            self._columns.add(known.fillings[number])
        self._useful = np.zeros(0, dtype=np.int64)
        self._doubtful = _DOUBTFUL * float(targets.weights @ np.array(job.wanted))

    def filled_up(self, times: int, share: float) -> Shares | None:
        """The cheapest shares, after boards were filled anew so often or until no part lacks its share."""
        answer = self._shares()
        least, idle, thorough = np.inf, 0, _THOROUGH
        while answer is not None:
            if not self.draft.fillings:
                self.targets.learn(answer.worth)
            idle = 0 if answer.cost < least - _LEAST else idle + 1
            least = min(least, answer.cost)
            patience = _IDLE if len(self.open) > 1 else _IDLE_AT_LAST
            if answer.cost < _LEAST or self.stop.now(share):
                break
            if times and idle < patience:
                times -= 1
                self._fill(answer)
            elif thorough and answer.cost < self._doubtful:
                thorough -= 1
                if not self._fill_densely(answer):
                    break
            else:
                break
            answer = self._shares()
        return answer

    def take(self, answer: Shares, noise: float) -> bool:
        """Take a filling of which much is used; whether there was one that holds what is missing."""
        if not len(answer.shares):
            return False
        drawn = np.array([exp(noise * self.market.chance.gauss(0.0, 1.0)) for _ in answer.shares])
        number = int(((answer.shares + _LEAST) * drawn).argmax())
        filling = self._columns.fillings[int(self._useful[number])]
        self.draft.put(filling)
        if min(self.draft.missing) < 0:
            self.draft = trimmed(self.draft)
        self.open.discard(filling.board)
        return True

    def _shares(self) -> Shares | None:
        """Shares of fillings that leave least over, the boards being free; None if there was no time."""
        self.stop.rounds += _COST_OF_STEP
        held = np.minimum(self._columns.counts, np.array(self.draft.missing, dtype=np.int32))
        here = np.isin(self._columns.boards, list(self.open)) & held.any(axis=1)
        self._useful = np.flatnonzero(here)
        seconds = None if self.stop.counted else min(max(self.stop.left(), 0.01), _SECONDS)
        return cheapest_shares(
            held[here],
            self._columns.boards[here],
            self._free,
            self.draft.missing,
            self.targets.weights,
            seconds,
        )

    def _fill_densely(self, answer: Shares) -> bool:
        """Fill every open board as densely as can be for the prices of now; whether something new came."""
        new = False
        for board in sorted(self.open):
            for filling in self.market.densest(self.stop, board, self.draft.missing, answer.worth):
                self.market.columns.add(filling)
                new |= self._columns.add(filling)
        return new

    def _fill(self, answer: Shares) -> None:
        """Fill every open board anew for the prices of now."""
        market = self.market
        for board in sorted(self.open):
            beam = market.chance.choice(_BEAMS)
            self.stop.rounds += beam - 1
            rent = float(answer.rents[board])
            found = market.filled(self.stop, board, self.draft.missing, answer.worth, rent, beam, aimed=True)
            market.columns.add(found)
            self._columns.add(found)
