"""Slabs of the sets that a board gives at little loss: every one of them, copies counted.

What a board is worth at prices of the parts is known at every step of the programmes
(`layout.solve.priced`), and so is what the best layout through a given step is worth. When only
sets matter that are worth little less than the most there is, hardly any step is left:
of some hundred thousand cells a few in a hundred, of what may begin there one in a
thousand. So sets can be told apart there that are far too many elsewhere.

A slab is built from its beginning. What is built so far is a set of parts, the row it begins in
and the least height that holds it; it goes on only as long as the best that may follow,
in the slab, above and below it, loses no more than is allowed. What may follow is told without
copies counted, so nothing is missed.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled
from layout.solve.grown_sets import each_once, most_before, to_gain, with_moves
from layout.solve.near_stacks import Stacks, stacks_of
from layout.solve.packed import Packed, Whole
from layout.solve.priced import Slabs

__all__ = ["NearSlabs", "Priced", "near_slabs"]

_NOTHING = -20_000  # worth of what cannot be
_MOST_AT_ONCE = 4_000_000  # sets looked at in one step
_MOST_WAITING = 8_000_000  # sets to be gone on with, 32 bytes each
_MOST_CELLS = 60_000_000  # of the tables of a board


@dataclass(frozen=True)
class Priced:
    """A board at prices of the parts.

    Parameters
    ----------
    slabs : Slabs
    prices : tuple of int
    """

    slabs: Slabs
    prices: tuple[int, ...]

    @cached_property
    def table(self) -> NDArray[np.int16]:
        """Worth of a slab's last part by cells left along, first row, and the row it reaches to."""
        return self.slabs.table(self.prices)

    @cached_property
    def below(self) -> Whole:
        """Most worth of the board from a row on."""
        across, whole = self.slabs.field.across, self.table[-1].astype(np.int64)
        found = np.zeros(across + 1, dtype=np.int64)
        for row in range(across - 1, -1, -1):
            found[row] = max(found[row + 1], (whole[row, row + 1 :] + found[row + 1 :]).max())
        return found

    @cached_property
    def above(self) -> Whole:
        """Most worth of the board up to a row."""
        across, whole = self.slabs.field.across, self.table[-1].astype(np.int64)
        found = np.zeros(across + 1, dtype=np.int64)
        for row in range(across):
            found[row + 1] = max(found[row], found[row + 1])
            after = found[row + 1 :]
            np.maximum(after, found[row] + whole[row, row + 1 :], out=after)
        return found

    def without_table(self) -> "Priced":
        """The same, as far as it is known, without the table, which is large."""
        found = Priced(self.slabs, self.prices)
        found.__dict__.update(below=self.below, above=self.above)
        return found

    @property
    def worth(self) -> int:
        """Most worth of the board."""
        return int(self.below[0])


@dataclass(frozen=True)
class NearSlabs:
    """Slabs, one in each place of the arrays, each of shape (slabs,).

    Parameters
    ----------
    rows, ends : array of int
        First rows, and the rows after them.
    codes : array of int
        Their sets, packed.
    worths : array of int
    """

    rows: Whole
    ends: Whole
    codes: Whole
    worths: Whole


def near_slabs(
    board: Priced, packed: Packed, least: int, go_on: Callable[[], bool] = lambda: True
) -> NearSlabs | None:
    """Every slab of the board's layouts that are worth so much and have no more copies than there may be.

    Slabs of sets are told with the least height that holds them. None if they are too many, or it
    was not to go on.

    Parameters
    ----------
    board : Priced
    packed : Packed
        With the copies there may be.
    least : int
    go_on : function, optional
        Asked at every step.
    """
    field = board.slabs.field
    across = field.across
    # Worth of the best layout with that slab, less its own, by height and row.
    outside = np.full((across + 1, across + 1), _NOTHING, dtype=np.int32)
    for row in range(across):
        outside[1 : across - row + 1, row] = board.above[row] + board.below[row + 1 :]
    lines = np.arange(across + 1)
    matters: NDArray[np.bool_] = _with_outside(board.table[-1:], lines, outside)[0] >= least
    rows, high = np.flatnonzero(matters.any(axis=0)), int(np.flatnonzero(matters.any(axis=1)).max(initial=0))
    if not len(rows):
        return NearSlabs(*(np.zeros(0, dtype=np.int64) for _ in range(4)))
    if (field.along + 1) * (high + 1) * len(rows) > _MOST_CELLS:
        return None
    # By cells left, height and row: worth of the best layout with that slab, less what is before.
    rest = _with_outside(board.table, rows, outside[: high + 1])
    stacks = stacks_of(board.slabs, packed, board.prices, rest, least, rows, go_on)
    return None if stacks is None else _Building(board, packed, least, rows, high, rest, stacks).built(go_on)


@compiled("int32[:, :, ::1](int16[:, :, ::1], int64[::1], int32[:, ::1])")
def _with_outside(table: NDArray[np.int16], rows: Whole, outside: NDArray[np.int32]) -> NDArray[np.int32]:
    """Worths of a table and of what is outside a slab, by cells left, height and number of the first row."""
    found = np.empty((len(table), len(outside), len(rows)), dtype=np.int32)
    for left in range(len(table)):
        for height in range(len(outside)):
            for line in range(len(rows)):
                row = rows[line]
                worth = table[left, row, row + height] if row + height < table.shape[2] else np.int16(0)
                found[left, height, line] = worth + outside[height, row]
    return found


@dataclass(frozen=True)
class _Open:
    """What is built so far: numbers of the rows, sets, worths, and least heights, each of shape (sets,)."""

    lines: Whole
    codes: Whole
    worths: Whole
    heights: Whole


# Numbers of the rows, least heights, worths and sets, each of shape (moves,).
_Moves = tuple[Whole, Whole, Whole, Whole]


class _Building:
    """The slabs of a board, built from their beginnings."""

    def __init__(
        self,
        board: Priced,
        packed: Packed,
        least: int,
        rows: Whole,
        high: int,
        rest: NDArray[np.int32],
        stacks: Sequence[Stacks],
    ) -> None:
        self.board, self.packed, self.least, self.stacks = board, packed, least, stacks
        self.rows, self.high, self.rest = rows, high, rest
        # The same for that height or more.
        self.best = np.ascontiguousarray(np.maximum.accumulate(rest[:, ::-1], axis=1)[:, ::-1])
        self._coming: list[list[_Open]] = [[] for _ in range(len(rest))]
        self._waiting = 0

    def built(self, go_on: Callable[[], bool]) -> NearSlabs | None:
        lines, none = np.arange(len(self.rows)), np.zeros(len(self.rows), dtype=np.int64)
        along = self.board.slabs.field.along
        self._coming[along].append(_Open(lines, none, none, none))
        self._waiting = len(lines)
        now = _Open(*(none[:0] for _ in range(4)))
        for left in range(along, -1, -1):
            now = self._gathered(now, left)
            if left and len(now.lines) and not (go_on() and self._gone_on(now, left)):
                return None
        return NearSlabs(self.rows[now.lines], self.rows[now.lines] + now.heights, now.codes, now.worths)

    def _gathered(self, now: _Open, left: int) -> _Open:
        """What is open where so many cells are left: each set once for its row, with the least height."""
        coming, self._coming[left] = self._coming[left], []
        every = [now, *coming]
        self._waiting -= sum(len(one.lines) for one in coming)
        lines, codes, worths, heights = (
            np.concatenate([getattr(one, name) for one in every]) if coming else getattr(now, name)
            for name in ("lines", "codes", "worths", "heights")
        )
        return _Open(*each_once(lines, codes, worths, heights, self.best[left], self.least))

    def _gone_on(self, now: _Open, left: int) -> bool:
        """Go on with every section that may begin here; False if that is too much."""
        starts = np.searchsorted(now.lines, np.arange(len(self.rows) + 1))
        before = most_before(now.lines, now.worths, now.heights, self.high + 1, len(self.rows))
        for length, groups in self._sections(left):
            gain = to_gain(before, self.rest[left - length])
            for lines, heights, worths, codes in groups:
                then = with_moves(
                    starts,
                    (now.codes, now.worths, now.heights),
                    (lines, codes, worths, heights),
                    gain,
                    self.best[left - length],
                    self.least,
                    self.packed.room,
                    self.packed.guard,
                    _MOST_AT_ONCE,
                )
                self._waiting += len(then[0])
                if len(then[0]) > _MOST_AT_ONCE or self._waiting > _MOST_WAITING:
                    return False
                if len(then[0]):
                    self._coming[left - length].append(_Open(*then))
        return True

    @cached_property
    def _singles(self) -> list[tuple[int, list[int], Whole, Whole, Whole]]:
        """Of each part: cells along, least heights by cells left, the same row by row, and worth and set."""
        slabs, prices, found = self.board.slabs, self.board.prices, []
        for t in slabs.parts:
            if prices[t] and self.packed.most[t]:
                need = np.ascontiguousarray(slabs.needs[t][:, self.rows], dtype=np.int64)
                each = np.ones(len(self.rows), dtype=np.int64)
                one = self.packed.of([int(t == other) for other in range(len(prices))])
                found.append((slabs.field.lengths[t], slabs.lows[t], need, prices[t] * each, one * each))
        return found

    def _sections(self, left: int) -> Iterator[tuple[int, list[_Moves]]]:
        """What may begin here, by the cells it takes along."""
        found: dict[int, list[_Moves]] = {}
        lines = np.arange(len(self.rows))
        for length, lows, need, worths, codes in self._singles:
            if left >= length and lows[left] <= self.high:
                found.setdefault(length, []).append((lines, need[left], worths, codes))
        for stacks in self.stacks:
            if left >= stacks.length and (moves := stacks.at(left)) is not None:
                found.setdefault(stacks.length, []).append(moves)
        yield from found.items()
