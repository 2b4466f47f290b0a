"""What boards are worth at prices of the parts: exactly on a grid, or about, from above, in a moment."""

from collections.abc import Sequence
from math import floor
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from layout.compiled import compiled
from layout.solve.outside import Outside

__all__ = ["Looking", "Prices", "Worths"]

Prices = tuple[int, ...]
Real = NDArray[np.float64]

_SHORT = 1e-7  # of a solver's bound, conceded
_MOST_LOOKS = 5  # at other prices
_MOST_ROWS = 60  # of what is known of a board


class Looking(Protocol):
    """What is worked on, as `straight_bounds` has it."""

    known: Outside

    @property
    def at_once(self) -> int:
        """Boards asked side by side."""
        ...

    @property
    def first(self) -> Sequence[int]:
        """Boards that are valued before any is chosen; of the others their areas tell enough."""
        ...

    def fitting(self, board: int, level: int) -> Sequence[int]:
        """Parts that fit a board on a grid of that level."""
        ...

    def worths(self, boards: Sequence[int], level: int, whole: Prices) -> Sequence[tuple[int, Sequence[int]]]:
        """Most worth of boards at these prices on such grids, and copies that have it."""
        ...

    def whole(self, prices: Real, boards: Sequence[int], level: int) -> Prices:
        """Prices in whole numbers, so large that no board of the job is worth more than it may be.

        Some are on grids of that level, the others on the coarsest.
        """
        ...

    def left(self) -> float:
        """Time left [s]."""
        ...


class Worths:
    """Worths of boards at prices, and the sets of parts that have them.

    Parameters
    ----------
    work : Looking
    hints : sequence of sequence of tuple of int
        By board, sets of parts it is known to give.
    """

    def __init__(self, work: Looking, hints: Sequence[Sequence[Prices]] = ()) -> None:
        self.work, self.hints = work, hints
        self._given: dict[tuple[int, int], list[Prices]] = {}
        self._worths: dict[tuple[int, int, Prices], int] = {}
        self._had: dict[tuple[int, int, Prices], list[int]] = {}
        self._tried: dict[tuple[int, int, Prices], tuple[Prices, int]] = {}

    def given(self, board: int, level: int) -> list[Prices]:
        """Sets of parts that a board was seen to give on a grid, each once."""
        if (board, level) not in self._given:
            there = self.work.fitting(board, level)
            every = len(self.work.known.wanted)
            found = [tuple(int(t == one) for t in range(every)) for one in there]
            hints = self.hints[board] if self.hints else ()
            self._given[board, level] = list(dict.fromkeys((*found, *hints)))
        return self._given[board, level]

    def exact(self, boards: Sequence[int], level: int, whole: Prices) -> list[int]:
        """The most each board is worth at these prices on a grid; the set that has it is kept.

        Less where that set has more copies than there may be, and other prices tell of it.
        """
        asked = [board for board in boards if (board, level, whole) not in self._worths]
        found = self.work.worths(asked, level, whole) if asked else ()
        for board, (worth, counts) in zip(asked, found, strict=True):
            key = board, level, whole
            if tuple(counts) not in self.given(board, level):
                self.given(board, level).append(tuple(counts))
            self.work.known.price(board, whole, worth)
            self._had[key] = list(counts)
            more = any(n > there for n, there in zip(counts, self.work.known.most[board], strict=True))
            self._worths[key] = min(worth, self.most(board, whole)) if more else worth
        return [self._worths[board, level, whole] for board in boards]

    def finer(self, board: int, level: int, whole: Prices) -> int | None:
        """The same once more, after a look at other prices: lower for parts the board had too many copies of.

        None if that has been done often enough.
        """
        key = board, level, whole
        tried, times = self._tried.get(key, (whole, 0))
        counts, most = self._had[board, level, tried], self.work.known.most[board]
        other = tuple(
            now * there // n if n > there else (now + price + 1) // 2 if n < there else now
            for now, price, n, there in zip(tried, whole, counts, most, strict=True)
        )
        if other == tried or times == _MOST_LOOKS or not any(other):
            return None
        self.exact((board,), level, other)
        self._tried[key] = other, times + 1
        self._worths[key] = min(self._worths[key], self.most(board, whole))
        return self._worths[key]

    def least(self, board: int, level: int, whole: Prices) -> int:
        """What a board was seen to be worth on a grid at these prices, copies counted."""
        counts = np.minimum(self.given(board, level), self.work.known.most[board])
        return int((counts @ np.array(whole)).max())

    def about(self, board: int, whole: Prices) -> int:
        """What a board is worth at most at these prices, by what it was seen to be worth at some others.

        At others that are `times` as high the board is worth so much as there; parts that cost less there
        than here add the difference, as often as there may be copies of them.
        """
        known = self.work.known
        rows = list(known.rows_of(board)[0].items())[-_MOST_ROWS:]
        matrix = np.array([prices for prices, _ in rows], dtype=np.float64)
        worths = np.array([worth for _, worth in rows], dtype=np.float64)
        most = np.array(known.most[board], dtype=np.float64)
        return floor(_least_worth(np.array(whole, dtype=np.float64), matrix, worths, most) + 1e-6)

    def most(self, board: int, whole: Prices) -> int:
        """What a board is worth at most at these prices, by what it was seen to be worth at others.

        Copies counted: `maximise whole @ x` with x copies of each part, no more than there may be,
        worth at all other prices what the board is worth there at most.
        """
        known = self.work.known
        rows = list(known.rows_of(board)[0].items())[-_MOST_ROWS:]
        matrix = np.array([prices for prices, _ in rows], dtype=np.float64)
        worths = np.array([worth for _, worth in rows])
        scale = matrix.max(axis=1)
        used = scale > 0.0
        found = linprog(
            -np.array(whole, dtype=np.float64),
            A_ub=matrix[used] / scale[used, None],
            b_ub=worths[used] / scale[used],
            bounds=[(0.0, float(most)) for most in known.most[board]],
            method="highs",
        )
        every = float(np.dot(whole, known.most[board]))
        return floor(every if found.status != 0 else min(-found.fun * (1.0 + _SHORT) + 1.0, every))


@compiled("float64(float64[::1], float64[:, ::1], float64[::1], float64[::1])")
def _least_worth(whole: Real, matrix: Real, worths: Real, most: Real) -> float:
    """The least of what the rows of other prices and worths say, each scaled as suits it best.

    Parameters
    ----------
    whole, most : array, shape (parts,)
    matrix : array, shape (rows, parts)
    worths : array, shape (rows,)
    """
    found = float((whole * most).sum())
    for row in range(len(worths)):
        for part in range(len(whole)):
            if matrix[row, part] > 0.0:
                times = whole[part] / matrix[row, part]
                worth = times * worths[row]
                for other in range(len(whole)):
                    worth += max(whole[other] - times * matrix[row, other], 0.0) * most[other]
                found = min(found, worth)
    return found
