"""Plans of boards in two or three stages, looked for set by set on careful grids, the cheapest first.

Prices tell in a moment which few boards hold all parts and some to spare (`layout.solve.subsets`),
on a coarse careful grid for all boards of the job. Near the best prices of these few the sets they
give are listed (`layout.solve.near_sets`), and one of each is chosen that together make up all
parts (`layout.solve.one_each`). What is found can be sawn out as it lies, so it is a plan. Boards
are asked for something to spare at first, and for less and less then: that is found the sooner, and
boards that have it are hardly dearer.

A grid that rounds sizes up by little loses little, however coarse it is: of boards of some square metres
one or two hundredths are lost with pitches of 2.5 mm across and 20 mm along.
"""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from math import floor, inf, prod
from time import monotonic
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from layout.allowances import Shop
from layout.cost import price_of
from layout.cuts import Box
from layout.parts import Part
from layout.solve.counted import Counts
from layout.solve.fields import Careful, Level, careful_near
from layout.solve.laid_out import laid_out
from layout.solve.near_sets import NearSets, made_up, near_sets
from layout.solve.near_slabs import Priced
from layout.solve.one_each import one_of_each
from layout.solve.outside import Outside
from layout.solve.packed import Packed, Whole
from layout.solve.priced import Slabs, whole_prices
from layout.solve.slab_choice import Prices as BestPrices
from layout.solve.slab_choice import prices_of
from layout.solve.slabs import Place
from layout.solve.slabwise import without
from layout.solve.subsets import Subsets
from layout.solve.within import OnLayout, Within
from layout.solve.worths import Prices, Worths
from layout.stock import Board

__all__ = ["look_for_plans"]

# Pitches for choosing boards, and for sets of those chosen; boards of two stages are soon priced.
_ABOUT: tuple[Level, Level] = ((30.0, 5.0), (21.0, 2.5))
_ABOUT_OF_TWO: tuple[Level, Level] = ((21.0, 2.5), (14.0, 1.5))
_MARGINS = (0.03, 0.0, -0.02, -0.04)  # of all parts on the coarse grid, which loses some hundredths
_ENOUGH = 1e-2  # nearer to the best prices they need not be
_SPARE = 0.02  # of all parts, that boards give beyond them where the coarse grid is to do
_LITTLE = 0.015  # less to spare on the fine grid seldom leads to a plan, and takes long
_LOSS = 0.02  # of all parts, that sets of all boards together may lose at first
_MORE = 1.6  # times as much, next
_MOST_SETS = 2_000  # of a board
_MANY = 800  # sets of a board, from which on more take too long
_EVERY = 10**10  # choices of sets, of which most lose too much to be looked at
_MOVES = 2_500
_ALIKE = (0.6, 0.0)  # of a section's length, that pieces stacked in it take at least; by grid
_FULL = 0.8  # of the most a board may be worth
_MOST_PAIRS = 1_500  # of boards and parts; more would not come to an end in time
_CENT = 0.005


def look_for_plans(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    wanted: Sequence[int],
    seconds: float,
    on_layout: OnLayout,
    taken: Sequence[Sequence[Box]] | None = None,
    below: Callable[[], float] = lambda: inf,
) -> None:
    """Look for cheaper and cheaper plans, until time is up or nothing more comes of it.

    Parameters
    ----------
    boards, parts
    shop : Shop
        One that saws straight.
    wanted : sequence of int
        Copies of each part.
    seconds : float
        After which nothing further is begun [s].
    on_layout : function
        Told of boards that together give every part, with the places (part, x, y) on each
        [mm, in the board frame].
    taken : sequence of sequence of Box, optional
        Locked pieces of each board [mm]; such boards are paid for.
    below : function, optional
        Answers with what the cheapest plan known elsewhere costs, boards with locked pieces apart [money].
    """
    held = taken or [()] * len(boards)
    areas = [part.length * part.width for part in parts]
    whole = [Polygon(board.front).area for board in boards]
    most = [[floor(area / own) for own in areas] for area in whole]
    money = [0.0 if boxes else price_of(board) for board, boxes in zip(boards, held, strict=True)]
    known = Outside(wanted, money, most)
    for number, area in enumerate(whole):
        known.price(number, areas, area)
    if sum(wanted) and len(boards) * len(parts) <= _MOST_PAIRS:
        job = _Job(boards, parts, shop, known, held, (), monotonic() + seconds)
        _Setwise(job, Within(job, on_layout), below).look()


@dataclass
class _Job:
    """What is worked on."""

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    known: Outside
    taken: Sequence[Sequence[Box]]
    levels: Sequence[Level]
    until: float

    def left(self) -> float:
        return self.until - monotonic()


class _Setwise:
    """The boards of a job, asked for plans."""

    def __init__(self, work: _Job, within: Within, below: Callable[[], float]) -> None:
        self.work, self.within, self._below = work, within, below
        about = _ABOUT if work.shop.stages > 2 else _ABOUT_OF_TWO
        self._grids = [_Grids(work, *which) for which in zip(about, _ALIKE, strict=True)]
        self._put_off: list[tuple[_Asked, BestPrices]] = []

    def look(self) -> None:
        """Ask the cheapest boards that have something to spare, and less and less of it."""
        self._ask_cheapest()
        for asked, prices in sorted(self._put_off, key=lambda item: -item[1].worth):
            if self._paid(asked.boards) < self._to_undercut() - _CENT and asked.go_on():
                with suppress(OverflowError):
                    self._told(asked, prices.parts)

    def _ask_cheapest(self) -> None:
        work = self.work
        coarse = self._grids[0]
        there = {part for board in range(len(work.boards)) for part in coarse.slabs(board).parts}
        if not there.issuperset(part for part, n in enumerate(work.known.wanted) if n):
            return
        areas = [part.length * part.width for part in work.parts]
        worths: Worths | None = None
        tried: list[tuple[int, ...]] = []
        # Where a plan is known already, boards with much to spare are hardly cheaper.
        for margin in _MARGINS if self._to_undercut() == inf else _MARGINS[1:]:
            coarse.known = work.known.alone()
            subsets = Subsets(coarse, areas, 0, copies=False, margin=margin, worths=worths)
            worths = subsets.worths
            for boards in tried:
                coarse.known.cut(*without(boards, len(coarse.known.money)))
            while work.left() > 0.0:
                for _ in subsets.bounds(0.0):
                    pass
                boards = subsets.standing
                if not boards or self._paid(boards) > self._to_undercut() - _CENT:
                    break
                if self._plan(boards, worths):
                    break
                tried.append(boards)
                coarse.known.cut(*without(boards, len(coarse.known.money)))

    def _paid(self, boards: Sequence[int]) -> float:
        return sum(self.work.known.money[board] for board in boards)

    def _to_undercut(self) -> float:
        return min(self.within.paid, self._below())

    def _plan(self, boards: Sequence[int], worths: Worths) -> bool:
        """Whether a plan on these boards was found; it is told then."""
        given = {board: list(worths.given(board, 0)) for board in boards}
        coarse, fine = (_Asked(self.work, grids, boards, given) for grids in self._grids)
        try:
            prices = coarse.least_worth()
            if prices.worth > 1.0 + _SPARE and self._told(coarse, prices.parts):
                return True
            prices = fine.least_worth()
            if not prices.short and prices.worth < 1.0 + _LITTLE:
                self._put_off.append((fine, prices))
                return False
            return not prices.short and self._told(fine, prices.parts)
        except OverflowError:  # parts so small that a board of them is worth more than it may be
            return False

    def _told(self, on: "_Asked", prices: NDArray[np.float64]) -> bool:
        """Whether sets were found near these prices that make up all parts; they are laid out and told of."""
        sets, whole = on.sets(prices) if on.go_on() else None, on.in_whole(prices)
        if sets is None:
            return False
        asked: dict[int, Counts] = {}
        left = list(self.work.known.wanted)
        for board, counts in sets.items():
            pieces = laid_out(on.grids.slabs(board), counts, whole, on.go_on)
            if pieces is None:
                return False
            places, careful = list[Place](), on.grids.careful(board)
            for t, i, j in pieces:
                if left[t]:  # sets may hold copies beyond those wanted
                    left[t] -= 1
                    places.append((t, *careful.corner(i, j)))
            if places:
                asked[board] = tuple(_counted([t for t, _, _ in places], len(left)).tolist())
                self.within.lay(board, asked[board], places)
        return self.within.gives_laid(asked)


class _Grids:
    """Careful grids of all boards, of about one pitch; what `Subsets` looks at."""

    def __init__(self, work: _Job, about: Level, alike: float) -> None:
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
        return worth, _counted([t for t, _, _ in pieces], len(whole)).tolist()

    def left(self) -> float:
        """Time left [s]."""
        return self.work.left()


class _Asked:
    """Some boards on grids of one pitch."""

    def __init__(
        self,
        work: _Job,
        grids: _Grids,
        boards: Sequence[int],
        given: dict[int, list[Counts]],
    ) -> None:
        self.work, self.grids, self.boards, self.given = work, grids, boards, given

    def go_on(self) -> bool:
        return self.work.left() > 0.0

    def least_worth(self) -> BestPrices:
        """Prices at which the boards are worth little more than they have to be."""
        views = {board: _View(self, board) for board in self.boards}
        return prices_of(views, self.work.known.wanted, _ENOUGH, self.go_on, self.given)

    def in_whole(self, prices: NDArray[np.float64]) -> Prices:
        """Prices in whole numbers; none is nought: a part of no worth would be in no set."""
        return whole_prices(map(self.grids.slabs, self.boards), prices, _FULL, least=1)

    def sets(self, prices: NDArray[np.float64]) -> dict[int, Counts] | None:
        """One set of each board near these prices, that together make up all parts; None if none is found.

        More and more of the sets are looked at.
        """
        whole = self.in_whole(prices)
        priced = [Priced(self.grids.slabs(board), whole) for board in self.boards]
        cost = int(np.dot(whole, self.work.known.wanted))
        spare = sum(board.worth for board in priced) - cost
        loss = min(int(_LOSS * cost / len(self.boards)), spare)
        while True:
            found = self._near(priced, whole, loss)
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
        chosen = one_of_each([own.counts for own in found], wanted, whole, _MOVES)
        if chosen is None:
            return None
        return [own.counts[number] for own, number in zip(found, chosen, strict=True)]

    def _near(self, priced: Sequence[Priced], whole: Prices, loss: int) -> list[NearSets] | None:
        """Sets of each board that lose no more than that, the nearest first; None if they are too many."""
        found: list[NearSets] = []
        for board, one in zip(self.boards, priced, strict=True):
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

    def __init__(self, asked: _Asked, board: int) -> None:
        self.asked, self.board = asked, board

    def given(self, prices: NDArray[np.float64]) -> tuple[float, NDArray[Any]]:
        """Most worth, in shares of all parts, and copies that have it."""
        asked = self.asked
        whole = asked.in_whole(prices)
        worth, pieces = asked.grids.slabs(self.board).best(whole)
        counts = _counted([t for t, _, _ in pieces], len(whole))
        asked.given[self.board].append(tuple(counts.tolist()))
        return worth / max(float(np.dot(whole, asked.work.known.wanted)), 1.0), counts


def _counted(parts: Sequence[int], every: int) -> NDArray[np.int64]:
    return np.bincount(np.array(parts, dtype=np.int64), minlength=every)
