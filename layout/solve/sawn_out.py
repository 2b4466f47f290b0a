"""The way back through what was counted: where the pieces of a set lie on a board that can give it.

On a careful grid (`layout.solve.fields.careful_field`) with nothing relaxed, what is found
can be sawn out as it lies.
"""

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from layout.solve.counted import Counts, Move, Tables, ends_of_stacks
from layout.solve.priced import Piece
from layout.solve.stack_ends import Ends, StackSets, next_end, without_one

__all__ = ["SawnOut"]


class SawnOut:
    """Pieces of sets that a board gives.

    Parameters
    ----------
    tables : Tables
        Of programmes with nothing relaxed (`Slabs(..., exact=True)`).
    """

    def __init__(self, tables: Tables) -> None:
        if not tables.slabs.exact:
            raise ValueError("the programmes are relaxed; make them with exact=True")
        self.tables, self.slabs, self.sets = tables, tables.slabs, tables.sets
        self._stacks: dict[int, dict[Counts, Ends]] = {}

    @cached_property
    def _first(self) -> NDArray[np.int64]:
        return self.tables.slab_ends()

    @cached_property
    def _ends(self) -> NDArray[np.int64]:
        return self.tables.ends(self._first)

    @cached_property
    def _wanted(self) -> StackSets:
        return StackSets(self.sets.narrow(self.slabs.field), len(self.sets.most))

    def pieces(self, counts: Counts) -> list[Piece] | None:
        """Where the pieces of a set lie; None if the board cannot give it."""
        if any(n > most for n, most in zip(counts, self.sets.most, strict=True)):
            return None
        number = self.sets.number(counts)
        if self._ends[number] > self.slabs.field.across:
            return None
        found: list[Piece] = []
        while number:
            last, row, height = self._last_slab(number)
            found += self._slab(last, row, height)
            number -= last
        return found

    def slab(self, counts: Counts) -> list[Piece] | None:
        """Where the pieces of a set lie in one slab of all rows; None if it does not hold it.

        Of tables that end with the first row nothing else is told.
        """
        number, across = self.sets.number(counts), self.slabs.field.across
        holds = self.tables.heights[-1, 0, number] <= across
        return self._slab(number, 0, across) if holds else None

    def possible(self) -> NDArray[np.bool_]:
        """For every set, whether the board can give it; one axis for each part."""
        return (self._ends <= self.slabs.field.across).reshape(self.sets.shape)

    def _last_slab(self, number: int) -> tuple[int, int, int]:
        """Set, first row and height of the last slab of a set."""
        alone = self._alone
        inside = alone[(self.sets.digits[:, alone] <= self.sets.digits[:, number, None]).all(axis=0)]
        starts = self._ends[number - inside]
        best = int(self._first[starts, inside].argmin())
        last, start = int(inside[best]), int(starts[best])
        heights = self.tables.heights[-1, start:, last].astype(np.int64)
        height_at = int((heights + np.arange(len(heights))).argmin())
        return last, start + height_at, int(heights[height_at])

    @cached_property
    def _alone(self) -> NDArray[np.int64]:
        alone = np.flatnonzero(self._first[0] < len(self._first) - 1)
        return alone[alone > 0]

    def _slab(self, number: int, row: int, height: int) -> list[Piece]:
        """The pieces of one slab."""
        along, found = self.slabs.field.along, []
        left = along
        while number:
            if self.tables.heights[left - 1, row, number] <= height:
                left -= 1
                continue
            move = self._begun(left, number, row, height)
            begin, number, left = along - left, number - self.sets.number(move.counts), left - move.length
            if move.which < 0:
                part = move.counts.index(1)
                need = int(move.need[along - begin, row])
                found.append((part, begin, row + need - self.slabs.field.widths[part]))
            else:
                found += self._stack(move, begin, row)
        return found

    def _begun(self, left: int, number: int, row: int, height: int) -> Move:
        """A section that may begin so many cells before the end, and leaves room for the rest of the set."""
        for move in self.tables.moves:
            held = self.sets.number(move.counts)
            if left < move.length or held > number or move.bar[number]:
                continue
            rest = self.tables.heights[left - move.length, row, number - held]
            if move.need[left // move.step, row] <= height and rest <= height:
                return move
        raise AssertionError("the height of a slab came from nowhere")

    def _stack(self, move: Move, begin: int, row: int) -> list[Piece]:
        """The pieces of a stack, the last one first."""
        field, group, counts = self.slabs.field, self.slabs.field.along - begin, move.counts
        known, after = self._stacks_of(move.which)
        end, found = int(known[counts][group, row]), []
        while sum(counts):
            for part in [t for t, n in enumerate(counts) if n]:
                rest = without_one(counts, part)
                start = int(known[rest][group, row]) if sum(rest) else row
                if start <= field.across and after[part][group, start] == end:
                    break
            else:
                raise AssertionError("the end of a stack came from nowhere")
            y = end - field.widths[part]
            ahead = int(field.places[part][begin:, y].argmax())
            found.append((part, begin + ahead, y))
            counts, end = rest, start
        return found

    def _stacks_of(self, which: int) -> tuple[dict[Counts, Ends], dict[int, Ends]]:
        """Where stacks in sections of one length end, and where single pieces in them do."""
        if which not in self._stacks:
            self._stacks[which] = ends_of_stacks(
                self.slabs, which, self._wanted, self.tables.heights.shape[1]
            )
        widths, across = self.slabs.field.widths, self.slabs.field.across
        return self._stacks[which], {
            t: next_end(mask, widths[t], across) for t, mask in self.slabs.stacked[which]
        }
