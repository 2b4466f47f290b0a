"""Where the pieces of a set lie on a board that gives it, for sets too large to count all that lie in them.

Only what comes near to the best prices is built (`layout.solve.near_slabs`), of the set's own parts.
Slabs are put one after the other until they hold the set, and each slab, which holds a few pieces,
is then counted on its own (`layout.solve.sawn_out`).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from layout.solve.counted import Counts, Sets, heights_of
from layout.solve.near_slabs import NearSlabs, Priced, near_slabs
from layout.solve.packed import Packed
from layout.solve.priced import Piece, Slabs
from layout.solve.sawn_out import SawnOut

__all__ = ["laid_out"]


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
    chain = None if near is None else _chain(near, packed, packed.of(counts))
    if near is None or chain is None:
        return None
    held = packed.counts(near.codes[chain]).tolist()
    found: list[Piece] = []
    for slab, own in zip(chain, held, strict=True):
        row, end = int(near.rows[slab]), int(near.ends[slab])
        field = replace(
            slabs.field,
            across=end - row,
            places=tuple(places[:, row:end] for places in slabs.field.places),
        )
        alone = Slabs(field, slabs.stages, exact=True)
        pieces = SawnOut(heights_of(alone, Sets(own))).pieces(tuple(own))
        assert pieces is not None, "a slab does not hold what it was built of"
        found += [(part, along, row + across) for part, along, across in pieces]
    return found


@dataclass(frozen=True)
class _Held:
    """What is held by some slabs: the row after them, the last one, and what is held without it."""

    end: int
    slab: int = -1
    before: "_Held | None" = None


def _chain(near: NearSlabs, packed: Packed, wanted: int) -> list[int] | None:
    """Slabs one after the other that hold a set; None if there are none."""
    # Each set with the row at which it is held at the earliest.
    held = {0: _Held(0)}
    for slab in np.argsort(near.rows, kind="stable").tolist():
        row, end, own = int(near.rows[slab]), int(near.ends[slab]), near.codes[slab]
        before = [(code, one) for code, one in held.items() if one.end <= row]
        sums = np.array([code for code, _ in before], dtype=np.int64) + own
        for place in np.flatnonzero(packed.allowed(sums)).tolist():
            both = int(sums[place])
            if both not in held or end < held[both].end:
                held[both] = _Held(end, slab, before[place][1])
    last, found = held.get(wanted), list[int]()
    while last is not None and last.before is not None:
        found.append(last.slab)
        last = last.before
    return found[::-1] or None
