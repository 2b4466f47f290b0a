"""Stacks of pieces in sections of a slab, set by set: the least height that holds each, place by place."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.solve.counted import Counts, next_end, without_one
from layout.solve.packed import Packed, Whole
from layout.solve.priced import Slabs

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
    best: NDArray[np.int16],
    rest: NDArray[np.int32],
    least: int,
    rows: Whole,
) -> list[Stacks]:
    """The stacks of a board that are of use, from these rows on.

    Parameters
    ----------
    slabs : Slabs
    packed : Packed
    prices : sequence of int
    best : array of int, shape (place, height + 1, row + 1)
        Worth of the best stack, copies not counted (`Slabs.stacks`).
    rest : array of int, shape (cells left along + 1, height + 1, rows)
        Worth of the best layout with a slab, less what is before that cell in it.
    least : int
        What leads to no layout worth so much is of no use.
    rows : array of int
    """
    wanted = _wanted(slabs, packed, prices, rest.shape[1] - 1)
    worths = {counts: (int(np.dot(counts, prices)), packed.of(counts)) for counts in wanted}
    found: list[Stacks] = []
    for which, (length, _) in enumerate(slabs.sections):
        every = [(place, number) for place, number in enumerate(slabs.changed[which]) if number >= 0]
        below = [
            (place, number, _least_worth(rest, place, slabs.step, length, least)) for place, number in every
        ]
        of_use = [
            (place, asked)
            for place, number, asked in below
            if asked is not None and (best[number, : len(asked)][:, rows] >= asked).any()
        ]
        if of_use:
            places = [place for place, _ in of_use]
            masks = [(t, mask[places]) for t, mask in slabs.stacked[which]]
            asked = np.stack([asked for _, asked in of_use])
            found += _of_section(
                slabs, length, places, asked, _ends(slabs, masks, wanted, rows), worths, rows
            )
    return found


def _least_worth(
    rest: NDArray[np.int32], place: int, step: int, length: int, least: int
) -> NDArray[np.int32] | None:
    """What a stack has to be worth at a place to be of use, by its height and first row.

    What is before it in a slab is worth no more than the whole slab less the best that may
    follow; so the stack has to make up for the difference of what may follow it and what might without.
    """
    lefts = [left for left in range(place * step, place * step + step) if length <= left < len(rest)]
    if not lefts:
        return None
    asked = np.minimum.reduce([rest[left] - rest[left - length] for left in lefts])
    asked += least - rest[-1]
    found: NDArray[np.int32] = np.minimum.accumulate(asked[::-1], axis=0)[::-1]
    return found


def _of_section(
    slabs: Slabs,
    length: int,
    places: Sequence[int],
    asked: NDArray[np.int32],
    ends: Mapping[Counts, NDArray[np.int32]],
    worths: Mapping[Counts, tuple[int, int]],
    rows: Whole,
) -> Iterator[Stacks]:
    """Those of one length of section, of the worths asked for, shape (places, height + 1, rows)."""
    found: list[tuple[Whole, Whole, int, int]] = []
    high, cells = asked.shape[1] - 1, asked.reshape(-1)
    first = np.arange(len(places))[:, None] * (asked.shape[1] * len(rows)) + np.arange(len(rows))
    for counts, end in ends.items():
        worth, code = worths[counts]
        height = end - rows
        there = np.flatnonzero(height <= high)
        tall = height.reshape(-1)[there].astype(np.int64)
        good = cells[first.reshape(-1)[there] + tall * len(rows)] <= worth
        if sum(counts) > 1 and good.any():
            found.append((there[good], tall[good], worth, code))
    if not found:
        return
    many = [len(there) for there, *_ in found]
    there = np.concatenate([one for one, *_ in found])
    order = np.argsort(there // len(rows), kind="stable")
    yield Stacks(
        length,
        slabs.step,
        {place: number for number, place in enumerate(places)},
        np.searchsorted(there[order] // len(rows), np.arange(len(places) + 1)),
        (there % len(rows))[order],
        np.concatenate([tall for _, tall, *_ in found])[order],
        np.repeat(np.array([worth for *_, worth, _ in found], dtype=np.int64), many)[order],
        np.repeat(np.array([code for *_, code in found], dtype=np.int64), many)[order],
    )


def _wanted(slabs: Slabs, packed: Packed, prices: Sequence[int], high: int) -> list[Counts]:
    """Sets that are no higher, one piece above the other, smallest first."""
    widths, parts = slabs.field.widths, len(packed.most)
    found = [((0,) * parts, 0)]
    for t in slabs.parts:
        if prices[t]:
            found = [
                ((*counts[:t], n, *counts[t + 1 :]), wide + n * widths[t])
                for counts, wide in found
                for n in range(packed.most[t] + 1)
                if wide + n * widths[t] <= high
            ]
    return sorted((counts for counts, _ in found if any(counts)), key=sum)


def _ends(
    slabs: Slabs, masks: Sequence[tuple[int, NDArray[np.bool_]]], wanted: Sequence[Counts], rows: Whole
) -> dict[Counts, NDArray[np.int32]]:
    """Where stacks end at best, by place and first row; those that end nowhere on the board are left out."""
    across, places = slabs.field.across, len(masks[0][1])
    # Ends are told by number in a table of all places, so that one follows from the other at once.
    first = np.arange(places, dtype=np.int32)[:, None] * (across + 2)
    after = {
        t: (next_end(mask, slabs.field.widths[t], across).astype(np.int32) + first).ravel()
        for t, mask in masks
    }
    known: dict[Counts, NDArray[np.int32]] = {}
    for counts in wanted:
        last = [t for t, count in enumerate(counts) if count]
        if not all(t in after for t in last):
            continue
        if sum(counts) == 1:
            known[counts] = after[last[0]][first + rows]
            continue
        before = [(t, known.get(without_one(counts, t))) for t in last]
        ends = [after[t][one] for t, one in before if one is not None]
        if ends:
            found = ends[0]
            for other in ends[1:]:
                np.minimum(found, other, out=found)
            if (found - first <= across).any():
                known[counts] = found
    return {counts: end - first for counts, end in known.items()}
