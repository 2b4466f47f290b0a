"""Boards on careful grids, asked for sets that together make up all parts (`layout.solve.setwise`).

Near the best prices of a few boards the sets that each gives are listed (`layout.solve.near_sets`), and one
of each is looked for that together make up all parts (`layout.solve.one_each`).
"""

from collections.abc import Sequence
from math import prod
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Shop
from layout.cuts import Box
from layout.parts import Part
from layout.solve.counted import Counts
from layout.solve.fields import Careful, Level, careful_near
from layout.solve.near_sets import NearSets, made_up, near_sets
from layout.solve.near_slabs import Priced
from layout.solve.one_each import one_of_each
from layout.solve.outside import Outside
from layout.solve.packed import Packed, Whole
from layout.solve.priced import Slabs, whole_prices
from layout.solve.slab_choice import Prices as BestPrices
from layout.solve.slab_choice import prices_of
from layout.solve.worths import Prices
from layout.stock import Board

__all__ = ["Asked", "Grids", "counted"]

_ENOUGH = 1e-2  # nearer to the best prices they need not be
# Of all parts, that sets of all boards together may lose at first: of few boards, and of more than so many.
_FEW_BOARDS, _LOSS, _LOSS_OF_MORE = 4, 0.02, 0.032
_MORE = 1.6  # times as much, next
_MOST_SETS = 2_000  # of a board
_MANY = 1_500  # sets of a board, from which on more take too long
_EVERY = 10**10  # choices of sets, of which most lose too much to be looked at
_BEGUN, _MOVES = 4, 4_000  # times, and moves in each
_FULL = 0.8  # of the most a board may be worth


class Asking(Protocol):
    """What is worked on, as `SetBySet` has it."""

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    known: Outside
    taken: Sequence[Sequence[Box]]

    def left(self) -> float:
        """Time left [s]."""
        ...


class Grids:
    """Careful grids of all boards, of about one pitch; what `Subsets` looks at."""

    def __init__(self, work: Asking, about: Level, alike: float) -> None:
        self.work, self.known, self._about, self._alike = work, work.known, about, alike
        self._made: dict[int, tuple[Careful, Slabs]] = {}

    def _of(self, board: int) -> tuple[Careful, Slabs]:
        if board not in self._made:
            work = self.work
            one, most = work.boards[board], work.known.most[board]
            careful = careful_near(one, work.parts, work.shop, self._about, work.taken[board], most)
            self._made[board] = careful, Slabs(careful.field, work.shop.stages, exact=True, alike=self._alike)
        return self._made[board]

    def careful(self, board: int) -> Careful:
        """How its cells lie on the board."""
        return self._of(board)[0]

    def slabs(self, board: int) -> Slabs:
        """Its programmes."""
        return self._of(board)[1]

    def programmes(self, board: int, level: int) -> Slabs:
        """The same; there is one level."""
        assert level == 0
        return self.slabs(board)

    def worth(self, board: int, level: int, whole: Prices) -> tuple[int, list[int]]:
        """Most worth of a board at these prices, and copies that have it."""
        worth, pieces = self.programmes(board, level).best(whole)
        return worth, counted([t for t, _, _ in pieces], len(whole)).tolist()

    def left(self) -> float:
        """Time left [s]."""
        return self.work.left()


class Asked:
    """Some boards on grids of one pitch.

    Parameters
    ----------
    work : Asking
    grids : Grids
    boards : sequence of int
    given : dict of int to list of tuple of int
        By board, sets that it is known to give; what it is seen to give is added.
    """

    def __init__(
        self, work: Asking, grids: Grids, boards: Sequence[int], given: dict[int, list[Counts]]
    ) -> None:
        self.work, self.grids, self.boards, self.given = work, grids, boards, given
        self._worths: dict[tuple[int, Prices], int] = {}

    def go_on(self) -> bool:
        """Whether there is time left."""
        return self.work.left() > 0.0

    def least_worth(self, least: float, start: NDArray[np.float64] | None = None) -> BestPrices:
        """Prices at which the boards are worth little more than they have to be, or less than that.

        Looked for from others on, if they are given.
        """
        views = {board: _View(self, board) for board in self.boards}
        return prices_of(views, self.work.known.wanted, _ENOUGH, self.go_on, self.given, start, least)

    def valued(self, board: int, whole: Prices) -> tuple[int, Counts]:
        """Most worth of a board at prices in whole numbers, and copies that have it."""
        worth, pieces = self.grids.slabs(board).best(whole)
        counts: Counts = tuple(counted([t for t, _, _ in pieces], len(whole)).tolist())
        self.given[board].append(counts)
        self._worths[board, whole] = worth
        return worth, counts

    def _worth(self, board: int, whole: Prices) -> int:
        """The same worth, which may be known."""
        known = self._worths.get((board, whole))
        return self.valued(board, whole)[0] if known is None else known

    def in_whole(self, prices: NDArray[np.float64]) -> Prices:
        """Prices in whole numbers; none is nought: a part of no worth would be in no set."""
        return whole_prices(map(self.grids.slabs, self.boards), prices, _FULL, least=1)

    def sets(self, prices: NDArray[np.float64]) -> dict[int, Counts] | None:
        """One set of each board near these prices, that together make up all parts; None if none is found.

        More and more of the sets are looked at.
        """
        whole = self.in_whole(prices)
        cost = int(np.dot(whole, self.work.known.wanted))
        spare = sum(self._worth(board, whole) for board in self.boards) - cost
        first = _LOSS if len(self.boards) <= _FEW_BOARDS else _LOSS_OF_MORE
        loss = min(int(first * cost / len(self.boards)), spare)
        while True:
            found = self._near(whole, loss)
            if found is None or spare < 0 or not self.go_on():
                return None
            chosen = self._chosen(found, whole, spare)
            if chosen is not None:
                rows = [tuple(row.tolist()) for row in chosen]
                return dict(zip(self.boards, rows, strict=True))
            if loss == spare or max(len(own.losses) for own in found) >= _MANY:
                return None
            loss = min(int(loss * _MORE), spare)

    def _chosen(self, found: Sequence[NearSets], whole: Prices, spare: int) -> Sequence[Whole] | None:
        """One set of each board, that together make up all parts; None if none is found."""
        wanted, many = self.work.known.wanted, prod(len(own.losses) for own in found)
        if not many:
            return None
        # Every choice is looked at where they are not too many.
        answer = made_up(found, wanted, spare, self.go_on) if many <= _EVERY else None
        if answer is not None:
            return answer if isinstance(answer, list) else None
        offered = [own.counts for own in found]
        for seed in range(1, _BEGUN + 1):
            chosen = one_of_each(offered, wanted, whole, _MOVES, seed)
            if chosen is not None:
                return [own[number] for own, number in zip(offered, chosen, strict=True)]
        return None

    def _near(self, whole: Prices, loss: int) -> list[NearSets] | None:
        """Sets of each board that lose no more than that, the nearest first; None if they are too many."""
        found: list[NearSets] = []
        for board in self.boards:
            # Its tables are large, and let go of before the next one's are made.
            one = Priced(self.grids.slabs(board), whole)
            near = near_sets(one, self._most(board, whole), loss, self.go_on)
            if near is None:
                return None
            first = np.argsort(near.losses, kind="stable")[:_MOST_SETS]
            found.append(NearSets(near.counts[first], near.losses[first]))
        return found

    def _most(self, board: int, whole: Prices) -> Counts:
        """Copies of each part that are thought of: as many kinds as there are bits for.

        Those that the board gave in what comes nearest to the best worth go first.
        """
        most = self.work.known.most[board]
        given = np.array(self.given[board])
        near = given[np.argsort(-(given @ np.array(whole)), kind="stable")]
        first = (near > 0).argmax(axis=0) + np.where((near > 0).any(axis=0), 0, len(near))
        found = [0] * len(most)
        for part in np.argsort(first, kind="stable").tolist():
            more = [*found]
            more[part] = most[part]
            if Packed(more).fits:
                found = more
        return tuple(found)


class _View:
    """A board asked at prices in whole numbers; what it gives is added to what was seen."""

    def __init__(self, asked: Asked, board: int) -> None:
        self.asked, self.board = asked, board

    def given(self, prices: NDArray[np.float64]) -> tuple[float, NDArray[Any]]:
        """Most worth, in shares of all parts, and copies that have it."""
        asked = self.asked
        whole = asked.in_whole(prices)
        worth, counts = asked.valued(self.board, whole)
        return worth / max(float(np.dot(whole, asked.work.known.wanted)), 1.0), np.array(counts)


def counted(parts: Sequence[int], every: int) -> NDArray[np.int64]:
    """Copies of each of so many parts."""
    return np.bincount(np.array(parts, dtype=np.int64), minlength=every)
