"""Stacks of pieces in sections of a slab, set by set: the least height that holds each, place by place."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled
from layout.solve.packed import Packed, Whole
from layout.solve.priced import Slabs
from layout.solve.stack_ends import StackSets, next_end
from layout.solve.stacks_of_use import least_asked, sets_of_use

__all__ = ["Stacks", "stacks_of"]


@dataclass(frozen=True)
class Stacks:
    """Stacks of two or more pieces in sections of one length; each array has one place for each of them.

    Parameters
    ----------
    length : int
        Cells a section takes along.
    step : int
        Cells left along for one place.
    places : mapping of int to int
        By place, its number in `starts`; others have none of use.
    starts : array of int, shape (places + 1,)
        Where those of a place begin.
    lines, heights : array of int
        Numbers of their first rows, and the least heights from there on.
    worths, codes : array of int
    """

    length: int
    step: int
    places: Mapping[int, int]
    starts: Whole
    lines: Whole
    heights: Whole
    worths: Whole
    codes: Whole

    def at(self, left: int) -> tuple[Whole, Whole, Whole, Whole] | None:
        """First rows, heights, worths and sets where so many cells are left; None if there are none."""
        place = self.places.get(left // self.step)
        if place is None or self.starts[place] == self.starts[place + 1]:
            return None
        here = slice(self.starts[place], self.starts[place + 1])
        return self.lines[here], self.heights[here], self.worths[here], self.codes[here]


def stacks_of(
    slabs: Slabs,
    packed: Packed,
    prices: Sequence[int],
    rest: NDArray[np.int32],
    least: int,
    rows: Whole,
    go_on: Callable[[], bool] = lambda: True,
) -> list[Stacks] | None:
    """The stacks of a board that are of use, from these rows on; None if it was not to go on.

    Parameters
    ----------
    slabs : Slabs
    packed : Packed
    prices : sequence of int
    rest : array of int, shape (cells left along + 1, height + 1, rows)
        Worth of the best layout with a slab, less what is before that cell in it.
    least : int
        What leads to no layout worth so much is of no use.
    rows : array of int
    go_on : function, optional
        Asked for every length of section.
    """
    widths, across = slabs.field.widths, slabs.field.across
    found: list[Stacks] = []
    for which, (length, _) in enumerate(slabs.sections):
        if not go_on():
            return None
        changed = np.array(slabs.changed[which])
        places = np.flatnonzero(changed >= 0)
        own_numbers, numbered = np.unique(changed[places], return_inverse=True)
        best = slabs.stacks(prices, own_numbers, rest.shape[1] - 1)  # copies not counted
        every = np.stack((places, numbered), axis=1)
        asked, of_use = _worths_asked(rest, every, slabs.step, length, least, best, rows)
        if not of_use.any():
            continue
        asked, places, numbered = asked[of_use], places[of_use], numbered[of_use]
        own = {t: mask for t, mask in slabs.stacked[which] if prices[t] and packed.most[t]}
        wanted = sets_of_use([*own], widths, prices, packed.most, least_asked(asked, best, numbered, rows))
        if not wanted:
            continue
        sets = StackSets(wanted, len(prices))
        counts = np.array(sets.counts, dtype=np.int64)
        worths, codes, single = counts @ np.array(prices), packed.packed(counts), counts.sum(axis=1) < 2
        _, first, alike = np.unique(numbered, return_index=True, return_inverse=True)
        after = {t: next_end(mask[places[first]], widths[t], across) for t, mask in own.items()}
        ends, lows = sets.ends(after, rows, rest.shape[1] - 1)
        starts, lines, heights, one = _worth_it(asked, ends, lows, alike, across, worths, single, rows)
        numbers = {place: number for number, place in enumerate(places.tolist())}
        found.append(Stacks(length, slabs.step, numbers, starts, lines, heights, worths[one], codes[one]))
    return found


@compiled(
    "Tuple((int32[:, :, ::1], boolean[::1]))"
    "(int32[:, :, ::1], int64[:, ::1], int64, int64, int64, int16[:, :, ::1], int64[::1])"
)
def _worths_asked(
    rest: NDArray[np.int32],
    every: Whole,
    step: int,
    length: int,
    least: int,
    best: NDArray[np.int16],
    rows: Whole,
) -> tuple[NDArray[np.int32], NDArray[np.bool_]]:
    """What a stack has to be worth to be of use, by place, height and first row; and where some are worth it.

    What is before it in a slab is worth no more than the whole slab less the best that may
    follow; so the stack has to make up for the difference of what may follow it and what might without.
    Of each place there are the cells left in steps, and its number in `best`.
    """
    high, lines, lefts = rest.shape[1], rest.shape[2], rest.shape[0]
    asked = np.empty((len(every), high, lines), dtype=np.int32)
    of_use = np.zeros(len(every), dtype=np.bool_)
    for place in range(len(every)):
        first = max(every[place, 0] * step, length)
        last = min(every[place, 0] * step + step, lefts)
        if first >= last:
            continue
        number = every[place, 1]
        for height in range(high - 1, -1, -1):
            now = asked[place, height]
            for line in range(lines):
                now[line] = rest[first, height, line] - rest[first - length, height, line]
            for left in range(first + 1, last):
                there, after = rest[left, height], rest[left - length, height]
                for line in range(lines):
                    now[line] = min(now[line], np.int32(there[line] - after[line]))
            whole = rest[lefts - 1, height]
            for line in range(lines):
                now[line] += np.int32(least) - whole[line]
            if height < high - 1:
                above = asked[place, height + 1]
                for line in range(lines):
                    now[line] = min(now[line], above[line])
            if not of_use[place]:
                for line in range(lines):
                    of_use[place] |= best[number, height, rows[line]] >= now[line]
    return asked, of_use


@compiled(
    "Tuple((int64[::1], int64[::1], int64[::1], int64[::1]))"
    "(int32[:, :, ::1], int16[:, :, ::1], int16[:, ::1], int64[::1], int64, int64[::1], boolean[::1],"
    " int64[::1])"
)
def _worth_it(
    asked: NDArray[np.int32],
    ends: NDArray[np.int16],
    lows: NDArray[np.int16],
    alike: Whole,
    across: int,
    worths: Whole,
    single: NDArray[np.bool_],
    rows: Whole,
) -> tuple[Whole, Whole, Whole, Whole]:
    """Stacks of several pieces that are worth what is asked of them.

    By place, height and row so much is asked; by set, number of the place in `alike` and row stacks end.
    Answers with where those of a place begin, then lines, heights and numbers of the sets.
    """
    places, high = asked.shape[0], asked.shape[1]
    begins = np.zeros(places + 1, dtype=np.int64)
    found, count = np.empty((3, 256), dtype=np.int64), 0
    least = np.empty(high, dtype=np.int64)  # what is asked at least, by height
    for place in range(places):
        for height in range(high):
            least[height] = asked[place, height].min()
        for one in range(len(worths)):
            low = lows[one, alike[place]]
            if single[one] or low >= high or least[low] > worths[one]:
                continue
            for line in range(len(rows)):
                end = ends[one, alike[place], line]
                height = end - rows[line]
                if end <= across and height < high and asked[place, height, line] <= worths[one]:
                    if count == found.shape[1]:
                        found = np.concatenate((found, np.empty_like(found)), axis=1)
                    found[0, count], found[1, count], found[2, count] = line, height, one
                    count += 1
        begins[place + 1] = count
    return begins, found[0, :count].copy(), found[1, :count].copy(), found[2, :count].copy()
