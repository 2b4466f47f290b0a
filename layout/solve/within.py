"""Plans of a class found on careful grids, beside the bound for the class: where they meet, both are proved.

What is asked of boards by the bound (`layout.solve.straight`) is tried on grids on which
everything can be sawn out as it lies. In small jobs the cheapest boards are looked for there as well.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import inf, prod
from time import monotonic
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Shop
from layout.cuts import Box
from layout.parts import Part
from layout.solve.counted import Counts, Sets, heights_of
from layout.solve.fields import Careful, Field, Level, careful_near
from layout.solve.outside import Answer, Outside
from layout.solve.priced import Slabs
from layout.solve.sawn_out import SawnOut
from layout.solve.slabs import Place
from layout.stock import Board

__all__ = ["OnLayout", "Pace", "Within", "Work", "maximal", "minimal", "trimmed"]

OnLayout = Callable[[Mapping[int, list[Place]]], None]

_CENT = 0.005
_LEAST_WORK = 200_000  # cells and sets, below which counting takes as long anyway
_MOST_BYTES = 300_000_000  # that counting may take


class Work(Protocol):
    """What is worked on, as `straight_bounds` has it."""

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    known: Outside
    taken: Sequence[Sequence[Box]]
    levels: Sequence[Level]

    def left(self) -> float:
        """Time left [s]."""
        ...


class Pace:
    """How long counting takes for its work, learnt on the way.

    Parameters
    ----------
    left : function
        Answers with the time left [s].
    """

    def __init__(self, left: Callable[[], float]) -> None:
        self._left = left
        self._slowest: dict[int, float] = {}

    def allows(self, field: Field, most: Sequence[int], level: int) -> bool:
        """Whether there are time and memory to count so many sets of a board."""
        work = _work(field, most)
        slowest = self._slowest.get(level, self._slowest.get(level - 1, 0.0))
        return work <= _MOST_BYTES and work * slowest <= self._left()

    def took(self, seconds: float, field: Field, most: Sequence[int], level: int) -> None:
        """Remember how long it took."""
        pace = seconds / max(_work(field, most), _LEAST_WORK)
        self._slowest[level] = max(self._slowest.get(level, 0.0), pace)


def _work(field: Field, most: Sequence[int]) -> int:
    return field.along * field.across * prod(n + 1 for n in most)


@dataclass(frozen=True)
class _Board:
    """What a board gives on a careful grid, in millimetres."""

    careful: Careful
    counted: SawnOut

    def places(self, counts: Counts) -> list[Place] | None:
        """Places of the parts of a set; None if the board cannot give it."""
        pieces = self.counted.pieces(counts)
        return None if pieces is None else [(t, *self.careful.corner(*cell)) for t, *cell in pieces]


class Within:
    """What was found to be given, and the cheapest plan of it.

    Parameters
    ----------
    work : Work
    on_layout : function, optional
        Told of places (part, x, y) on boards that together give every part [mm, in the board frame].
    """

    def __init__(self, work: Work, on_layout: OnLayout | None) -> None:
        self.work, self.paid = work, inf
        self._on_layout = on_layout
        self._laid: dict[tuple[int, Counts], list[Place]] = {}
        self._tried: set[tuple[int, Counts, int]] = set()
        self._looked: set[int] = set()
        self._pace = Pace(work.left)

    def is_laid(self, board: int, counts: Counts) -> bool:
        """Whether a board was found to give a set."""
        return (board, counts) in self._laid

    def lay(self, board: int, counts: Counts, places: list[Place]) -> None:
        """Keep where a board gives a set."""
        self._laid[board, counts] = places

    def gives_laid(self, asked: Mapping[int, Counts]) -> bool:
        """Whether places are known for all that is asked; that is told then."""
        if not all(self.is_laid(board, counts) for board, counts in asked.items()):
            return False
        self._tell(asked)
        return True

    def gives(self, asked: Mapping[int, Counts], level: int) -> bool:
        """Whether all boards are found to give what is asked of them; that is told then."""
        for board, counts in asked.items():
            if self.is_laid(board, counts):
                continue
            if (board, counts, level) in self._tried:
                return False
            self._tried.add((board, counts, level))
            view = self._view(board, counts, level)
            places = None if view is None else view.places(counts)
            if places is None:
                return False
            self._laid[board, counts] = places
        self._tell(asked)
        return True

    def look_for_cheaper(self, level: int) -> None:
        """Look for the cheapest boards on grids of this level, once: a plan that holds, if not the best."""
        if level in self._looked:
            return
        self._looked.add(level)
        known = Outside(self.work.known.wanted, self.work.known.money, self.work.known.most)
        views: dict[int, _Board] = {}
        for board, most in enumerate(known.most):
            view = self._view(board, most, level)
            if view is not None:
                views[board] = view
            known.give(board, () if view is None else maximal(view.counted.possible()))
        answer = known.whole(max(self.work.left(), 0.2))
        if answer is None or not answer.used or answer.money > self.paid - _CENT:
            return
        asked = trimmed(answer, known)
        for board, counts in asked.items():
            places = views[board].places(counts)
            if places is None:
                return
            self._laid[board, counts] = places
        self._tell(asked)

    def _tell(self, asked: Mapping[int, Counts]) -> None:
        self.paid = min(self.paid, sum(self.work.known.money[board] for board in asked))
        if self._on_layout is not None:
            self._on_layout({board: self._laid[board, counts] for board, counts in asked.items()})

    def _view(self, board: int, most: Counts, level: int) -> _Board | None:
        """What a board gives of so many copies; None if there is no time to work it out."""
        work = self.work
        one, taken = work.boards[board], work.taken[board]
        careful = careful_near(one, work.parts, work.shop, work.levels[level], taken, most)
        if not self._pace.allows(careful.field, most, level):
            return None
        slabs = Slabs(careful.field, work.shop.stages, exact=True)
        began = monotonic()
        there = tuple(n if t in slabs.parts else 0 for t, n in enumerate(most))
        found = _Board(careful, SawnOut(heights_of(slabs, Sets(there))))
        self._pace.took(monotonic() - began, careful.field, most, level)
        return found


def trimmed(answer: Answer, known: Outside) -> dict[int, Counts]:
    """What is asked of each board picked, without copies beyond those wanted."""
    gives = [[round(copies) for copies in row] for row in answer.gives]
    for part, wanted in enumerate(known.wanted):
        more = sum(row[part] for row in gives) - wanted
        for row in gives:
            if more > 0:
                less = min(more, row[part])
                row[part] -= less
                more -= less
    return {board: tuple(gives[board]) for board, used in enumerate(answer.used) if used > 0.5}


def maximal(found: NDArray[np.bool_]) -> list[Counts]:
    """Sets that are given while none that contains them is; one axis for each part."""
    top = found.copy()
    for axis in range(found.ndim):
        more = np.zeros_like(found)
        _axis_first(more, axis)[: found.shape[axis] - 1] = _axis_first(found, axis)[1:]
        top &= ~more
    return [tuple(row) for row in np.argwhere(top).tolist()]


def minimal(barred: NDArray[np.bool_]) -> list[Counts]:
    """Sets that are not given while all that they contain are; one axis for each part."""
    low = barred.copy()
    for axis in range(barred.ndim):
        less = np.zeros_like(barred)
        _axis_first(less, axis)[1:] = _axis_first(barred, axis)[: barred.shape[axis] - 1]
        low &= ~less
    return [tuple(row) for row in np.argwhere(low).tolist()]


def _axis_first(values: NDArray[np.bool_], axis: int) -> NDArray[np.bool_]:
    return np.moveaxis(values, axis, 0)
