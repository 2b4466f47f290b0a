"""Where the pieces of a set lie on a board that gives it, for sets too large to count all that lie in them.

Only what comes near to the best prices is built (`layout.solve.near_slabs`), of the set's own parts.
Slabs are put one after the other until they hold the set, and each slab, which holds a few pieces,
is then counted on its own (`layout.solve.sawn_out`).
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from layout.solve.counted import Counts, Sets, heights_of
from layout.solve.near_slabs import NearSlabs, Priced, near_slabs
from layout.solve.packed import Packed
from layout.solve.priced import Piece, Slabs
from layout.solve.sawn_out import SawnOut

__all__ = ["laid_out", "laid_out_of"]

_NOWHERE = np.zeros((1, 1), dtype=np.bool_)


def laid_out(
    slabs: Slabs, counts: Counts, prices: Sequence[int], go_on: Callable[[], bool] = lambda: True
) -> list[Piece] | None:
    """Where the pieces of a set lie on a board; None if it does not give it, or that is too much to ask.

    Parameters
    ----------
    slabs : Slabs
        With nothing relaxed.
    counts : tuple of int
    prices : sequence of int
        At which the board is worth little more than the set; none is nought.
    go_on : function, optional
    """
    packed = Packed(counts)
    if not packed.fits:
        return None
    board = Priced(slabs, tuple(price if n else 0 for price, n in zip(prices, counts, strict=True)))
    near = near_slabs(board, packed, int(np.dot(counts, prices)), go_on)
    return None if near is None else _sawn(slabs, near, packed, counts)


def laid_out_of(board: Priced, packed: Packed, near: NearSlabs, counts: Counts) -> list[Piece] | None:
    """The same, of slabs that are known.

    Parameters
    ----------
    board : Priced
    packed : Packed
        How the sets of its slabs are packed.
    near : NearSlabs
        Those of all its layouts that are worth as much as the set, or more.
    counts : tuple of int
    """
    own, worth = Packed(counts), int(np.dot(counts, board.prices))
    there = board.above[near.rows] + near.worths + board.below[near.ends] >= worth
    held = packed.counts(near.codes)
    there &= (held <= np.array(counts)).all(axis=1)
    within = NearSlabs(near.rows[there], near.ends[there], own.packed(held[there]), near.worths[there])
    return _sawn(board.slabs, within, own, counts)


def _sawn(slabs: Slabs, near: NearSlabs, packed: Packed, counts: Counts) -> list[Piece] | None:
    """Where the pieces lie in slabs of these that together hold the set; None if none of them do."""
    chain = _chain(near, packed, packed.of(counts))
    if chain is None:
        return None
    held = packed.counts(near.codes[chain]).tolist()
    found: list[Piece] = []
    for slab, own in zip(chain, held, strict=True):
        row, end = int(near.rows[slab]), int(near.ends[slab])
        field = replace(
            slabs.field,
            across=end - row,
            places=tuple(
                places[:, row:end] if n else _NOWHERE
                for places, n in zip(slabs.field.places, own, strict=True)
            ),
        )
        # Sections as long as pieces of other parts are seldom of use, and take most of the time.
        pieces = _in_slab(Slabs(field, slabs.stages, exact=True), own)
        if pieces is None:
            pieces = _in_slab(Slabs(field, slabs.stages, exact=True, sections=slabs.sections), own)
        assert pieces is not None, "a slab does not hold what it was built of"
        found += [(part, along, row + across) for part, along, across in pieces]
    return found


def _in_slab(slab: Slabs, counts: Sequence[int]) -> list[Piece] | None:
    """Where the pieces of a set lie in a slab of all rows; None if it does not hold them."""
    return SawnOut(heights_of(slab, Sets(counts), rows=1)).slab(tuple(counts))


def _chain(near: NearSlabs, packed: Packed, wanted: int) -> list[int] | None:
    """Slabs one after the other that hold a set; None if there are none."""
    # Each set held, with the row after its slabs, the earliest there is; its last slab, and the set before.
    codes, ends, count = np.zeros(256, dtype=np.int64), np.zeros(256, dtype=np.int64), 1
    numbers, last = {0: 0}, [(-1, -1)]
    for slab in np.argsort(near.rows, kind="stable").tolist():
        row, end = int(near.rows[slab]), int(near.ends[slab])
        sums = codes[:count] + near.codes[slab]
        for before in np.flatnonzero((ends[:count] <= row) & packed.allowed(sums)).tolist():
            both = int(sums[before])
            number = numbers.setdefault(both, count)
            if number == count:
                if count == len(codes):
                    codes, ends = np.resize(codes, 2 * count), np.resize(ends, 2 * count)
                codes[count], count = both, count + 1
                last.append((slab, before))
            elif end >= ends[number]:
                continue
            ends[number], last[number] = end, (slab, before)
    found: list[int] = []
    number = numbers.get(wanted, 0)
    while number:
        slab, number = last[number]
        found.append(slab)
    return found[::-1] or None
