"""Sets of parts that a board gives at little loss, and whether some of several boards make up all parts.

Say that a few boards are to give all parts. At any prices of the parts what the boards are worth
together, less what the parts cost, is all that they may lose together. So each board gives one
of the sets that lose no more than that: near enough to the best prices some hundreds or
thousands, which are listed (`layout.solve.near_slabs`). When no choice of one
set for each board makes up all parts within that loss, the boards cannot give them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.solve.near_slabs import NearSlabs, Priced, near_slabs
from layout.solve.packed import Packed, Whole

__all__ = ["NearSets", "made_up", "near_sets"]

_MOST_SETS = 400_000  # of a board's first rows
_MOST_JOINED = 1_500_000  # sets of several boards together
_AT_ONCE = 4_000_000  # pairs of sets looked at in one step


@dataclass(frozen=True)
class NearSets:
    """Sets that a board gives.

    Parameters
    ----------
    counts : array of int, shape (sets, parts)
    losses : array of int, shape (sets,)
        How much less they are worth than the most the board is worth.
    """

    counts: Whole
    losses: Whole


def near_sets(
    board: Priced, most: Sequence[int], loss: int, go_on: Callable[[], bool] = lambda: True
) -> NearSets | None:
    """The sets of a board that lose no more than that; None if they are too many, or it was not to go on.

    Sets that lie in another one of them are left out.

    Parameters
    ----------
    board : Priced
    most : sequence of int
        Copies of each part.
    loss : int
    go_on : function, optional
    """
    packed, least = Packed(most), board.worth - loss
    slabs = near_slabs(board, packed, least, go_on) if packed.fits else None
    if slabs is None:
        return None
    found = _across(board, packed, slabs, least)
    if found is None:
        return None
    codes, worths = found
    kept = _largest(packed, codes, worths)
    return NearSets(packed.counts(codes[kept]), board.worth - worths[kept])


def _across(board: Priced, packed: Packed, slabs: NearSlabs, least: int) -> tuple[Whole, Whole] | None:
    """Sets of slabs one after the other, and their worths."""
    across, below = board.slabs.field.across, board.below
    order = np.argsort(slabs.rows, kind="stable")
    starts = np.searchsorted(slabs.rows[order], np.arange(across + 1))
    none = np.zeros(0, dtype=np.int64)
    coming: list[list[tuple[Whole, Whole]]] = [[] for _ in range(across + 1)]
    codes, worths = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
    for row in range(across + 1):
        if coming[row]:
            codes = np.concatenate([codes, *(some for some, _ in coming[row])])
            worths = np.concatenate([worths, *(some for _, some in coming[row])])
            codes, first = np.unique(codes, return_index=True)
            worths = worths[first]
        good = worths + below[row] >= least
        codes, worths = codes[good], worths[good]
        if not len(codes) and not any(coming[row:]):
            return none, none
        if len(codes) > _MOST_SETS:
            return None
        for slab in order[starts[row] : starts[row + 1]] if row < across else ():
            end = slabs.ends[slab]
            good = worths + slabs.worths[slab] + below[end] >= least
            more = codes[good] + slabs.codes[slab]
            allowed = packed.allowed(more)
            if allowed.any():
                coming[end].append((more[allowed], worths[good][allowed] + slabs.worths[slab]))
    return codes, worths


def _largest(packed: Packed, codes: Whole, worths: Whole) -> Whole:
    """Places of the sets that lie in no other one, those of most worth first."""
    order = np.argsort(-worths, kind="stable")
    kept: list[int] = []
    held = np.zeros(len(codes), dtype=np.int64)
    for place in order.tolist():
        # What holds a set is worth as much or more, so it comes before.
        if not packed.holding(held[: len(kept)], int(codes[place])).any():
            held[len(kept)] = codes[place]
            kept.append(place)
    return np.array(kept, dtype=np.int64)


def made_up(
    boards: Sequence[NearSets], wanted: Sequence[int], loss: int, go_on: Callable[[], bool] = lambda: True
) -> list[Whole] | bool | None:
    """One set of each board, that together make up all parts and lose no more than that.

    Returns
    -------
    list of array, shape (parts,), or False or None
        False if there are none for sure; None if it was too much to look at, or not to go on.
    """
    order = sorted(range(len(boards)), key=lambda number: len(boards[number].losses))
    least = [int(boards[number].losses.min(initial=loss + 1)) for number in order]
    packed = Packed(wanted)
    if not packed.fits:
        return None
    # What is still missing after some boards, by what they lose, and how it came about.
    missing, lost = np.array([list(wanted)], dtype=np.int64), np.zeros(1, dtype=np.int64)
    chosen = np.zeros((1, 0), dtype=np.int64)
    for place, number in enumerate(order):
        allowed = loss - sum(least[place + 1 :])
        last = place == len(order) - 1
        found = _joined(packed, missing, lost, boards[number], allowed, last, go_on)
        if found is None or not len(found[0]):
            return None if found is None else False
        before, own = found
        chosen = np.column_stack((chosen[before], own))
        missing = np.maximum(missing[before] - boards[number].counts[own], 0)
        lost = lost[before] + boards[number].losses[own]
        if not last:
            codes = packed.packed(missing)
            by_loss = np.lexsort((lost, codes))
            first = by_loss[np.flatnonzero(np.diff(codes[by_loss], prepend=-1))]
            missing, lost, chosen = missing[first], lost[first], chosen[first]
    best = chosen[int(lost.argmin())]
    sets = dict(zip(order, best.tolist(), strict=True))
    return [boards[number].counts[sets[number]] for number in range(len(boards))]


def _joined(
    packed: Packed,
    missing: Whole,
    lost: Whole,
    board: NearSets,
    allowed: int,
    last: bool,
    go_on: Callable[[], bool],
) -> tuple[Whole, Whole] | None:
    """Pairs of what is missing and a set, within that loss; if the `last`, those that leave nothing."""
    codes, losses = packed.packed(np.minimum(board.counts, packed.most)), board.losses
    by_loss = np.argsort(losses, kind="stable")
    many = np.searchsorted(losses[by_loss], allowed - lost, side="right")
    asked = packed.packed(missing)
    before: list[Whole] = []
    own: list[Whole] = []
    count = 0
    step = max(_AT_ONCE // max(len(losses), 1), 1)
    for begin in range(0, len(missing), step):
        if not go_on():
            return None
        some = slice(begin, begin + step)
        within: NDArray[np.bool_] = np.arange(many[some].max(initial=0)) < many[some, None]
        one, other = np.nonzero(within)
        sets = by_loss[other]
        if last:
            held = packed.holding(codes[sets], asked[some][one])
            one, sets = one[held], sets[held]
        before.append(one + begin)
        own.append(sets)
        count += len(sets)
        if count > (_MOST_JOINED if not last else np.inf):
            return None
    return np.concatenate(before), np.concatenate(own)
