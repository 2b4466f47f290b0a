"""Boards sawn in two stages, asked slab by slab: what they are worth, and which few of them give all parts.

Where sets of slabs are few enough to be listed (`layout.solve.slab_sets`), a board is priced in a
moment, copies counted. Boards that no prices rule out are asked for whole slabs
(`layout.solve.slab_choice`): on careful grids that is a plan; when on a hopeful one there is no
choice of slabs, these boards cannot give all parts, and neither can fewer of them.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Protocol, TypeVar

import numpy as np

from layout.solve.fields import Careful, Level, careful_near
from layout.solve.priced import Slabs
from layout.solve.slab_choice import Chosen, chosen_slabs, prices_of
from layout.solve.slab_sets import SlabSets, slab_sets
from layout.solve.slabs import Place
from layout.solve.within import Within, Work

__all__ = ["Programmes", "Slabwise", "without"]

View = TypeVar("View")

_SHARE = 0.2  # of the time left, that one board may take on one grid
_PACE = 8e8  # bytes of tables of heights worked out in a second, as measured
_FIRST, _FINEST = 2, 3  # levels of hopeful grids that boards are ruled out on
# Careful ones: the sizes of pieces add up across; along each slab has a few only.
_CAREFUL: tuple[Level, ...] = ((16.0, 5.0), (16.0, 1.6), (9.0, 1.6), (9.0, 0.95), (5.0, 0.95), (3.0, 0.95))
_OFFERED = 4_000  # slabs of a board, looked at at most
_CHOOSING = 0.15  # share of the time left, for one choice of slabs
_LEAST = 0.5  # time for it in any case [s]
_CENT = 0.005


class Programmes(Work, Protocol):
    """What is worked on, as `straight_bounds` has it."""

    def programmes(self, board: int, level: int) -> Slabs:
        """A board's programmes on a hopeful grid of that level."""
        ...


class Slabwise:
    """The boards of a job, asked slab by slab.

    Parameters
    ----------
    work : Programmes
        In two stages; with more, nothing is told.
    within : Within
        Is told of plans.
    """

    def __init__(self, work: Programmes, within: Within) -> None:
        self.work, self.within = work, within
        self._hopeful: dict[tuple[int, int], SlabSets | None] = {}
        self._careful: dict[tuple[int, int], tuple[Careful, SlabSets] | None] = {}

    def worth(self, board: int, level: int, prices: Sequence[int]) -> tuple[int, list[int]] | None:
        """Most worth of a board on a hopeful grid, and copies that have it; None if its slabs are too many.

        Where there is no time for a grid so fine, on the next coarser one.
        """
        views = (self._sets(board, coarser) for coarser in range(level, -1, -1))
        view = next((view for view in views if view is not None), None)
        if view is None:
            return None
        found, counts = view.given(np.array(prices))
        return round(found), counts.tolist()

    def settles(self, boards: Sequence[int], times: int = 1) -> bool | None:
        """Whether boards give all parts: True with a plan, which is told; False if they cannot for sure."""
        if self.work.shop.stages != 2:
            return None
        for time in range(1, times + 1):
            for level in range(len(_CAREFUL)):
                if self.work.left() < 0.0:
                    return None
                if self._plan(boards, level, time):
                    return True
                if time == 1 and _FIRST <= level <= _FINEST and self._barred(boards, level):
                    return False
        return None

    def look_elsewhere(self, boards: Sequence[int], reserved: float) -> None:
        """Look for plans on other boards than those that stand open, the cheapest first."""
        known = self.work.known.doubting(())
        known.cut(*without(boards, len(known.money)))
        while self.work.left() > reserved:
            found = known.chosen(max(self.work.left(), 0.2))
            if found is None or not found[1] or found[0] > self.within.paid - _CENT:
                return
            boards = found[1]
            if not self._short(boards) and self.settles(boards):
                return
            known.cut(*without(boards, len(known.money)))

    def _short(self, boards: Sequence[int]) -> bool:
        """Whether boards cannot do even by shares of what they give."""
        views = _of_all(boards, 1, self._sets)
        return views is not None and prices_of(views, self.work.known.wanted).short

    def _plan(self, boards: Sequence[int], level: int, seed: int) -> bool:
        """Whether a plan was found on careful grids."""
        found = _of_all(boards, level, self._laid)
        if found is None:
            return False
        chosen = self._chosen({board: view for board, (_, view) in found.items()}, seed=seed)
        if not isinstance(chosen, dict):
            return False
        asked, left = {}, list(self.work.known.wanted)
        for board, slabs in chosen.items():
            careful, view = found[board]
            places, counts = list[Place](), [0] * len(left)
            for t, i, j in (piece for slab in slabs for piece in view.pieces(slab)):
                if left[t]:  # slabs may hold copies beyond those wanted
                    left[t] -= 1
                    counts[t] += 1
                    places.append((t, *careful.corner(i, j)))
            if places:
                asked[board] = tuple(counts)
                self.within.lay(board, asked[board], places)
        return self.within.gives_laid(asked)

    def _barred(self, boards: Sequence[int], level: int) -> bool:
        """Whether on hopeful grids there is no choice of slabs; that is known then."""
        views = _of_all(boards, level, self._sets)
        if views is None or self._chosen(views, surely=True) is not False:
            return False
        self.work.known.cut(*without(boards, len(self.work.known.money)))
        return True

    def _chosen(
        self, views: Mapping[int, SlabSets], surely: bool = False, seed: int = 1
    ) -> Chosen | bool | None:
        wanted = self.work.known.wanted
        prices = prices_of(views, wanted)
        if prices.short:
            return False
        seconds = max(self.work.left() * _CHOOSING, _LEAST)
        return chosen_slabs(views, wanted, prices, _OFFERED, seconds, surely, seed)

    def _sets(self, board: int, level: int) -> SlabSets | None:
        """Sets of slabs on a hopeful grid, if there is time for them."""
        key = board, level
        if self.work.shop.stages != 2:
            return None
        if key not in self._hopeful:
            most = self.work.known.most[board]
            self._hopeful[key] = slab_sets(self.work.programmes(board, level), most, self._bytes())
        return self._hopeful[key]

    def _laid(self, board: int, level: int) -> tuple[Careful, SlabSets] | None:
        """The same on a careful grid."""
        key, work = (board, level), self.work
        if key not in self._careful:
            most, one = work.known.most[board], work.boards[board]
            careful = careful_near(one, work.parts, work.shop, _CAREFUL[level], work.taken[board], most)
            found = slab_sets(Slabs(careful.field, work.shop.stages, exact=True), most, self._bytes())
            self._careful[key] = None if found is None else (careful, found)
        return self._careful[key]

    def _bytes(self) -> float:
        return max(self.work.left(), 0.0) * _SHARE * _PACE


def _of_all(
    boards: Sequence[int], level: int, view_of: Callable[[int, int], View | None]
) -> dict[int, View] | None:
    """Views of all boards; None, and no further one made, as soon as one is not to be had."""
    found: dict[int, View] = {}
    for board in boards:
        view = view_of(board, level)
        if view is None:
            return None
        found[board] = view
    return found


def without(boards: Sequence[int], every: int) -> tuple[list[float], float]:
    """The cut that asks for at least one other board."""
    return [float(board not in boards) for board in range(every)], 1.0
