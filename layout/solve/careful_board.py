"""A board on a careful grid, asked what it gives: what is found can be sawn out as it lies.

Boards are asked by questions, so that several processes can share them out (`layout.solve.hands`).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import monotonic
from typing import Any

import numpy as np

from layout.allowances import Shop
from layout.cuts import Box
from layout.parts import Part
from layout.solve.counted import Counts
from layout.solve.fields import Careful, Level, careful_near
from layout.solve.laid_out import laid_out, laid_out_of
from layout.solve.near_sets import NearSets, sets_of_slabs
from layout.solve.near_slabs import NearSlabs, Priced, near_slabs
from layout.solve.packed import Packed
from layout.solve.priced import Slabs
from layout.solve.slabs import Place
from layout.solve.worths import Prices
from layout.stock import Board

__all__ = ["Answer", "CarefulBoard", "CarefulBoards", "Grid", "Question", "Task"]

GoOn = Callable[[], bool]

_MOST_SETS = 2_000  # of a board


@dataclass(frozen=True)
class Grid:
    """What careful grids of all boards have in common.

    Parameters
    ----------
    about : (float, float)
        Pitches along x and y, of which each board gets those near by that suit it best [mm].
    alike : float
        As `layout.solve.priced.Slabs` has it.
    """

    about: Level
    alike: float


@dataclass(frozen=True)
class Task:
    """The boards of a job.

    Parameters
    ----------
    boards, parts, shop
    most : sequence of sequence of int
        For each board, the copies of each part it gives at most.
    taken : sequence of sequence of Box
        Locked pieces of each board [mm].
    """

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    most: Sequence[Counts]
    taken: Sequence[Sequence[Box]]


@dataclass(frozen=True)
class Question:
    """What is asked of a board on a grid: a method of `CarefulBoard`, and what it is told."""

    grid: Grid
    board: int
    what: str
    told: tuple[Any, ...] = ()


@dataclass(frozen=True)
class Answer:
    """What a board answers, or an error that says why it does not, and how long that took [s].

    With it its grid, if that was made for it.
    """

    what: Any
    seconds: float
    made: Careful | None = None


class CarefulBoard:
    """One board on a careful grid; its methods answer questions, and are asked whether to go on first.

    Parameters
    ----------
    careful : Careful
    stages : int
        Of sawing.
    alike : float
        As `Grid` has it.
    """

    def __init__(self, careful: Careful, stages: int, alike: float) -> None:
        self.careful = careful
        self._slabs = Slabs(careful.field, stages, exact=True, alike=alike)
        # The board at prices, and slabs near these, when it was last asked for sets.
        self._kept: tuple[Priced, Packed, NearSlabs] | None = None

    def parts(self, _go_on: GoOn) -> list[int]:
        """Parts that fit somewhere."""
        return self._slabs.parts

    def worth(self, _go_on: GoOn, whole: Prices) -> tuple[int, Counts]:
        """Most worth of the board at prices in whole numbers, and copies that have it."""
        worth, pieces = self._slabs.best(whole)
        counts = np.bincount(np.array([t for t, _, _ in pieces], dtype=np.int64), minlength=len(whole))
        return worth, tuple(counts.tolist())

    def near(self, go_on: GoOn, whole: Prices, most: Counts, loss: int) -> NearSets | None:
        """Sets that lose no more than that, the nearest first; None if they are too many."""
        board, packed, self._kept = Priced(self._slabs, whole), Packed(most), None
        slabs = near_slabs(board, packed, board.worth - loss, go_on) if packed.fits else None
        near = None if slabs is None else sets_of_slabs(board, packed, slabs, loss)
        if slabs is None or near is None:
            return None
        self._kept = board.without_table(), packed, slabs
        first = np.argsort(near.losses, kind="stable")[:_MOST_SETS]
        return NearSets(near.counts[first], near.losses[first])

    def laid(self, go_on: GoOn, whole: Prices, counts: Counts) -> list[Place] | None:
        """Where the pieces of a set lie [mm]; None if it does not give it, or that is too much to ask."""
        pieces = None
        if self._kept is not None and self._kept[0].prices == whole:
            pieces = laid_out_of(*self._kept, counts)
        pieces = pieces or laid_out(self._slabs, counts, whole, go_on)
        return None if pieces is None else [(t, *self.careful.corner(i, j)) for t, i, j in pieces]


class CarefulBoards:
    """The boards of a job on careful grids, each made when it is first asked.

    Parameters
    ----------
    task : Task
    """

    def __init__(self, task: Task) -> None:
        self._task = task
        self._made: dict[tuple[Grid, int], CarefulBoard] = {}

    def answer(self, question: Question, until: float) -> Answer:
        """What one board answers, told by then [s, of this process' clock]."""
        key = question.grid, question.board
        made = None if key in self._made else self._careful(*key)
        if made is not None:
            self.take(*key, made)
        began = monotonic()
        try:
            what = getattr(self._made[key], question.what)(lambda: monotonic() < until, *question.told)
        except OverflowError as error:
            what = error
        return Answer(what, monotonic() - began, made)

    def take(self, grid: Grid, board: int, careful: Careful) -> None:
        """Take the grid of a board that was made elsewhere."""
        self._made.setdefault((grid, board), CarefulBoard(careful, self._task.shop.stages, grid.alike))

    def given(self, grid: Grid, board: int) -> Careful | None:
        """The grid of a board, if it was made."""
        made = self._made.get((grid, board))
        return None if made is None else made.careful

    def _careful(self, grid: Grid, board: int) -> Careful:
        task = self._task
        most, taken = task.most[board], task.taken[board]
        return careful_near(task.boards[board], task.parts, task.shop, grid.about, taken, most)
