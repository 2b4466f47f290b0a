"""What no plan with straight cuts can undercut: bounds for one class, crosscut first or rip first.

The class is told in words, and the grid that relaxes it, on top of `layout.solve.priced`.
Whatever is learnt of a board (`layout.solve.outside`) holds for every layout of the
class; from it an integer programme picks the cheapest boards that might do:

1. Large jobs: choices of whole boards are ruled out by prices (`layout.solve.subsets`), the
   cheapest first, until one stands. A moment's search for fillings that pay says at the
   start what boards do give, so prices begin near those that matter.
   In two stages boards are priced slab by slab, copies counted, and the choice that stands
   is asked for whole slabs: that is a plan, or it falls as well (`layout.solve.slabwise`).
   In three stages the choice that stands is asked set by set, copies counted and boards
   whole, and falls where no sets make up all parts (`layout.solve.boardwise`).
   In between, or when a good part of the time is over, whoever asks may look for plans.
   Of many boards in three stages prices on finer grids come then, and sets last.
2. The boards picked are asked whether they can really give what is asked of each, copies
   counted (`layout.solve.counted`). In small jobs the first answer is all that a board can
   give; else it is which few parts cannot come from it together. What passes on a coarse
   grid is asked again on a finer one, and in small jobs place by place (`layout.solve.exactly`).
3. The same is asked of careful grids (`layout.solve.within`). Where they give all that is
   asked, there is a plan that costs what the bound says, and it is proved the cheapest.

When the boards picked pass on the finest hopeful grid, but on no careful one, the
question stays open, and so does the gap.

Not valid, so not asked for: repairs (they may undercut it) and glue-ups with stave
widths to be chosen (`layout.solve.glued` drops bounds then). Locked parts: their boards
are paid for, and their wood is gone.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import prod
from time import monotonic

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from layout.allowances import Shop
from layout.cuts import Box
from layout.parts import Part
from layout.solve.boardwise import Boardwise
from layout.solve.counted import Counts, sets_of
from layout.solve.exactly import PITCHES, Exactly, looked_elsewhere
from layout.solve.fields import Level, field_of, levels
from layout.solve.outside import Outside
from layout.solve.priced import MOST, Slabs, whole_prices
from layout.solve.slabwise import Slabwise
from layout.solve.steps import MOST_BOARDS
from layout.solve.subsets import Subsets
from layout.solve.within import OnLayout, Pace, Within, maximal, minimal, trimmed
from layout.stock import Board

__all__ = ["straight_bounds"]

_COUNTED = 4_000  # sets of parts, up to which all that a board gives is counted
_BOXES = (500, 200, 100, 60, 40)  # sets looked at to find which parts a board cannot give together, by level
_STEPS = (2, 2, 1, 1, 1)  # of places of stacks, by level
_APART = (1.15, 1.1, 1.06, 1.04, 1.03)  # of lengths of sections, by level
# The same for many boards in three stages: pitches along matter less than those across, and take as long.
_LEVELS_OF_MANY: tuple[Level, ...] = ((16.0, 5.0), (16.0, 2.7), (12.0, 1.6), (5.0, 1.6))
_STEPS_OF_MANY = (2, 2, 1, 1)
_APART_OF_MANY = (1.15, 1.15, 1.1, 1.06)
_BEFORE = 0.4  # of the time, after which plans are looked for elsewhere at the latest
_LEAST = 5.0  # and at least so long, where boards are many [s]
_LOOKING = (0.8, 0.5)  # of the time left, for plans looked for elsewhere: three stages, two
_CHOOSING = 0.85  # of the time for choices of boards, so that some is left for whole parts
_TRIES = 6  # prices tried on a board, for what is asked of it
_SURE = 1e-6
_FULL = 0.85  # of the most a board may be worth; stacks are relaxed by up to 1.15
_MOST_PAIRS = 1_500  # of boards and parts; more would not come to an end in time
_CENT = 0.005
_EXACTLY = 1  # level after which boards are asked place by place as well
_FINEST = (0, 2)  # level of grids that chosen boards are priced on: three stages, two
_FINER = 3  # the same for many boards in three stages, once plans were looked for
_QUICK = 11  # pieces of a board, up to which that takes a moment
_TIMES = 2  # that boards sawn in two stages are asked for whole slabs
_LARGE = 4  # levels used where not every set is counted; the next takes over 1 GB
_WITHIN = 2  # levels up to which plans are looked for among all boards


@dataclass
class _Known:
    """A board, as far as it was looked at: its programmes on the finest grid used, and sets it gives."""

    level: int
    slabs: Slabs
    given: list[NDArray[np.float64]]
    passed: set[Counts]


def straight_bounds(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    known: Outside,
    spent: float = 0.0,
    seconds: float = 20.0,
    taken: Sequence[Sequence[Box]] | None = None,
    on_layout: OnLayout | None = None,
    look: Callable[[float], None] | None = None,
    hints: Sequence[Sequence[Counts]] = (),
) -> Iterator[float | None]:
    """Better and better bounds; None, and the end, if not all parts can be placed.

    Parameters
    ----------
    boards, parts, shop
        Boards in the order of `known`.
    known : Outside
        What holds for every layout; what is learnt is added.
    spent : float
        On boards that hold locked parts [money].
    seconds : float
        After which no further look is begun [s].
    taken : sequence of sequence of Box, optional
        Locked pieces of each board [mm].
    on_layout : function, optional
        Told of boards that together give every part, with the places (part, x, y) on each
        [mm, in the board frame], where some were found on the way.
    look : function, optional
        Looks for plans elsewhere, so many seconds at most: once, when prices rule out no more boards
        or a good part of the time is over.
    hints : sequence of sequence of tuple of int, optional
        By board, sets of parts it is known to give.
    """
    work = _Work(boards, parts, shop, known, seconds, taken, on_layout, look, hints)
    for money in work.bounds():
        yield None if money is None else spent + money


class _Work:
    """The state of looking for a bound."""

    def __init__(
        self,
        boards: Sequence[Board],
        parts: Sequence[Part],
        shop: Shop,
        known: Outside,
        seconds: float,
        taken: Sequence[Sequence[Box]] | None,
        on_layout: OnLayout | None = None,
        look: Callable[[float], None] | None = None,
        hints: Sequence[Sequence[Counts]] = (),
    ) -> None:
        self.boards, self.parts, self.shop, self.known, self.hints = boards, parts, shop, known, hints
        self.ends, self.seconds, self._look = monotonic() + seconds, seconds, look
        self.last = seconds * (1.0 - _CHOOSING)
        self.taken = taken or [()] * len(boards)
        self.many = shop.stages > 2 and len(boards) > MOST_BOARDS
        self.levels: Sequence[Level] = levels(parts, shop, *([_LEVELS_OF_MANY] if self.many else []))
        self._steps: Sequence[int] = _STEPS_OF_MANY if self.many else _STEPS
        self._apart: Sequence[float] = _APART_OF_MANY if self.many else _APART
        self.seen: dict[int, _Known] = {}
        self.counted = prod(wanted + 1 for wanted in known.wanted) <= _COUNTED
        self.pace = Pace(self.left)
        self._slabs: dict[tuple[int, int], Slabs] = {}
        self.within = Within(self, on_layout)
        self.exactly = Exactly(self, self.within)
        self.slabwise = Slabwise(self, self.within)
        self.boardwise = Boardwise(self)
        self.at_once, self.first = 1, ()  # boards asked side by side, and before any is chosen

    def left(self) -> float:
        return self.ends - monotonic()

    def bounds(self) -> Iterator[float | None]:
        if len(self.boards) * len(self.parts) > _MOST_PAIRS:
            return
        if not self.counted:
            yield from self._chosen()
        while True:
            answer = self.known.whole(max(self.left(), 0.2))
            yield None if answer is None else answer.money
            if answer is None or not answer.used or answer.money > self.within.paid - _CENT:
                return
            learnt = self._learnt(trimmed(answer, self.known))
            if not learnt and not looked_elsewhere(answer, self, self.within, self._learnt):
                return

    def look(self, board: int, level: int = 0) -> _Known:
        """A board on a grid of this level, or the finer one it is known on."""
        found = self.seen.get(board)
        if found is None or found.level < level:
            slabs = self.programmes(board, level)
            ones = np.eye(len(self.parts))
            given = found.given if found else [ones[t] for t in slabs.parts]
            found = self.seen[board] = _Known(level, slabs, given, set())
        return found

    def _chosen(self) -> Iterator[float | None]:
        """Bounds from choices of boards that cannot do, until one stands."""
        two = self.shop.stages < 3  # where boards are priced in a moment
        areas = [part.length * part.width for part in self.parts]
        subsets = Subsets(self, areas, _FINEST[two], self.hints, copies=two)
        # What is looked for elsewhere has the rest of the time, if there is enough for both.
        least = _LEAST if self.many else 0.0
        later = max(self.left() - max(_BEFORE * self.left(), least), 0.0) if self._look else 0.0
        self.ends -= later
        # Many boards seldom fall when asked set by set, so first plans are looked for, and finer prices.
        finest = _FINER if self.many else _FINEST[two]
        while True:
            last: float | None = 0.0
            for last in subsets.bounds(0.0 if two or later else self.last):
                yield last
            boards = subsets.standing
            if last is None:
                return
            if boards and not later and subsets.finest < finest:
                subsets.finest += 1
                continue
            # With two stages it is soon looked for elsewhere, so that comes first.
            asked = bool(boards) and not ((two or self.many) and later)
            settled = self._settled(boards, subsets) if asked else None
            if settled is False:
                continue
            done = asked and self.left() > 0.0
            self.ends, asks, later = self.ends + later, bool(later), 0.0
            if settled is None and asks and self._look is not None:
                self._look(self.left() * _LOOKING[two])
            if settled or done or not asks:
                break
        if two and settled is None and boards:
            self.slabwise.look_elsewhere(boards, 0.0)

    def _settled(self, boards: Sequence[int], subsets: Subsets) -> bool | None:
        """Whether boards that no prices rule out give all parts: True with a plan; False if they fell."""
        if self.shop.stages < 3:
            return self.slabwise.settles(boards, _TIMES)
        return False if self.boardwise.fall(boards, partial(subsets.worths.given, level=0)) else None

    def programmes(self, board: int, level: int) -> Slabs:
        """A board's programmes on a grid of that level, for prices."""
        if (board, level) not in self._slabs:
            one, most = self.boards[board], self.known.most[board]
            field = field_of(one, self.parts, self.shop, self.levels[level], self.taken[board], most)
            self._slabs[board, level] = Slabs(
                field, self.shop.stages, step=self._steps[level], apart=self._apart[level]
            )
        return self._slabs[board, level]

    def worth(self, board: int, level: int, whole: Sequence[int]) -> tuple[int, list[int]]:
        """Most worth of a board at these prices on a grid of that level, and copies that have it."""
        found = self.slabwise.worth(board, level, whole)
        if found is not None:
            return found
        worth, pieces = self.programmes(board, level).best(whole)
        return worth, np.bincount([t for t, _, _ in pieces], minlength=len(self.parts)).tolist()

    def worths(self, boards: Sequence[int], level: int, whole: Sequence[int]) -> list[tuple[int, list[int]]]:
        """The same of several boards."""
        return [self.worth(board, level, whole) for board in boards]

    def fitting(self, board: int, level: int) -> list[int]:
        """Parts that fit a board on a grid of that level."""
        return self.programmes(board, level).parts

    def whole(self, prices: NDArray[np.float64], boards: Sequence[int], level: int) -> tuple[int, ...]:
        """Prices in whole numbers, so large that no board is worth too much; others than these on level 0."""
        every = range(len(self.boards))
        grids = (self.programmes(board, level if board in boards else 0) for board in every)
        return whole_prices(grids, prices, _FULL)

    def _valued(self, view: _Known, board: int, whole: list[int]) -> int:
        """The most a board is worth at these prices; kept, with the set that has it."""
        worth, counts = self.worth(board, view.level, whole)
        self.known.price(board, whole, worth)
        view.given.append(np.array(counts, dtype=np.float64))
        return worth

    def _learnt(self, asked: Mapping[int, Counts]) -> bool:
        """Whether something was learnt of boards that contradicts what is asked of them."""
        for level in range(len(self.levels) if self.counted else _LARGE):
            # Careful grids are soon counted: in small jobs they are asked first.
            if self.counted and self.within.gives(asked, level):
                return False
            learnt = False
            for board, counts in asked.items():
                if not self.within.is_laid(board, counts):
                    learnt |= self._asked(board, counts, level)
                if self.left() < 0:
                    return learnt
            if learnt:
                return True
            if not self.counted and self.within.gives(asked, level):
                return False
            if self.counted and level <= _WITHIN:
                self.within.look_for_cheaper(level)
            if sum(self.known.money[board] for board in asked) > self.within.paid - _CENT:
                return False
            if self.counted and level == _EXACTLY and self._exactly(asked, len(PITCHES) - 1, _QUICK):
                return not self.within.gives_laid(asked)
        return self.counted and self._exactly(asked, len(PITCHES)) and not self.within.gives_laid(asked)

    def _exactly(self, asked: Mapping[int, Counts], pitches: int, pieces: int = 1_000) -> bool:
        """Whether boards asked place by place settle what is asked, on maps of the first so many pitches."""
        return any(
            self.exactly.learnt(asked, number, pieces)
            or all(self.within.is_laid(*item) for item in asked.items())
            for number in range(pitches)
            if self.left() > 0.0
        )

    def _asked(self, board: int, counts: Counts, level: int) -> bool:
        """Ask a board on a grid for a set; whether it cannot give it, which is then known."""
        view = self.look(board, level)
        if view.level > level or counts in view.passed:
            return False
        every = self.counted and level == 0
        most = self.known.most[board] if every else self._roomy(counts, board, level)
        if not self.pace.allows(view.slabs.field, most, level):
            return False
        began = monotonic()
        refused = self._count_all(view, board, counts) if every else self._refused(view, board, counts)
        self.pace.took(monotonic() - began, view.slabs.field, most, level)
        if not refused:
            view.passed.add(counts)
        return refused

    def _count_all(self, view: _Known, board: int, counts: Counts) -> bool:
        found = sets_of(view.slabs, self.known.most[board])
        self.known.give(board, maximal(found))
        return not found[counts]

    def _refused(self, view: _Known, board: int, counts: Counts) -> bool:
        if (
            not self.counted
            and view.level == 0
            and self._overpriced(view, board, np.array(counts, dtype=np.float64))
        ):
            return True
        found = sets_of(view.slabs, self._roomy(counts, board, view.level))
        for barred in minimal(~found):
            self.known.bar(board, barred)
        return not found[counts]

    def _overpriced(self, view: _Known, board: int, asked: NDArray[np.float64]) -> bool:
        """Whether there are prices at which the board is not worth what is asked of it."""
        for _ in range(_TRIES):
            prices = _dearest(asked, view.given)
            if prices is None or self.left() < 0:
                return False
            whole = _whole_prices(prices, view.slabs)
            if np.dot(whole, asked) > self._valued(view, board, whole):
                return True
        return False

    def _roomy(self, counts: Counts, board: int, level: int) -> Counts:
        """These counts and as many more as there is patience for."""
        room = list(counts)
        while True:
            open_to = [t for t, n in enumerate(room) if n < self.known.most[board][t]]
            open_to = [
                t
                for t in open_to
                if prod(n + 1 for n in room) / (room[t] + 1) * (room[t] + 2) <= _BOXES[level]
            ]
            if not open_to:
                return tuple(room)
            room[min(open_to, key=lambda t: room[t])] += 1


def _whole_prices(prices: NDArray[np.float64], slabs: Slabs) -> list[int]:
    """Prices in whole numbers, so large that no board is worth more than it may be."""
    field = slabs.field
    floors = [max(price, 0.0) if t in slabs.parts else 0.0 for t, price in enumerate(prices.tolist())]
    dense = max(
        (price / (a * b) for price, a, b in zip(floors, field.lengths, field.widths, strict=True)),
        default=0.0,
    )
    if dense <= 0.0:
        return [0] * len(prices)
    scale = 0.95 * MOST / (dense * field.along * field.across)
    return [int(price * scale + 0.5) for price in floors]


def _dearest(asked: NDArray[np.float64], given: Sequence[NDArray[np.float64]]) -> NDArray[np.float64] | None:
    """Prices at which what is asked is worth more than all that was seen given; None if there are none."""
    there = np.flatnonzero(asked)
    rows = np.array(given)[:, there]
    rows = np.unique(rows[rows.any(axis=1)], axis=0)
    found = linprog(-asked[there], A_ub=rows, b_ub=np.ones(len(rows)), bounds=(0.0, 1.0), method="highs")
    if found.status != 0 or -found.fun <= 1.0 + _SURE:
        return None
    prices = np.zeros(len(asked))
    prices[there] = found.x
    return prices
