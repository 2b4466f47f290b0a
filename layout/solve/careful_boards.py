"""Boards on careful grids, asked for sets that together make up all parts (`layout.solve.setwise`).

Near the best prices of a few boards the sets that each gives are listed (`layout.solve.near_sets`), and one
of each is looked for that together make up all parts (`layout.solve.one_each`).
"""

from collections.abc import Mapping, Sequence
from math import log, prod
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Shop, sawn_length, sawn_width
from layout.parts import Part
from layout.solve.careful_board import Grid, Question
from layout.solve.counted import Counts
from layout.solve.fields import Level
from layout.solve.hands import Hands
from layout.solve.near_sets import NearSets, made_up
from layout.solve.one_each import one_of_each
from layout.solve.outside import Outside
from layout.solve.packed import Packed, Whole
from layout.solve.priced import MOST
from layout.solve.slab_choice import Prices as BestPrices
from layout.solve.slab_choice import prices_at
from layout.solve.worths import Prices
from layout.stock import Board

__all__ = ["Asked", "Grids", "counted"]

Real = NDArray[np.float64]

_ENOUGH = 1e-2  # nearer to the best prices they need not be
# Of all parts, that sets of all boards together may lose at first: of few boards, and of more than so many.
_FEW_BOARDS, _LOSS, _LOSS_OF_MORE = 4, 0.02, 0.023
_MOST_FIRST = 40  # boards valued before any is chosen
_MORE = (1.2, 2.0)  # times as much, next, at least and at most
_AIM = 800  # sets of a board are enough, mostly
_MANY = 1_500  # sets of a board, from which on more take too long
_EVERY = 10**8  # choices of sets, of which most lose too much to be looked at
_BEGUN, _MOVES = 4, 8_000  # times, and moves in each
_FULL, _FULL_OF_ALL = 0.8, 0.85  # of the most a board may be worth


class Asking(Protocol):
    """What is worked on, as `SetBySet` has it."""

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    known: Outside
    hands: Hands
    until: float

    def left(self) -> float:
        """Time left [s]."""
        ...


class Grids:
    """Careful grids of all boards, of about one pitch; what `Subsets` looks at."""

    def __init__(self, work: Asking, about: Level, alike: float) -> None:
        self.work, self.known, self._grid = work, work.known, Grid(about, alike)
        kerf = work.shop.allowances.kerf
        self._woods = [(board.length + kerf) * (board.width + kerf) for board in work.boards]
        allowances, parts = work.shop.allowances, work.parts
        lengths = np.array([sawn_length(part, allowances) for part in parts])
        widths = np.array([sawn_width(part, allowances) for part in parts])
        self._areas = (lengths + kerf) * (widths + kerf)
        self._parts: dict[int, list[int]] = {}

    @property
    def at_once(self) -> int:
        """Boards asked side by side."""
        return self.work.hands.count

    @property
    def first(self) -> Sequence[int]:
        """Boards that are valued before any is chosen: all, for most of them are chosen once anyway."""
        boards = range(len(self.work.boards))
        return boards if len(boards) <= _MOST_FIRST else ()

    def ask(self, what: str, asked: Mapping[int, tuple[Any, ...]]) -> list[Any]:
        """Answers of boards (`CarefulBoard`), each told something."""
        questions = [Question(self._grid, board, what, told) for board, told in asked.items()]
        return self.work.hands.asked(questions, self.work.until)

    def fitting(self, board: int, level: int = 0) -> list[int]:
        """Parts that fit a board; there is one level."""
        assert level == 0
        if board not in self._parts:
            (self._parts[board],) = self.ask("parts", {board: ()})
        return self._parts[board]

    def worths(self, boards: Sequence[int], level: int, whole: Prices) -> list[tuple[int, Counts]]:
        """Most worth of boards at these prices, and copies that have it."""
        assert level == 0
        return self.ask("worth", dict.fromkeys(boards, (whole,)))

    def whole(self, prices: Real, _boards: Sequence[int], _level: int) -> Prices:
        """Prices in whole numbers, so large that no board is worth more than it may be."""
        return self._in_whole(prices, self._woods, _FULL_OF_ALL, 0)

    def whole_of(self, prices: Real, boards: Sequence[int]) -> Prices:
        """The same for some boards alone; none is nought: a part of no worth would be in no set."""
        return self._in_whole(prices, [self._woods[board] for board in boards], _FULL, 1)

    def _in_whole(self, prices: Real, woods: Sequence[float], full: float, least: int) -> Prices:
        # No more is sawn out of a board than its area.
        most = float((prices / self._areas).max(initial=0.0)) * max(woods, default=0.0)
        scale = full * MOST / most if most > 0.0 else 0.0
        return tuple(max(int(price * scale + 0.5), least) for price in prices.tolist())

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

    def least_worth(self, least: float, start: Real | None = None) -> BestPrices:
        """Prices at which the boards are worth little more than they have to be, or less than that.

        Looked for from others on, if they are given.
        """
        wanted = self.work.known.wanted
        known = [self.given[board] for board in self.boards]
        return prices_at(self._given, len(self.boards), wanted, _ENOUGH, self.go_on, known, start, least)

    def _given(self, prices: Real) -> list[tuple[float, NDArray[Any]]]:
        """Most worth of each board, in shares of all parts, and copies that have it."""
        whole = self.in_whole(prices)
        every = max(float(np.dot(whole, self.work.known.wanted)), 1.0)
        return [(worth / every, np.array(counts)) for worth, counts in self._valued(self.boards, whole)]

    def _valued(self, boards: Sequence[int], whole: Prices) -> list[tuple[int, Counts]]:
        """Most worth of boards at prices in whole numbers, and copies that have it."""
        found = self.grids.worths(boards, 0, whole)
        for board, (worth, counts) in zip(boards, found, strict=True):
            self.given[board].append(counts)
            self._worths[board, whole] = worth
        return found

    def _worth(self, whole: Prices) -> int:
        """The same worth of all together, which may be known."""
        self._valued([board for board in self.boards if (board, whole) not in self._worths], whole)
        return sum(self._worths[board, whole] for board in self.boards)

    def in_whole(self, prices: Real) -> Prices:
        """Prices in whole numbers; none is nought: a part of no worth would be in no set."""
        return self.grids.whole_of(prices, self.boards)

    def sets(self, prices: Real) -> dict[int, Counts] | None:
        """One set of each board near these prices, that together make up all parts; None if none is found.

        More and more of the sets are looked at, of boards that have few.
        """
        whole = self.in_whole(prices)
        cost = int(np.dot(whole, self.work.known.wanted))
        spare = self._worth(whole) - cost
        first = _LOSS if len(self.boards) <= _FEW_BOARDS else _LOSS_OF_MORE
        losses = dict.fromkeys(self.boards, min(int(first * cost / len(self.boards)), spare))
        found = self._near(whole, losses)
        while spare >= 0 and len(found) == len(self.boards) and self.go_on():
            chosen = self._chosen([found[board] for board in self.boards], whole, spare)
            if chosen is not None:
                rows = [tuple(row.tolist()) for row in chosen]
                return dict(zip(self.boards, rows, strict=True))
            few = [
                board for board in self.boards if losses[board] < spare and len(found[board].losses) < _MANY
            ]
            asked = {board: min(int(losses[board] * _more(len(found[board].losses))), spare) for board in few}
            more = self._near(whole, asked)
            if not more:
                break
            # One that has too many then is not asked again.
            losses.update({board: loss if board in more else spare for board, loss in asked.items()})
            found.update(more)
        return None

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

    def _near(self, whole: Prices, losses: Mapping[int, int]) -> dict[int, NearSets]:
        """Sets of boards that lose no more than that, the nearest first; none of those that have too many."""
        asked = {board: (whole, self._most(board, whole), loss) for board, loss in losses.items()}
        found: list[NearSets | None] = self.grids.ask("near", asked)
        return {board: near for board, near in zip(losses, found, strict=True) if near is not None}

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


def _more(sets: int) -> float:
    """How many times as much a board is to lose that gave so many sets, to give as many as are enough."""
    # Sets grow in number as a power of what they lose.
    return min(max(log(_AIM) / log(max(sets, 2)), _MORE[0]), _MORE[1])


def counted(parts: Sequence[int], every: int) -> NDArray[np.int64]:
    """Copies of each of so many parts."""
    return np.bincount(np.array(parts, dtype=np.int64), minlength=every)
