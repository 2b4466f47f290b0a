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

from layout.compiled import compiled
from layout.solve.grown_sets import each_once, with_moves
from layout.solve.near_slabs import NearSlabs, Priced, near_slabs
from layout.solve.packed import Packed, Whole

__all__ = ["NearSets", "made_up", "near_sets", "sets_of_slabs"]

_MOST_SETS = 400_000  # of a board's first rows
_MOST_TOLD = 60_000  # sets of a board; of more none is told from those that lie in others in time
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
    packed = Packed(most)
    slabs = near_slabs(board, packed, board.worth - loss, go_on) if packed.fits else None
    return None if slabs is None else sets_of_slabs(board, packed, slabs, loss)


def sets_of_slabs(board: Priced, packed: Packed, slabs: NearSlabs, loss: int) -> NearSets | None:
    """The same sets, of slabs that lose no more than that (`near_slabs`)."""
    found = _across(board, packed, slabs, board.worth - loss)
    if found is None:
        return None
    codes, worths = found
    if len(codes) > _MOST_TOLD:
        return None
    kept = _largest(packed, codes, worths)
    return NearSets(packed.counts(codes[kept]), board.worth - worths[kept])


def _across(board: Priced, packed: Packed, slabs: NearSlabs, least: int) -> tuple[Whole, Whole] | None:
    """Sets of slabs one after the other, and their worths."""
    across = board.slabs.field.across
    order = np.argsort(slabs.rows, kind="stable")
    starts = np.searchsorted(slabs.rows[order], np.arange(across + 2))
    none = np.zeros(0, dtype=np.int64)
    coming: list[list[tuple[Whole, Whole]]] = [[] for _ in range(across + 1)]
    codes, worths = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
    # What may follow, by the row reached; all of it is on one line.
    below = board.below.astype(np.int32)[:, None]
    for row in range(across + 1):
        if coming[row]:
            codes = np.concatenate([codes, *(some for some, _ in coming[row])])
            worths = np.concatenate([worths, *(some for _, some in coming[row])])
            coming[row] = []
        nought = np.zeros(len(codes), dtype=np.int64)
        _, codes, worths, nought = each_once(nought, codes, worths, nought, below[row : row + 1], least)
        if not len(codes) and not any(coming[row:]):
            return none, none
        if len(codes) > _MOST_SETS:
            return None
        here = order[starts[row] : starts[row + 1]]
        if len(here) and len(codes):
            moves = np.zeros_like(here), slabs.codes[here], slabs.worths[here], slabs.ends[here]
            whole, now = np.array([0, len(codes)]), (codes, worths, nought)
            gain = below + np.int32(worths.max())
            _, more, worth, ends = with_moves(
                whole, now, moves, gain, below, least, packed.room, packed.guard, _AT_ONCE
            )
            if len(more) > _AT_ONCE:
                return None
            by_end = np.argsort(ends, kind="stable")
            cuts = np.searchsorted(ends[by_end], np.arange(across + 2))
            for end in np.unique(ends).tolist():
                some = by_end[cuts[end] : cuts[end + 1]]
                coming[end].append((more[some], worth[some]))
    return codes, worths


@compiled("int64[::1](int64[::1], int64)")
def _in_no_other(codes: Whole, guard: int) -> Whole:
    """Places of the sets that lie in none that comes before."""
    kept, many = np.empty(len(codes), dtype=np.int64), 0
    for place in range(len(codes)):
        for other in range(many):
            if ((codes[kept[other]] | guard) - codes[place]) & guard == guard:
                break
        else:
            kept[many] = place
            many += 1
    return kept[:many].copy()


def _largest(packed: Packed, codes: Whole, worths: Whole) -> Whole:
    """Places of the sets that lie in no other one, those of most worth first."""
    # What holds a set is worth as much or more, so it comes before.
    order = np.argsort(-worths, kind="stable")
    kept: Whole = order[_in_no_other(codes[order], packed.guard)]
    return kept


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
        one, sets = _pairs(codes[by_loss], many[some], asked[some], packed.guard, last)
        before.append(one + begin)
        own.append(by_loss[sets])
        count += len(sets)
        if count > _MOST_JOINED and not last:
            return None
    return np.concatenate(before), np.concatenate(own)


@compiled("UniTuple(int64[::1], 2)(int64[::1], int64[::1], int64[::1], int64, boolean)")
def _pairs(codes: Whole, many: Whole, asked: Whole, guard: int, last: bool) -> tuple[Whole, Whole]:
    """Which of what is missing, and which sets, of the first so many; if the last, those that hold it all."""
    one, other = np.empty(256, dtype=np.int64), np.empty(256, dtype=np.int64)
    count = 0
    for number in range(len(asked)):
        for place in range(many[number]):
            if last and ((codes[place] | guard) - asked[number]) & guard != guard:
                continue
            if count == len(one):
                one = np.concatenate((one, np.empty_like(one)))
                other = np.concatenate((other, np.empty_like(other)))
            one[count], other[count] = number, place
            count += 1
    return one[:count].copy(), other[:count].copy()
