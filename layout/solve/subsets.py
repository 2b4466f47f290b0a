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

Of boards outside the choice only a cheap guess from above goes into a row (`layout.solve.worths`);
they are valued when a choice that the row allows has them.

Prices are whole numbers, the same for all boards, and worths are exact on the hopeful grids;
so nothing is rounded in a row.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from layout.solve.outside import Outside
from layout.solve.worths import Looking, Prices, Worths

__all__ = ["Subsets"]

_SURE = 1e-6
_WEIGHT = 0.5  # of the prices that came nearest, in those tried next
_TRIES = 60  # prices tried on boards picked, by grid


@dataclass
class _Row:
    """Prices, and what each board is worth at them at most.

    Parameters
    ----------
    number : int
        Of the cut.
    prices : tuple of int
    level : int
        Of the grids.
    exact : set of int
        Boards that were valued.
    """

    number: int
    prices: Prices
    level: int
    exact: set[int]


class Subsets:
    """Choices of boards, ruled out by prices.

    Parameters
    ----------
    work : Looking
    areas : sequence of float
        Of the parts: what a missing copy costs.
    finest : int
        Level of the finest grid that boards picked are valued on.
    hints : sequence of sequence of tuple of int
        By board, sets of parts it is known to give.
    copies : bool
        Whether copies are counted, as far as other prices can tell.
    margin : float
        Share of all parts that boards are to give beyond them. Other than nought, what falls is no bound.
    before : Subsets, optional
        Of the same boards on the same grids, whose prices and worths are used on.
    """

    def __init__(
        self,
        work: Looking,
        areas: Sequence[float],
        finest: int,
        hints: Sequence[Sequence[Prices]] = (),
        copies: bool = True,
        margin: float = 0.0,
        before: "Subsets | None" = None,
    ) -> None:
        self.known: Outside = work.known
        self.work, self.finest, self.copies = work, finest, copies
        self.areas = np.array(areas) / max(areas)
        self.wanted = np.array(self.known.wanted, dtype=np.float64) * (1.0 + margin)
        self.worths: Worths = before.worths if before else Worths(work, hints)
        self._rows: list[_Row] = []
        self.standing: tuple[int, ...] = ()  # boards that no prices ruled out
        self._near: NDArray[np.float64] | None = None  # prices that came nearest, of late
        if before:
            self._take_over(before)

    def _take_over(self, before: "Subsets") -> None:
        """Its rows, with what is wanted here."""
        for row in before._rows:
            worths, _ = before.known.cuts()[row.number]
            self._rows.append(replace(row, number=len(self.known.cuts()), exact=set(row.exact)))
            self.known.cut(worths, float(np.dot(row.prices, self.wanted)))

    def bounds(self, reserved: float) -> Iterator[float | None]:
        """Better and better bounds, until a choice of boards stands; None if no choice does."""
        self.standing = ()
        if not self._rows:
            self._rule_out(self.work.whole(self.areas, (), 0), self.work.first, 0)
        while self.work.left() > reserved:
            found = self.known.chosen(max(self.work.left(), 0.2))
            yield None if found is None else found[0]
            if found is None or not found[1]:
                return
            if not self._sharpened(found[1], reserved) and not self._ruled_out(found[1], reserved):
                self.standing = found[1]
                return

    def _sharpened(self, boards: Sequence[int], reserved: float) -> bool:
        """Whether one of the rows forbids these boards once they are all valued."""
        for row in reversed(self._rows):
            worths, least = self.known.cuts()[row.number]
            now = sum(worths[board] for board in boards)
            open_to = [board for board in boards if board not in row.exact]
            while open_to and now >= least - 0.5 and self.work.left() >= reserved:
                some, open_to = open_to[: self.work.at_once], open_to[self.work.at_once :]
                row.exact.update(some)
                for board, exact in zip(some, self.worths.exact(some, row.level, row.prices), strict=True):
                    worth = min(exact, worths[board])
                    now += worth - worths[board]
                    self.known.sharpen(row.number, board, worth)
            if now < least - 0.5:
                return True
        return False

    def _ruled_out(self, boards: Sequence[int], reserved: float) -> bool:
        """Whether these boards cannot do together; the prices that say so are kept as a row."""
        levels = range(self.finest + 1)
        return any(
            self._falls(boards, level, counted, reserved)
            for counted in ((False, True) if self.copies else (False,))
            for level in levels[int(counted) :]
        )

    def _falls(self, boards: Sequence[int], level: int, counted: bool, reserved: float) -> bool:
        """The same on grids of one level.

        Prices tried lie between the newest and those that came nearest so far; the
        newest alone where that shows nothing new. The first are those that came nearest of late.
        """
        centre, nearest, alone = np.zeros(len(self.wanted)), np.inf, True
        first = self._near
        for _ in range(_TRIES):
            prices = self._missing(boards, level, counted)
            if prices is None or self.work.left() < reserved:
                return False
            prices /= prices @ self.wanted
            tried = prices if alone else _WEIGHT * centre + (1.0 - _WEIGHT) * prices
            if first is not None:
                tried, first, alone = first, None, False
            whole = self.work.whole(tried, boards, level)
            before = self._seen(boards, level)
            worth = self._worth(boards, level, whole, counted) / np.dot(whole, self.wanted)
            self._near = tried if worth < nearest else self._near
            if worth < 1.0:
                self._rule_out(whole, boards, level)
                return True
            new = self._seen(boards, level) > before
            if alone and not new:
                return False
            if worth < nearest:
                nearest, centre = worth, tried
            alone = not new
        return False

    def _worth(self, boards: Sequence[int], level: int, whole: Prices, counted: bool) -> float:
        """What boards are worth together; copies are counted as far as that might rule the boards out."""
        need = float(np.dot(whole, self.wanted)) - 0.5
        worths = dict(zip(boards, self.worths.exact(boards, level, whole), strict=True))
        least = {board: self.worths.least(board, level, whole) for board in boards}
        open_to = set(boards if counted else ())
        while open_to and sum(worths.values()) >= need > sum(least.values()):
            board = max(open_to, key=lambda one: worths[one] - least[one])
            finer = self.worths.finer(board, level, whole) if worths[board] > least[board] else None
            if finer is None:
                open_to.remove(board)
                continue
            worths[board] = finer
            least = {one: self.worths.least(one, level, whole) for one in boards}
        return sum(worths.values()) + 0.5

    def _seen(self, boards: Sequence[int], level: int) -> int:
        return sum(len(self.worths.given(board, level)) for board in boards)

    def _rule_out(self, whole: Prices, boards: Sequence[int], level: int) -> None:
        exact = dict(zip(boards, self.worths.exact(boards, level, whole), strict=True))
        worths = [
            exact[board] if board in exact else self.worths.about(board, whole)
            for board in range(len(self.known.money))
        ]
        self._rows.append(_Row(len(self.known.cuts()), whole, level, set(boards)))
        self.known.cut(worths, float(np.dot(whole, self.wanted)))

    def _missing(self, boards: Sequence[int], level: int, counted: bool) -> NDArray[np.float64] | None:
        """Prices at which the parts cost more than all that was seen given; None if that is enough.

        If that is `counted`, nothing given counts beyond the copies there may be.
        """
        most_of = self.known.most
        columns = [
            (number, np.minimum(row, most_of[board]) if counted else row)
            for number, board in enumerate(boards)
            for row in self.worths.given(board, level)
        ]
        parts, count = len(self.areas), len(self.areas) + len(columns)
        matrix = np.zeros((parts + len(boards), count))
        matrix[:parts, :parts] = -np.eye(parts)
        matrix[:parts, parts:] = -np.array([row for _, row in columns]).T
        matrix[[parts + number for number, _ in columns], np.arange(parts, count)] = 1.0
        costs = np.concatenate((self.areas, np.zeros(len(columns))))
        most = np.concatenate((-self.wanted, np.ones(len(boards))))
        found = linprog(costs, A_ub=matrix, b_ub=most, method="highs")
        if found.status != 0 or found.fun < _SURE:
            return None
        prices: NDArray[np.float64] = np.maximum(-found.ineqlin.marginals[:parts], 0.0)
        return prices
