"""Plans of boards in two or three stages, looked for set by set on careful grids, the cheapest first.

Prices tell in a moment which few boards hold all parts and some to spare (`layout.solve.subsets`),
on a coarse careful grid for all boards of the job. Near the best prices of these few the sets they
give are listed, and one of each is chosen that together make up all parts
(`layout.solve.careful_boards`). What is found can be sawn out as it lies, so it is a plan. Boards
are asked for something to spare at first, and for less and less then: that is found the sooner, and
boards that have it are hardly dearer. Those that hold hardly all parts are asked again on a finer grid.

A grid that rounds sizes up by little loses little, however coarse it is: of boards of some square metres
one or two hundredths are lost with pitches of 2.5 mm across and 20 mm along, and half of it with 1.5 and 12.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from math import inf
from time import monotonic

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Shop
from layout.cuts import Box
from layout.parts import Part
from layout.solve.by_area import known_by_area
from layout.solve.careful_board import Task
from layout.solve.careful_boards import Asked, Grids, counted
from layout.solve.counted import Counts
from layout.solve.fields import Level
from layout.solve.hands import Hands
from layout.solve.outside import Outside
from layout.solve.slab_choice import Prices
from layout.solve.slabs import Place
from layout.solve.slabwise import without
from layout.solve.steps import MOST_BOARDS
from layout.solve.subsets import Subsets
from layout.solve.within import OnLayout, Within
from layout.stock import Board

__all__ = ["SetBySet"]

# Pitches for choosing boards, and for sets of those chosen; boards of two stages are soon priced.
_ABOUT: tuple[Level, ...] = ((30.0, 5.0), (21.0, 2.5), (12.0, 1.5))
_ABOUT_OF_TWO: tuple[Level, ...] = ((21.0, 2.5), (14.0, 1.5), (10.0, 1.0))
_ALIKE = (0.6, 0.0, 0.5)  # of a section's length, that pieces stacked in it take at least; by grid
# Of all parts on the coarse grid, which loses some hundredths, what boards have to spare or lack: first
# (with much to spare only where no plan is known), and then. Of many boards first, and then if they gave a
# plan, or else.
_SOON, _SOON_OF_MANY = (0.03, 0.0, -0.02), (-0.02, -0.03, -0.005)
_MARGINS = (-0.04, -0.06)
_FIRST, _STEP, _LAST = -0.04, 0.01, -0.06  # the same then of many boards, and how much less is asked in turn
# Of all parts, that boards give beyond them where a grid is to do: less seldom leads to a plan.
_SPARE = (0.02, 0.015, 0.012)
_SPARE_OF_MANY = (0.03, 0.015, 0.018)
_ENOUGH = 0.022  # of all parts, with which boards mostly lead to one
_SHORT = 0.01  # of all parts, that boards may lack on a grid to be asked on the finest
_MOST_SOON = 2  # choices of boards asked so, before boards with less to spare are
_AS_LONG, _SHORT_TIME = 1.2, 3.0  # times as long, that has to be left for it; of a shorter time none has [s]
_MOST_PAIRS = 1_500  # of boards and parts; more would not come to an end in time
_CENT = 0.005


class SetBySet:
    """The boards of a job, asked for cheaper and cheaper plans.

    Parameters
    ----------
    boards, parts
    shop : Shop
        One that saws straight.
    wanted : sequence of int
        Copies of each part.
    on_layout : function
        Told of boards that together give every part, with the places (part, x, y) on each
        [mm, in the board frame].
    taken : sequence of sequence of Box, optional
        Locked pieces of each board [mm]; such boards are paid for.
    below : function, optional
        Answers with what the cheapest plan known elsewhere costs, boards with locked pieces apart [money].
    others : int, optional
        Processes beside this one that ask boards too, until they are let go of.
    """

    def __init__(
        self,
        boards: Sequence[Board],
        parts: Sequence[Part],
        shop: Shop,
        wanted: Sequence[int],
        on_layout: OnLayout,
        taken: Sequence[Sequence[Box]] | None = None,
        below: Callable[[], float] = lambda: inf,
        others: int = 0,
    ) -> None:
        held = taken or [()] * len(boards)
        known = known_by_area(boards, parts, wanted, held)
        self._asks = bool(sum(wanted)) and len(boards) * len(parts) <= _MOST_PAIRS
        hands = Hands(Task(boards, parts, shop, known.most, held), others if self._asks else 0)
        self._work = _Job(boards, parts, shop, known, held, (), hands, 0.0)
        self._setwise = _Setwise(self._work, Within(self._work, on_layout), below)

    def look_soon(self, seconds: float) -> None:
        """What is soon found, of boards that have something to spare.

        Parameters
        ----------
        seconds : float
            After which nothing further is begun [s].
        """
        self._work.until = monotonic() + seconds
        if self._asks:
            self._setwise.look_soon(seconds)

    def let_go(self) -> None:
        """End the processes beside this one."""
        self._work.hands.let_go()

    @property
    def seen(self) -> list[list[Counts]]:
        """Of each board, sets of parts it was seen to give."""
        return self._setwise.seen()

    def look(self, seconds: float) -> None:
        """The rest; what has been looked for is not looked for again.

        Parameters
        ----------
        seconds : float
            After which nothing further is begun [s].
        """
        self._work.until = monotonic() + seconds
        if self._asks:
            self._setwise.look()


@dataclass
class _Job:
    """What is worked on."""

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    known: Outside
    taken: Sequence[Sequence[Box]]
    levels: Sequence[Level]
    hands: Hands
    until: float

    def left(self) -> float:
        return self.until - monotonic()


@dataclass
class _Boards:
    """A choice of boards, and by board the sets it is known to give."""

    boards: Sequence[int]
    given: dict[int, list[Counts]]


class _Setwise:
    """The boards of a job, asked for plans."""

    def __init__(self, work: _Job, within: Within, below: Callable[[], float]) -> None:
        self.work, self.within, self._below = work, within, below
        about = _ABOUT if work.shop.stages > 2 else _ABOUT_OF_TWO
        self._grids = [Grids(work, *which) for which in zip(about, _ALIKE, strict=True)]
        many = len(work.boards) > MOST_BOARDS
        self._spare = _SPARE_OF_MANY if many else _SPARE
        # In two stages the next finer grid takes as long again, and hardly brings more.
        self._many = many and work.shop.stages > 2
        self._put_off: list[tuple[float, _Boards, NDArray[np.float64]]] = []
        self._subsets: Subsets | None = None
        self._tried: list[tuple[int, ...]] = []
        self._asked: set[tuple[int, ...]] = set()  # for what is soon found
        self._watched = True  # whether boards are asked only as long as there is time for it
        self._asking: float | None = None  # about how long it takes [s]
        self._gained: float | None = None  # of all parts, by the finest grid over the coarse one, if asked

    def look_soon(self, seconds: float) -> None:
        """Ask boards that have something to spare, on the coarser grids alone, for so long at most [s]."""
        # What follows a short time has no more use for the rest of it.
        self._watched = len(self.work.boards) > MOST_BOARDS and seconds > _SHORT_TIME
        if not self._can():
            return
        if not self._many:
            # Where a plan is known already, boards with much to spare are hardly cheaper.
            for margin in _SOON[self._to_undercut() < inf :]:
                self._planned_soon(margin)
        else:
            first, lower, higher = _SOON_OF_MANY
            self._planned_soon(lower if self._planned_soon(first, _MOST_SOON) else higher, _MOST_SOON)

    def _planned_soon(self, margin: float, most: int | None = None) -> bool:
        """Whether the cheapest boards with that to spare gave a plan, so many of them asked at most."""
        began = monotonic()
        others = (boards for boards in self._cheapest(margin) if boards not in self._asked)
        for boards in islice(others, most):
            # To ask boards takes about as long as to find out the first ones to be asked.
            if self._asking is None:
                self._asking = _AS_LONG * (monotonic() - began)
            if self._watched and self.work.left() < self._asking:
                break
            self._asked.add(boards)
            if self._planned(boards, soon=True):
                return True
        return False

    def look(self) -> None:
        """Ask the cheapest boards that have less and less to spare, and again on the finest grid."""
        if not self._can():
            return
        if self._many:
            self._ask_of_many()
        else:
            for margin in _MARGINS:
                any(self._planned(boards) for boards in self._cheapest(margin))
        for _, one, start in sorted(self._put_off, key=lambda item: -item[0]):
            if self._pays(one.boards) and self.work.left() > 0.0:
                self._finest(one, start)
        self._put_off = []

    def seen(self) -> list[list[Counts]]:
        """Of each board, sets it was seen to give."""
        subsets, boards = self._subsets, range(len(self.work.boards))
        return [] if subsets is None else [[*subsets.worths.given(board, 0)] for board in boards]

    def _can(self) -> bool:
        """Whether the boards have places for every part."""
        missing = {part for part, n in enumerate(self.work.known.wanted) if n}
        for board in range(len(self.work.boards)):
            if not missing:
                break
            missing.difference_update(self._grids[0].fitting(board))
        return not missing

    def _ask_of_many(self) -> None:
        """Ask where that takes long: what the finest grid adds tells what is to be asked for."""
        margin, asked = _FIRST, self._cheapest(_FIRST)
        while margin > _LAST and self.work.left() > 0.0:
            boards = next(asked, None)
            now = margin - _STEP if boards is None else margin
            if boards is not None and not self._planned(boards):
                now = margin + _STEP if self._gained is None else max(margin, _ENOUGH - self._gained)
            if now != margin:
                margin, asked = now, self._cheapest(now)

    def _cheapest(self, margin: float) -> Iterator[tuple[int, ...]]:
        """Boards that hold all parts and so much more on the coarse grid, the cheapest first, each once."""
        work, coarse = self.work, self._grids[0]
        coarse.known = work.known.alone()
        areas = [part.length * part.width for part in work.parts]
        subsets = Subsets(coarse, areas, 0, copies=False, margin=margin, before=self._subsets)
        self._subsets = subsets
        for boards in self._tried:
            coarse.known.cut(*without(boards, len(coarse.known.money)))
        while work.left() > 0.0:
            for _ in subsets.bounds(0.0):
                pass
            boards = subsets.standing
            if boards and self._pays(boards):
                yield boards
            if not boards or not self._pays(boards):  # or no longer: some of them may still do
                return
            coarse.known.cut(*without(boards, len(coarse.known.money)))

    def _pays(self, boards: Sequence[int]) -> bool:
        """Whether these boards are cheaper than the cheapest plan known."""
        return sum(self.work.known.money[board] for board in boards) < self._to_undercut() - _CENT

    def _to_undercut(self) -> float:
        return min(self.within.paid, self._below())

    def _plan(self, boards: Sequence[int], soon: bool = False) -> bool:
        """Whether a plan on these boards was found; it is told then.

        If that is to be `soon`, many boards are not asked on the finest grid.
        """
        assert self._subsets is not None
        self._gained, worths = None, self._subsets.worths
        one = _Boards(boards, {board: list(worths.given(board, 0)) for board in boards})
        found: list[Prices] = []
        try:
            for grids, spare in zip(self._grids[:-1], self._spare, strict=False):
                asked = Asked(self.work, grids, boards, one.given)
                found.append(asked.least_worth(1.0 + spare, found[-1].parts if found else None))
                if found[-1].worth >= 1.0 + spare and self._told(asked, found[-1].parts):
                    return True
        except OverflowError:  # parts so small that a board of them is worth more than it may be
            return False
        if found[-1].worth < 1.0 - _SHORT or (soon and self._many) or self.work.left() <= 0.0:
            return False
        if not self._many:
            self._put_off.append((found[-1].worth, one, found[-1].parts))
            return False
        return self._finest(one, found[-1].parts, found[0].worth)

    def _planned(self, boards: tuple[int, ...], soon: bool = False) -> bool:
        """The same of boards that are not to be asked again if there is none."""
        found = self._plan(boards, soon)
        if not found and not (soon and self._many) and self.work.left() > 0.0:
            self._tried.append(boards)
        return found

    def _finest(self, one: "_Boards", start: NDArray[np.float64], coarsely: float = inf) -> bool:
        """The same on the finest grid, by prices that did on a coarser one."""
        asked, enough = Asked(self.work, self._grids[-1], one.boards, one.given), 1.0 + self._spare[-1]
        with suppress(OverflowError):
            prices = asked.least_worth(enough, start)
            self._gained = prices.worth - coarsely
            return prices.worth >= enough and self._told(asked, prices.parts)
        return False

    def _told(self, on: Asked, prices: NDArray[np.float64]) -> bool:
        """Whether sets were found near these prices that make up all parts; they are laid out and told of."""
        sets, whole = on.sets(prices) if on.go_on() else None, on.in_whole(prices)
        if sets is None:
            return False
        asked: dict[int, Counts] = {}
        left = list(self.work.known.wanted)
        laid: list[list[Place] | None] = on.grids.ask(
            "laid", {board: (whole, counts) for board, counts in sets.items()}
        )
        for board, every in zip(sets, laid, strict=True):
            if every is None:
                return False
            places = []
            for place in every:
                if left[place[0]]:  # sets may hold copies beyond those wanted
                    left[place[0]] -= 1
                    places.append(place)
            if places:
                asked[board] = tuple(counted([t for t, _, _ in places], len(left)).tolist())
                self.within.lay(board, asked[board], places)
        return self.within.gives_laid(asked)
