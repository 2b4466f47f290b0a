"""Which boards cannot give all parts together, at any prices one likes.

For any prices of the parts, not negative, what boards are worth at most has to reach what
all parts cost: with V the worth of a board at these prices and z whether it is used,

    sum over boards of V * z  >=  sum over parts of price * copies wanted.

A tiny integer programme picks the cheapest boards that satisfy all such rows so far. Prices
that contradict its choice are looked for by column generation over these few boards only:
as many parts as can be are made up of shares of what the boards were seen to give; what is
missing has a price, and the boards are valued at these prices (`layout.solve.priced`). When
that is less than the parts cost, the choice falls, and with it every other one for which
the row does not hold.

Prices are whole numbers, the same for all boards, and worths are exact on the hopeful grids;
so nothing is rounded in a row.
"""

from collections.abc import Iterator, Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from layout.solve.outside import Outside
from layout.solve.priced import MOST, Slabs

__all__ = ["Subsets"]

Prices = tuple[int, ...]

_SURE = 1e-6
_SHORT = 1e-7  # of a solver's bound, conceded
_FULL = 0.85  # of the most a board may be worth; stacks are relaxed by up to 1.15
_TRIES = 60  # prices tried on boards picked, by grid


class Looking(Protocol):
    """What is worked on, as `straight_bounds` has it."""

    known: Outside

    def programmes(self, board: int, level: int) -> Slabs:
        """A board's programmes on a grid of that level."""
        ...

    def left(self) -> float:
        """Time left [s]."""
        ...


class Subsets:
    """Choices of boards, ruled out by prices.

    Parameters
    ----------
    work : Looking
    areas : sequence of float
        Of the parts: what a missing copy costs.
    finest : int
        Level of the finest grid that boards picked are valued on.
    """

    def __init__(self, work: Looking, areas: Sequence[float], finest: int) -> None:
        self.work, self.finest = work, finest
        self.areas = np.array(areas) / max(areas)
        self.wanted = np.array(work.known.wanted, dtype=np.float64)
        self._given: dict[tuple[int, int], list[Prices]] = {}
        self._worths: dict[tuple[int, int, Prices], int] = {}

    def bounds(self, reserved: float) -> Iterator[float | None]:
        """Better and better bounds, until a choice of boards stands; None if no choice does."""
        known = self.work.known
        self._rule_out(self._whole(self.areas, range(len(known.money)), 0), (), 0)
        while self.work.left() > reserved:
            found = known.chosen(max(self.work.left(), 0.2))
            yield None if found is None else found[0]
            if found is None or not found[1] or not self._ruled_out(found[1], reserved):
                return

    def _ruled_out(self, boards: Sequence[int], reserved: float) -> bool:
        """Whether these boards cannot do together; the prices that say so are kept as a row."""
        for level in range(self.finest + 1):
            for _ in range(_TRIES):
                prices = self._missing(boards, level)
                if prices is None or self.work.left() < reserved:
                    break
                whole = self._whole(prices, boards, level)
                before = sum(len(self._columns(board, level)) for board in boards)
                worth = sum(self._worth(board, level, whole) for board in boards)
                if worth < np.dot(whole, self.wanted) - 0.5:
                    self._rule_out(whole, boards, level)
                    return True
                if before == sum(len(self._columns(board, level)) for board in boards):
                    break
        return False

    def _rule_out(self, whole: Prices, boards: Sequence[int], level: int) -> None:
        known = self.work.known
        worths = [
            self._worth(board, level if board in boards else 0, whole) for board in range(len(known.money))
        ]
        known.cut(worths, float(np.dot(whole, self.wanted)))

    def _missing(self, boards: Sequence[int], level: int) -> NDArray[np.float64] | None:
        """Prices at which the parts cost more than all that was seen given; None if that is enough."""
        columns = [
            (number, row) for number, board in enumerate(boards) for row in self._columns(board, level)
        ]
        parts, count = len(self.areas), len(self.areas) + len(columns)
        matrix = np.zeros((parts + len(boards), count))
        matrix[:parts, :parts] = -np.eye(parts)
        for column, (number, row) in enumerate(columns, parts):
            matrix[:parts, column] = -np.array(row)
            matrix[parts + number, column] = 1.0
        costs = np.concatenate((self.areas, np.zeros(len(columns))))
        most = np.concatenate((-self.wanted, np.ones(len(boards))))
        found = linprog(costs, A_ub=matrix, b_ub=most, method="highs")
        if found.status != 0 or found.fun < _SURE:
            return None
        prices: NDArray[np.float64] = np.maximum(-found.ineqlin.marginals[:parts], 0.0)
        return prices

    def _columns(self, board: int, level: int) -> list[Prices]:
        if (board, level) not in self._given:
            there = self.work.programmes(board, level).parts
            every = len(self.areas)
            self._given[board, level] = [tuple(int(t == one) for t in range(every)) for one in there]
        return self._given[board, level]

    def _worth(self, board: int, level: int, whole: Prices) -> int:
        """The most a board is worth at these prices; what has it is kept."""
        key = board, level, whole
        if key not in self._worths:
            worth, pieces = self.work.programmes(board, level).best(whole)
            counts = np.bincount([t for t, _, _ in pieces], minlength=len(whole))
            column = tuple(int(n) for n in counts)
            if column not in self._columns(board, level):
                self._columns(board, level).append(column)
            self._worths[key] = worth
        return self._worths[key]

    def _whole(self, prices: NDArray[np.float64], boards: Sequence[int], level: int) -> Prices:
        """Prices in whole numbers, so large that no board of the job is worth more than it may be."""
        scale = np.inf
        for board in range(len(self.work.known.money)):
            slabs = self.work.programmes(board, level if board in boards else 0)
            field = slabs.field
            dense = max((prices[t] / (field.lengths[t] * field.widths[t]) for t in slabs.parts), default=0.0)
            if dense > 0.0:
                scale = min(scale, _FULL * MOST / (dense * field.along * field.across))
        return tuple(int(price * scale + 0.5) if np.isfinite(scale) else 0 for price in prices)
