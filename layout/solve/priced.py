"""What a board sawn with straight cuts can be worth: exact dynamic programmes on a hopeful grid.

The class of layouts a bound for straight cuts speaks of
---------------------------------------------------------
It is the class of `layout.cuts.sawable` and of the verifier, word for word: "crosscut
first (rip first), s stages" as drawn on top of `layout.cuts`, with nothing taken away but tilts
that no grain asks for.
In particular, because pieces are parted by where they lie and not by how they got there:

* a slab (what lies between two cuts of the first stage) reaches from the first
  edge of its pieces to the last. It may be wider than its widest piece: two pieces
  staggered across it are parted by the cuts of the second stage;
* with three stages a section of a slab may likewise be longer than its longest piece;
* a lump of one piece is trimmed to size for nothing, so a piece may lie anywhere in it;
* any number of copies; free choice of pose in every place; pieces are tilted as little as the
  grain of their board asks for (`layout.poses`), and count as the upright rectangles round them.

Everything below is said for slabs lying one after the other ACROSS and sections one
after the other ALONG; for crosscut first, along is across the board and across is along::

    across                      slab 2   | section | section |    one piece each (two stages),
      |   slab by slab         ----------+---------+---------+    or a stack of pieces (three)
      v                         slab 1   | section   | section
          along ->

The grid, and why it is hopeful
-------------------------------
A place p becomes cell floor(p / pitch); a piece of size s with its kerf k moves on what
follows it by floor((s + k - 0.1 mm) / pitch) cells, never more than it truly does. A
cell may hold a piece's corner if any place in it may (`layout.hopeful`). So every layout
of the class is a layout of the grid, and the worth of the best one there is a bound.

RELAXED beyond the grid, in stacks of two or more pieces only: the length of a section
counts as the next smaller of a few lengths (among them most parts' own), its pieces
may lie anywhere in the next larger one, and its place counts in steps of a few cells.
"""

from collections.abc import Iterable, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from layout.solve.fields import Field
from layout.solve.worth_tables import fill_slabs, fill_stacks, lie_in_sections, stack_from

__all__ = ["MOST", "Piece", "Slabs", "whole_prices"]

Map = NDArray[np.bool_]
Whole = NDArray[np.int16]
Piece = tuple[int, int, int]  # part, and the cell of its corner along and across

_NEVER = np.int16(20_000)  # a height no slab has
MOST = 9_000  # worth of a board, at most, so that sums stay clear of the above
_APART = 1.15  # lengths of sections nearer than this count as one, but for those of parts
_STEP = 2  # cells along, in which a stack's place counts as one


def whole_prices(
    boards: Iterable["Slabs"], prices: NDArray[np.float64], full: float, least: int = 0
) -> tuple[int, ...]:
    """Prices in whole numbers, none less than that, so large that no board is worth more than it may be.

    Parameters
    ----------
    boards : iterable of Slabs
    prices : array of float, shape (parts,)
    full : float
        Share of the most a board may be worth that one full of the dearest part would have.
    least : int, optional
    """
    scale = np.inf
    for slabs in boards:
        field = slabs.field
        dense = max((prices[t] / (field.lengths[t] * field.widths[t]) for t in slabs.parts), default=0.0)
        if dense > 0.0:
            scale = min(scale, full * MOST / (dense * field.along * field.across))
    return tuple(max(int(price * scale + 0.5) if np.isfinite(scale) else 0, least) for price in prices)


class Slabs:
    """The programmes of one board.

    Parameters
    ----------
    field : Field
    stages : int
        2 or 3.
    exact : bool
        Nothing relaxed: sections only as long as one of the parts, placed to a cell.
        What is found then is a layout of the grid, but not always the best.
    step, apart : int, float
        Cells along in which a stack's place counts as one; lengths of sections nearer than that are one.
    alike : float
        Share of a section's length that the pieces stacked in it take at least. Other than nought, what
        a board is worth is no bound.
    sections : sequence of (int, int), optional
        As `sections` has it, where they are not to be those of the parts alone.
    """

    def __init__(
        self,
        field: Field,
        stages: int,
        exact: bool = False,
        step: int = _STEP,
        apart: float = _APART,
        alike: float = 0.0,
        sections: Sequence[tuple[int, int]] | None = None,
    ) -> None:
        self.field, self.stages, self.exact, self.apart, self.alike = field, stages, exact, apart, alike
        self.step = 1 if exact else step
        self._sections = sections
        self.parts = [
            t
            for t, places in enumerate(field.places)
            if places[: max(field.along - field.lengths[t] + 1, 0)].any()
        ]

    @cached_property
    def needs(self) -> dict[int, Whole]:
        """For each part: least height of a slab from a row on that holds it, by cells left along."""
        return {t: self._needs[number] for t, number in self._number.items()}

    @cached_property
    def _number(self) -> dict[int, int]:
        return {t: number for number, t in enumerate(self.parts)}

    @cached_property
    def _needs(self) -> Whole:
        """The same, of one part after the other."""
        field = self.field
        rows = np.arange(field.across)
        found = np.full((len(self.parts), field.along + 1, field.across + 1), _NEVER)
        for number, t in enumerate(self.parts):
            places = field.places[t][: field.along - field.lengths[t] + 1]
            end = _next_true(places, field.across) + field.widths[t]
            left = field.along - np.arange(len(places))
            found[number, left, :-1] = np.where(end <= field.across, end - rows, _NEVER)
        return found

    @cached_property
    def lows(self) -> dict[int, list[int]]:
        """For each part: the least of its needs, by cells left along."""
        return {t: need.min(axis=1).tolist() for t, need in self.needs.items()}

    @cached_property
    def sections(self) -> list[tuple[int, int]]:
        """(cells a section takes, one more than its pieces may lie in), for stacks."""
        if self.stages < 3 or not self.parts:
            return []
        if self._sections is not None:
            return [*self._sections]
        own = sorted({self.field.lengths[t] for t in self.parts})
        if self.exact:
            return [(length, length + 1) for length in own]
        found = []
        for length, following in zip(own, [*own[1:], self.field.along + 1], strict=True):
            found.append((length, length + 1))
            short = length + 1
            while short < following:
                room = min(max(int(short * self.apart), short + 1), following)
                found.append((short, room))
                short = room
        return found

    @cached_property
    def stacked(self) -> list[list[tuple[int, Map]]]:
        """For each length of section: its parts, and by step of place where each may lie, row by row."""
        found = []
        for _, room in self.sections:
            fitting = [t for t in self.parts if self.alike * (room - 1) <= self.field.lengths[t] < room]
            masks = [(t, self._in_window(t, room - 1)) for t in fitting]
            found.append([(t, mask) for t, mask in masks if mask.any()])
        return found

    @property
    def changed(self) -> list[list[int]]:
        """For each length of section: numbers of what may lie in it, by step of place; -1 for no use.

        Where its parts may lie as in the next shorter one it holds the same stacks, and that does as well.
        Places in which all parts may lie alike, in sections of whatever length, have one number.
        """
        return self._placed[0]

    @cached_property
    def _placed(self) -> tuple[list[list[int]], Map]:
        """The numbers, and where each part may lie for each of them, shape (numbers, parts, rows)."""
        numbers, before, known = [], dict[int, Map](), dict[bytes, int]()
        groups, rows = self.field.along // self.step + 1, self.field.across + 1
        for masks in self.stacked:
            lying = np.zeros((groups, len(self.parts), rows), dtype=np.bool_)
            other = np.zeros(groups, dtype=np.bool_)
            for t, mask in masks:
                lying[:, self._number[t]] = mask
                other |= (mask != before[t]).any(axis=1) if t in before else mask.any(axis=1)
            before = dict(masks)
            numbers.append(
                [
                    known.setdefault(lying[place].tobytes(), len(known)) if other[place] else -1
                    for place in range(groups)
                ]
            )
        every = np.frombuffer(b"".join(known), dtype=np.bool_)
        return numbers, every.reshape(len(known), len(self.parts), rows)

    def _in_window(self, t: int, room: int) -> Map:
        """Rows in which a part may lie somewhere in a section, by step of the section's place."""
        field = self.field
        found = np.zeros((field.along // self.step + 1, field.across + 1), dtype=np.bool_)
        lie_in_sections(
            found, field.places[t], field.lengths[t], field.widths[t], field.along, self.step, room
        )
        return found

    def best(self, prices: Sequence[int]) -> tuple[int, list[Piece]]:
        """Most worth of the board at prices of the parts (not negative), and pieces that have it.

        Raises
        ------
        OverflowError
            The board is worth more than `MOST`.
        """
        table = self.table(prices)
        best, slabs = self._across(table)
        if best > MOST:
            raise OverflowError(f"a board is worth {best}; choose prices that keep it below {MOST}")
        back = _Back(self, prices, table)
        return best, [piece for row, height in slabs for piece in back.slab(row, height)]

    def stacks(self, prices: Sequence[int], numbers: NDArray[np.int64], high: int) -> Whole:
        """Most worth of a stack at prices of the parts (not negative), up to a height.

        Parameters
        ----------
        prices : sequence of int
        numbers : array of int, shape (places,)
            What may lie in it, as `changed` has it.
        high : int

        Returns
        -------
        array of int, shape (places, high + 1, first row + 1)
        """
        found = np.empty((len(numbers), high + 1, self.field.across + 1), dtype=np.int16)
        fill_stacks(found, self._placed[1], numbers, self._priced(prices))
        return found

    def stack(self, prices: Sequence[int], number: int, row: int, height: int) -> list[int]:
        """Most worth of a stack from a row on, and from each one after it, up to a height."""
        found = stack_from(self._placed[1][number], self._priced(prices), row, height)
        worths: list[int] = found.tolist()
        return worths

    def table(self, prices: Sequence[int]) -> Whole:
        """Most worth of a slab's last part at prices of the parts (not negative).

        Returns
        -------
        array of int, shape (cells left along + 1, row + 1, row + 1)
            By first row, and the row the slab reaches to.
        """
        field = self.field
        found = np.empty((field.along + 1, field.across + 1, field.across + 1), dtype=np.int16)
        priced, sections = [t for t in self.parts if prices[t]], self._stacked_sections(prices)
        lengths, heights = sections[:, 0].tolist(), sections[:, 1].tolist()
        held = dict(zip(lengths, heights, strict=True))
        ones = [
            (prices[t], field.lengths[t], self._number[t], held.get(field.lengths[t], field.across + 1))
            for t in priced
        ]
        lows = np.array([self.lows[t] for t in priced], dtype=np.int64).reshape(-1, field.along + 1)
        fill_slabs(
            found,
            self._needs,
            np.array(ones, dtype=np.int64).reshape(-1, 4),
            lows,
            self._placed[1],
            self._priced(prices),
            sections,
            self.step,
        )
        return found

    def _priced(self, prices: Sequence[int]) -> NDArray[np.int64]:
        """Width, worth and number of each part that has one, the narrowest first."""
        found = [(self.field.widths[t], prices[t], self._number[t]) for t in self.parts if prices[t]]
        return np.array(sorted(found), dtype=np.int64).reshape(-1, 3)

    def _stacked_sections(self, prices: Sequence[int]) -> NDArray[np.int64]:
        """Sections that hold two pieces or more somewhere.

        Each with its length, the least height from which on its stacks are looked at, and its numbers of
        places. Single pieces are in stacks too, but those that are relaxed must not be taken for one.
        """
        found = []
        for (length, _), masks, changed in zip(self.sections, self.stacked, self.changed, strict=True):
            low = min((self.field.widths[t] for t, _ in masks if prices[t]), default=self.field.across)
            if 2 * low <= self.field.across:
                found.append([length, low if self.exact else 2 * low, *changed])
        places = self.field.along // self.step + 1
        return np.array(found, dtype=np.int64).reshape(-1, 2 + places)

    def _across(self, table: Whole) -> tuple[int, list[tuple[int, int]]]:
        """The best slabs: their worth, and (first row, height) of each."""
        across = self.field.across
        whole = table[-1].astype(np.int64)
        best = np.zeros(across + 1, dtype=np.int64)
        chosen = [0] * across
        for row in range(across - 1, -1, -1):
            sums = whole[row, row + 1 :] + best[row + 1 :]
            height = int(sums.argmax())
            best[row] = best[row + 1]
            if sums[height] > best[row]:
                best[row], chosen[row] = sums[height], height + 1
        found, row = [], 0
        while row < across:
            if chosen[row]:
                found.append((row, chosen[row]))
            row += max(chosen[row], 1)
        return int(best[0]), found


class _Back:
    """The way back through the tables of a board, to the pieces its worth came from."""

    def __init__(self, slabs: Slabs, prices: Sequence[int], table: Whole) -> None:
        self.slabs, self.prices, self.table = slabs, prices, table

    def slab(self, row: int, height: int) -> list[Piece]:
        """The pieces of one slab."""
        line = self.table[:, row, row + height].tolist()
        found: list[Piece] = []
        left = self.slabs.field.along
        while left and line[left]:
            if line[left] == line[left - 1]:
                left -= 1
                continue
            length, pieces = self._section(line, left, row, height)
            found += pieces
            left -= length
        return found

    def _section(self, line: list[int], left: int, row: int, height: int) -> tuple[int, list[Piece]]:
        """The section that begins so many cells before the end: its length and its pieces."""
        slabs, field = self.slabs, self.slabs.field
        begin = field.along - left
        for t in slabs.parts:
            length = field.lengths[t]
            need = int(slabs.needs[t][left, row])
            if left >= length and need <= height and line[left] == line[left - length] + self.prices[t]:
                return length, [(t, begin, row + need - field.widths[t])]
        for which, (length, _) in enumerate(slabs.sections):
            place = slabs.changed[which][left // slabs.step]
            if place < 0 or left < length:
                continue
            worths = slabs.stack(self.prices, place, row, height)
            if worths[0] and line[left] == line[left - length] + worths[0]:
                return length, self._pieces(which, left, row, worths)
        raise AssertionError("the worth of a slab came from nowhere")

    def _pieces(self, which: int, left: int, row: int, worths: list[int]) -> list[Piece]:
        """The pieces of a stack whose worths from that row on, and from each one after it, are these."""
        slabs, field = self.slabs, self.slabs.field
        begin, at, found = field.along - left, 0, list[Piece]()
        while worths[at]:
            for t, mask in slabs.stacked[which]:
                end = at + field.widths[t]
                fits = end < len(worths) and mask[left // slabs.step, row + at]
                if fits and worths[at] == self.prices[t] + worths[end]:
                    ahead = np.flatnonzero(field.places[t][begin:, row + at])
                    found.append((t, begin + (int(ahead[0]) if len(ahead) else 0), row + at))
                    at = end
                    break
            else:
                at += 1
        return found


def _next_true(places: Map, most: int) -> NDArray[np.int64]:
    """First true cell at or after each one of `most`, in the second axis; a large number if there is none."""
    wide = np.zeros((len(places), most), dtype=np.bool_)
    wide[:, : min(places.shape[1], most)] = places[:, :most]
    own = np.where(wide, np.arange(most, dtype=np.int64), np.int64(_NEVER))
    return np.minimum.accumulate(own[:, ::-1], axis=1)[:, ::-1]
