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

from layout.cuts import Box
from layout.solve.filling import Filler, Filling, Lump
from layout.solve.slabs import Place
from layout.solve.views import Care

__all__ = ["dense"]

_MOST_LEADERS = 24  # parts that may lead a slab, of a long cutting list
_THICKER = 4  # slabs tried that are thicker than their leader,
_THICKEST = 2.5  # up to so many times
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
    states = [_State(0.0, 0.0, tuple(left))]
    best = states[0]
    while states:
        found: dict[tuple[int, tuple[int, ...]], tuple[float, _State]] = {}
        for state in states:
            for after in _after(filler, lump, state, order, worth, _THICKER if thicker else 0):
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


def _after(
    filler: Filler, lump: Lump, state: _State, order: Sequence[int], worth: Sequence[float], thicker: int
) -> Iterator[_State]:
    """The states after one more slab, as near as each leader goes, thicker than it in up to so many ways."""
    axis = 0 if lump.crosscut_first else 1
    thick = lump.builder.view.lengths if lump.crosscut_first else lump.builder.view.widths
    wood = _behind(lump, state.reached, lump.whole)
    leaders = [part for part in order[:_MOST_LEADERS] if state.left[part]]
    order = [part for part in order if state.left[part]]
    seen = set()  # what is as thick as another part may be led by it already
    for leader in leaders:
        at = _nearest(lump, leader, wood)
        if at is None:
            continue
        near, usual = at[axis], at[axis] + thick[leader]
        ends = {usual: leader}
        for part in order if thicker else ():
            if part != leader or state.left[part] > 1:
                for beside in _beside(lump, leader, at):
                    other = _nearest(lump, part, beside)
                    if other is not None:
                        ends.setdefault(other[axis] + thick[part], part)
        most = near + _THICKEST * thick[leader]
        for end in sorted(item for item in ends if usual <= item <= most)[: 1 + thicker]:
            for first in dict.fromkeys((leader, ends[end])):
                if (near, end, first) in seen:
                    continue
                seen.add((near, end, first))
                led = [first, *[part for part in order if part != first]]
                after = _with_slab(filler, lump, state, (near, end), led, worth)
                if after is not None:
                    yield after


def _behind(lump: Lump, reached: float, box: Box) -> Box:
    """What of a box lies behind a line."""
    x0, y0, x1, y1 = box
    return (reached, y0, x1, y1) if lump.crosscut_first else (x0, reached, x1, y1)


def _beside(lump: Lump, leader: int, at: tuple[float, float]) -> tuple[Box, Box]:
    """The wood on either side of a leader, from the line on that it begins on."""
    (x, y), (x0, y0, x1, y1), kerf = at, lump.whole, lump.builder.kerf
    if lump.crosscut_first:
        return (x, y0, x1, y - kerf), (x, y + lump.builder.view.widths[leader] + kerf, x1, y1)
    return (x0, y, x - kerf, y1), (x + lump.builder.view.lengths[leader] + kerf, y, x1, y1)


def _nearest(lump: Lump, part: int, box: Box) -> tuple[float, float] | None:
    """The place of a part in a box nearest its beginning, or None."""
    x0, y0, x1, y1 = box
    view = lump.builder.view
    if view.lengths[part] > x1 - x0 + _TINY or view.widths[part] > y1 - y0 + _TINY:
        return None
    return lump.builder.nearest(part, x0, y0, x1, y1, lump.crosscut_first)


def _with_slab(
    filler: Filler,
    lump: Lump,
    state: _State,
    slab: tuple[float, float],
    order: list[int],
    worth: Sequence[float],
) -> _State | None:
    """The state after a slab between two lines and what goes into the gap before it; None if nothing does."""
    builder, crosscut, kerf = lump.builder, lump.crosscut_first, lump.builder.kerf
    _, _, x1, y1 = lump.whole
    near, end = slab
    builder.left, builder.places = list(state.left), []
    if near - state.reached > kerf:
        gap = (state.reached, 0.0, near - kerf, y1) if crosscut else (0.0, state.reached, x1, near - kerf)
        builder.slabs(*gap, crosscut, filler.stages, order[1:])
    wood = (near, 0.0, end, y1) if crosscut else (0.0, near, x1, end)
    builder.slabs(*wood, not crosscut, filler.stages - 1, order)
    if not builder.places:
        return None
    gained = sum(worth[part] for part, _, _ in builder.places)
    return _State(state.worth + gained, end + kerf, tuple(builder.left), (*state.places, *builder.places))
