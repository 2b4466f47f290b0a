"""Dense fillings: a board built slab by slab, each slab chosen for its worth and the board it takes.

A plain filling (`layout.solve.filling`) makes every slab as thick as the first
part that fits. Here every part may lead a slab; of all slabs those are kept whose
worth, with the rest of the board counted at the going rate, promises most, and
the building goes on from a few of them side by side (a beam search).

On boards full of faults two parts that lie side by side seldom begin on one line. So
slabs may be thicker than their leader as well: up to where another part would end.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import exp
from random import Random

import numpy as np

from layout.solve.filling import Filler, Filling, Lump
from layout.solve.slab_loops import Floats, Whole, led
from layout.solve.slabs import Place, places_of
from layout.solve.views import Care

__all__ = ["dense"]

_MOST_LEADERS = 24  # parts that may lead a slab, of a long cutting list
_THICKER = 4  # slabs tried that are thicker than their leader


@dataclass(frozen=True)
class _State:
    """A board filled up to a line.

    Parameters
    ----------
    worth : float
    reached : float
        Where the next slab may begin [mm].
    left : array of int
        Copies still to be had.
    before : _State or None
        Without the last slab.
    slab : (parts, corners)
        What is in that, as `layout.solve.slab_loops` tells it.
    """

    worth: float
    reached: float
    left: Whole
    before: "_State | None" = None
    slab: tuple[Whole, Floats] | None = None

    def places(self) -> list[Place]:
        """All that is on the board."""
        if self.before is None or self.slab is None:
            return []
        return [*self.before.places(), *places_of(*self.slab)]


def dense(
    filler: Filler,
    board: int,
    left: Sequence[int],
    worth: Sequence[float],
    rate: float,
    chance: Random,
    beam: int = 1,
    care: Care = Care.ALLOWED,
    thicker: bool = False,
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
    thicker : bool
        Whether slabs may be thicker than their leader, which takes several times as long.
    """
    order = _order(filler, board, left, worth, chance)
    begin = (chance.random() < 0.3, chance.random() < 0.3, False)
    lump = filler.lump(board, left, care, begin, chance.random() < 0.5)
    if lump.builder.fixed or not order:
        return filler.fill(board, left, order, care, lump.crosscut_first, begin)
    end = lump.whole[2] if lump.crosscut_first else lump.whole[3]
    if end <= 0.0:
        return filler.filling(lump, ())
    tried, worths = np.array(order, dtype=np.int64), np.array(worth, dtype=np.float64)
    states = [_State(0.0, 0.0, lump.builder.left)]
    best = states[0]
    while states:
        found: dict[tuple[int, bytes], tuple[float, _State]] = {}
        for state in states:
            for after in _after(lump, filler.stages, state, tried, worths, _THICKER if thicker else 0):
                if after.worth > best.worth:
                    best = after
                promise = after.worth + rate * max(end - after.reached, 0.0) / end
                key = (int(after.reached), after.left.tobytes())
                if key not in found or found[key][0] < promise:
                    found[key] = (promise, after)
        ranked = sorted(found.values(), key=lambda item: -item[0])
        states = [state for _, state in ranked[:beam]]
    return filler.filling(lump, best.places())


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


def _after(
    lump: Lump, stages: int, state: _State, order: Whole, worth: Floats, thicker: int
) -> Iterator[_State]:
    """The states after one more slab, as near as each leader goes, thicker than it in up to so many ways."""
    builder, there = lump.builder, state.left[order] > 0
    leaders = int(there[:_MOST_LEADERS].sum())
    _, slabs, lefts, until, parts, corners = builder.view.answer(
        led,
        *(builder.pitch, builder.least, state.left, lump.whole[2:], state.reached, lump.crosscut_first),
        *(stages, order[there], leaders, thicker, worth),
    )
    begins = 0
    for (gained, reached), left, ends in zip(slabs.tolist(), lefts, until.tolist(), strict=True):
        slab = parts[begins:ends], corners[begins:ends]
        yield _State(state.worth + gained, reached, left, state, slab)
        begins = ends
