"""Dense fillings: a board built slab by slab, each slab chosen for its worth and the board it takes.

A plain filling (`layout.solve.filling`) makes every slab as thick as the first
part that fits. Here every part may lead a slab; of all slabs those are kept whose
worth, with the rest of the board counted at the going rate, promises most, and
the building goes on from a few of them side by side (a beam search).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp
from random import Random

from layout.solve.filling import Filler, Filling, Lump
from layout.solve.slabs import Place
from layout.solve.views import Care

__all__ = ["dense"]

_MOST_LEADERS = 24  # parts that may lead a slab, of a long cutting list
_TINY = 1e-7


@dataclass(frozen=True)
class _State:
    """A board filled up to a line.

    Parameters
    ----------
    worth : float
    reached : float
        Where the next slab may begin [mm].
    left : tuple of int
        Copies still to be had.
    places : tuple of Place
    """

    worth: float
    reached: float
    left: tuple[int, ...]
    places: tuple[Place, ...] = ()


def dense(
    filler: Filler,
    board: int,
    left: Sequence[int],
    worth: Sequence[float],
    rate: float,
    chance: Random,
    beam: int = 1,
    care: Care = Care.ALLOWED,
) -> Filling:
    """A filling of one board that is worth much.

    Parameters
    ----------
    filler, board
    left : sequence of int
        Copies of each part to be had.
    worth : sequence of float
        Of one copy of each part.
    rate : float
        What all of the board should be worth, to be worth its price.
    chance : Random
    beam : int
        Half-filled boards gone on with side by side.
    care : Care
    """
    order = _order(filler, board, left, worth, chance)
    begin = (chance.random() < 0.3, chance.random() < 0.3, False)
    lump = filler.lump(board, left, care, begin, chance.random() < 0.5)
    if lump.builder.fixed or not order:
        return filler.fill(board, left, order, care, lump.crosscut_first, begin)
    end = lump.whole[2] if lump.crosscut_first else lump.whole[3]
    if end <= 0.0:
        return filler.filling(lump, ())
    states = [_State(0.0, 0.0, tuple(left))]
    best = states[0]
    while states:
        found: dict[tuple[int, tuple[int, ...]], tuple[float, _State]] = {}
        for state in states:
            for leader in order[:_MOST_LEADERS]:
                after = _slab(filler, lump, state, leader, order, worth) if state.left[leader] else None
                if after is None:
                    continue
                if after.worth > best.worth:
                    best = after
                promise = after.worth + rate * max(end - after.reached, 0.0) / end
                key = (int(after.reached), after.left)
                if key not in found or found[key][0] < promise:
                    found[key] = (promise, after)
        ranked = sorted(found.values(), key=lambda item: -item[0])
        states = [state for _, state in ranked[:beam]]
    return filler.filling(lump, best.places)


def _order(
    filler: Filler, board: int, left: Sequence[int], worth: Sequence[float], chance: Random
) -> list[int]:
    """Parts there are, those worth most for their size (to a power drawn, with noise) first."""
    power, noise = chance.choice((0.5, 1.0, 1.0)), chance.choice((0.05, 0.1, 0.3))
    areas = filler.areas
    scores = {
        part: -worth[part] / areas[part] ** power * exp(noise * chance.gauss(0.0, 1.0))
        for part, count in enumerate(left)
        if count and worth[part] > 0.0
    }
    return filler.tried(board, left, sorted(scores, key=scores.__getitem__))


def _slab(
    filler: Filler, lump: Lump, state: _State, leader: int, order: Sequence[int], worth: Sequence[float]
) -> _State | None:
    """The state after one more slab, as thick as its leader and as near as it goes, or None."""
    builder, crosscut = lump.builder, lump.crosscut_first
    _, _, x1, y1 = lump.whole
    x0, y0 = (state.reached, 0.0) if crosscut else (0.0, state.reached)
    length, width = builder.view.lengths[leader], builder.view.widths[leader]
    if length > x1 - x0 + _TINY or width > y1 - y0 + _TINY:
        return None
    at = builder.nearest(leader, x0, y0, x1, y1, crosscut)
    if at is None:
        return None
    builder.left, builder.places = list(state.left), []
    others = [part for part in order if part != leader]
    near, kerf = (at[0] if crosscut else at[1]), builder.kerf
    if near - state.reached > kerf:
        gap = (x0, y0, near - kerf, y1) if crosscut else (x0, y0, x1, near - kerf)
        builder.slabs(*gap, crosscut, filler.stages, others)
    slab = (near, y0, near + length, y1) if crosscut else (x0, near, x1, near + width)
    builder.slabs(*slab, not crosscut, filler.stages - 1, [leader, *others])
    if not builder.places:
        return None
    gained = sum(worth[part] for part, _, _ in builder.places)
    reached = near + (length if crosscut else width) + kerf
    return _State(state.worth + gained, reached, tuple(builder.left), (*state.places, *builder.places))
