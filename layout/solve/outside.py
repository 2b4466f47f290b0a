"""What boards can give, known from outside: an integer programme that no layout of all parts undercuts.

minimise    price of boards used
such that   the boards together give every part as often as it is wanted,
            and each board gives what is not yet known to be too much for it

What is known of a board comes in three kinds:

* a price: at these prices of the parts it is worth so much at most;
* a bar: these parts cannot all come from it;
* its maximal sets: it gives no more than one of them. Then the others are of no account.

And of boards together: a cut, at prices at which those used have to reach what all parts cost.

Copies of a part from a board are told in steps, "at least one", "at least two" ..., so
that a bar is one row. The answer holds for whatever was known for: layouts of one
class of sawing, or of all.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_array

from layout.solve.cheapest import cheapest

__all__ = ["Answer", "Outside"]

Counts = tuple[int, ...]

_MOST_BARS = 400  # of a board; the smallest are kept


@dataclass(frozen=True)
class Answer:
    """An answer to the programme.

    Parameters
    ----------
    money : float
        Less than which no layout costs.
    used : tuple of float
        How much of each board is used, 0 to 1; empty if none was found in time.
    gives : tuple of tuple of float
        Copies of each part from each board.
    prices : tuple of float
        What one more copy of each part would add [money]; relaxed answers only.
    """

    money: float
    used: tuple[float, ...] = ()
    gives: tuple[tuple[float, ...], ...] = ()
    prices: tuple[float, ...] = ()


class Outside:
    """All that is known of the boards of a job.

    Parameters
    ----------
    wanted : sequence of int
        Copies of each part.
    money : sequence of float
        Price of each board.
    most : sequence of sequence of int
        For each board, the copies of each part it gives at most.
    """

    def __init__(self, wanted: Sequence[int], money: Sequence[float], most: Sequence[Sequence[int]]) -> None:
        self.wanted, self.money = tuple(wanted), tuple(money)
        self.most = [tuple(min(a, b) for a, b in zip(row, wanted, strict=True)) for row in most]
        boards = len(self.money)
        self._prices: list[dict[tuple[float, ...], float]] = [{} for _ in range(boards)]
        self._bars: list[set[Counts]] = [set() for _ in range(boards)]
        self._sets: list[tuple[Counts, ...] | None] = [None] * boards
        self._cuts: list[tuple[list[float], float]] = []
        self._least = 0.0

    def costs_at_least(self, money: float) -> None:
        """No layout costs less than that, as is known otherwise [money]."""
        self._least = max(self._least, money)

    def cut(self, worths: Sequence[float], least: float) -> None:
        """Boards used are together worth at least so much, each this or less."""
        self._cuts.append((list(worths), least))

    def sharpen(self, number: int, board: int, worth: float) -> None:
        """In one of the cuts a board is worth no more than that."""
        self._cuts[number][0][board] = worth

    def chosen(self, seconds: float) -> tuple[float, tuple[int, ...]] | None:
        """The cheapest boards that all cuts allow: a bound, and which; None if there are none."""
        if not self._cuts:
            return 0.0, ()
        money = np.array(self.money)
        worths = np.array([*(worths for worths, _ in self._cuts), self.money], dtype=np.float64)
        least = np.array([least for _, least in (*self._cuts, ((), self._least))], dtype=np.float64)
        tried = cheapest(money, worths, least)
        if tried is not None:
            return (_surely(tried[0]), tried[1]) if tried[0] < np.inf else None
        found = milp(
            money,
            integrality=np.ones(len(money)),
            bounds=Bounds(0.0, 1.0),
            constraints=LinearConstraint(worths, least * (1.0 - 1e-9), np.inf),
            options={"time_limit": max(seconds, 0.05), "mip_rel_gap": 0.0},
        )
        if found.status == 2:
            return None
        boards = () if found.x is None else tuple(np.flatnonzero(found.x > 0.5).tolist())
        return _surely(found.mip_dual_bound), boards

    def price(self, board: int, prices: Sequence[float], worth: float) -> None:
        """At these prices (not negative) the board is worth no more than that."""
        known = self._prices[board]
        key = tuple(prices)
        known[key] = min(worth, known.get(key, worth))

    def bar(self, board: int, counts: Counts) -> None:
        """The board cannot give all of these parts."""
        self._bars[board].add(counts)
        sets = self._sets[board]
        if sets is not None:
            self._sets[board] = _barred(sets, counts)

    def give(self, board: int, sets: Sequence[Counts]) -> None:
        """The board gives no more than one of these sets."""
        self._sets[board] = tuple(sets)

    def doubting(self, doubts: Sequence[tuple[int, Counts]]) -> "Outside":
        """The same, with bars (board, counts) that are not known to hold: for looking elsewhere."""
        found = Outside(self.wanted, self.money, self.most)
        found._prices, found._cuts = self._prices, list(self._cuts)
        found._bars = [set(bars) for bars in self._bars]
        found._sets = list(self._sets)
        for board, counts in doubts:
            found.bar(board, counts)
        return found

    def alone(self) -> "Outside":
        """What is known of each board alone. What is learnt of one of the two is not told to the other."""
        found = Outside(self.wanted, self.money, self.most)
        found._prices = [dict(known) for known in self._prices]
        found._bars = [set(bars) for bars in self._bars]
        found._sets = list(self._sets)
        found.costs_at_least(self._least)
        return found

    def relaxed(self) -> Answer | None:
        """The answer with boards and parts divisible; None if there is none."""
        rows = _Rows(self)
        found = linprog(
            rows.costs,
            A_ub=rows.matrix(),
            b_ub=np.array(rows.most),
            bounds=np.column_stack((np.zeros(rows.count), rows.upper)),
            method="highs",
        )
        if found.status != 0:
            return None if found.status == 2 else Answer(0.0)
        prices = -found.ineqlin.marginals[: len(self.wanted)]
        return self._answer(rows, _surely(found.fun), found.x, tuple(prices.tolist()))

    def whole(self, seconds: float) -> Answer | None:
        """The answer in whole boards and parts, or the best bound found in time [s]; None: not possible."""
        rows = _Rows(self)
        found = milp(
            rows.costs,
            integrality=np.ones(rows.count),
            bounds=Bounds(0.0, rows.upper),
            constraints=LinearConstraint(rows.matrix(), -np.inf, np.array(rows.most)),
            options={"time_limit": max(seconds, 0.05), "mip_rel_gap": 0.0},
        )
        if found.status == 2:
            return None
        money = _surely(found.mip_dual_bound)
        return Answer(money) if found.x is None else self._answer(rows, money, found.x.round(), ())

    def _answer(
        self, rows: "_Rows", money: float, x: NDArray[np.float64], prices: tuple[float, ...]
    ) -> Answer:
        boards = len(self.money)
        gives = [[0.0] * len(self.wanted) for _ in range(boards)]
        for column, (board, held) in rows.meaning.items():
            for part, copies in held:
                gives[board][part] += copies * float(x[column])
        return Answer(money, tuple(x[:boards].tolist()), tuple(map(tuple, gives)), prices)

    def cuts(self) -> list[tuple[list[float], float]]:
        """What boards used have to be worth together: worths of boards, and the least sum."""
        return self._cuts

    def rows_of(self, board: int) -> tuple[dict[tuple[float, ...], float], list[Counts]]:
        """The prices and the bars of a board."""
        return self._prices[board], sorted(self._bars[board], key=sum)[:_MOST_BARS]

    def sets_of(self, board: int) -> tuple[Counts, ...] | None:
        """The maximal sets of a board, where they are known."""
        return self._sets[board]


def _barred(sets: Sequence[Counts], counts: Counts) -> tuple[Counts, ...]:
    """The maximal sets of those that lie in the ones given and do not hold what is barred."""
    rows = [row for row in sets if any(n < barred for n, barred in zip(row, counts, strict=True))]
    less = {
        (*row[:t], barred - 1, *row[t + 1 :])
        for row in set(sets).difference(rows)
        for t, barred in enumerate(counts)
        if barred
    }
    every = np.array([*rows, *less], dtype=np.int64).reshape(len(rows) + len(less), len(counts))
    return (*rows, *(row for row in sorted(less) if (every >= row).all(axis=1).sum() == 1))


def _surely(money: float | None) -> float:
    """A solver's bound less what it may be wrong by."""
    return 0.0 if money is None else max(float(money) * (1.0 - 1e-7), 0.0)


class _Rows:
    """The programme as rows `matrix @ x <= most`: a column for each board, then those of its parts."""

    def __init__(self, known: Outside) -> None:
        self.known = known
        self.meaning: dict[int, tuple[int, list[tuple[int, int]]]] = {}  # column: board, (part, copies)
        self.most: list[float] = [-float(wanted) for wanted in known.wanted]
        self._entries: list[tuple[int, int, float]] = []
        self.count = len(known.money)
        for board in range(len(known.money)):
            sets = known.sets_of(board)
            if sets is None:
                self._outside(board)
            else:
                self._inside(board, sets)
        for worths, least in known.cuts():
            self._row(-least * (1.0 - 1e-9), [(board, -worth) for board, worth in enumerate(worths)])
        for column, (_, held) in self.meaning.items():
            self._entries += [(part, column, -float(copies)) for part, copies in held]
        self.costs = np.zeros(self.count)
        self.costs[: len(known.money)] = known.money
        self.upper = np.ones(self.count)

    def matrix(self) -> csr_array:
        rows, columns, values = zip(*self._entries, strict=True) if self._entries else ((), (), ())
        return csr_array((values, (rows, columns)), shape=(len(self.most), self.count))

    def _row(self, most: float, entries: Sequence[tuple[int, float]]) -> None:
        self._entries += [(len(self.most), column, value) for column, value in entries if value]
        self.most.append(most)

    def _inside(self, board: int, sets: Sequence[Counts]) -> None:
        """A column for each maximal set; one of them at most, and only if the board is used."""
        first = self.count
        for counts in sets:
            self.meaning[self.count] = (board, [(part, n) for part, n in enumerate(counts) if n])
            self.count += 1
        self._row(0.0, [(board, -1.0), *((column, 1.0) for column in range(first, self.count))])

    def _outside(self, board: int) -> None:
        """A column for every further copy of a part; a row for every price and every bar."""
        steps: dict[int, list[int]] = {}
        for part, most in enumerate(self.known.most[board]):
            steps[part] = list(range(self.count, self.count + most))
            self.count += most
            for place, column in enumerate(steps[part]):
                self.meaning[column] = (board, [(part, 1)])
                self._row(0.0, [(column, 1.0), (steps[part][place - 1] if place else board, -1.0)])
        prices, bars = self.known.rows_of(board)
        for each, worth in prices.items():
            held = [(column, each[part]) for part, columns in steps.items() for column in columns]
            self._row(0.0, [(board, -worth), *held])
        for counts in bars:
            if all(copies <= len(steps[part]) for part, copies in enumerate(counts)):
                last = [(steps[part][copies - 1], 1.0) for part, copies in enumerate(counts) if copies]
                self._row(len(last) - 1.0, last)
