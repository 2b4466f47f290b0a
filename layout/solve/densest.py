"""The densest fillings: a board priced by the exact programmes of straight cuts, on a careful grid.

Dense fillings (`layout.solve.dense`) choose slab by slab and never look back. The programmes
of `layout.solve.priced` know the best board there is on a grid, at any prices of the parts;
on a careful grid (`layout.solve.fields`) with nothing relaxed, what they find can be sawn out
as it lies. They take as long as dozens of dense fillings, and copies are not counted in them:
pieces too many make way for the best other one that lies within their box.

Boards sawn freely get slabs too, either way round.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, sqrt
from random import Random

import numpy as np

from layout.allowances import Sawing, sawn_length, sawn_width
from layout.cuts import sawable
from layout.solve.fields import Careful, Level, careful_field
from layout.solve.filling import Filling
from layout.solve.job import Job
from layout.solve.priced import MOST, Piece, Slabs
from layout.solve.result import best_pose
from layout.solve.slabs import Place
from layout.solve.stop import Stop

__all__ = ["FEW_COPIES", "Densest"]

FEW_COPIES = 20  # of a job, up to which finer grids are used
_ABOUT: tuple[Level, ...] = ((16.0, 5.0), (9.0, 2.7))  # pitches along and across [mm]
_APART = 0.2  # share by which a pitch may be less or more
_TRIES = 3  # of prices of a board
_LESS = 0.5  # power of the share of pieces that there are copies for, taken off a price
_FULL = 0.95  # of the most a board may be worth
_OF_A_ROUND = 140_000  # steps of the programmes that take as long as one round of the walks
_MOST_ROUNDS = 1_500  # that one look at a board may take, about a quarter of a second
_LEFT = 0.8  # time that has to be left for one more look [s]
_MOST_VIEWS = 24  # of boards, kept ready
_TINY = 1e-6


@dataclass(frozen=True)
class _View:
    """A board on a careful grid, and its programmes."""

    careful: Careful
    slabs: Slabs

    def rounds(self) -> int:
        """About how many rounds of the walks its programmes take the time of."""
        field = self.slabs.field
        steps = field.along * field.across**2 * (len(self.slabs.parts) + len(self.slabs.sections))
        return steps // _OF_A_ROUND + 1


class Densest:
    """The densest fillings of the boards of a job.

    Parameters
    ----------
    job : Job
        Without staves of free width.
    """

    def __init__(self, job: Job) -> None:
        self.job = job
        self._views: dict[tuple[int, int, bool], _View] = {}
        self._free = job.sawing is Sawing.BAND_SAW
        levels = [_level(job, level) for level in _ABOUT]
        # With few copies a finer grid is worth its time.
        self._levels = levels if job.copies() <= FEW_COPIES else levels[:1]

    def filled(
        self, stop: Stop, board: int, left: Sequence[int], worth: Sequence[float], chance: Random
    ) -> Iterator[Filling]:
        """Fillings with some of what is left, worth as much as can be on a grid, as far as there is time.

        Parts of which a filling would have too many are asked for at lower prices in the next.
        """
        job = self.job
        view = None if job.taken[board] or not self._time(stop) else self._finest(board, chance)
        asked = [w if n > 0 else 0.0 for w, n in zip(worth, left, strict=True)]
        for _ in range(0 if view is None else _TRIES):
            assert view is not None
            prices = _whole(asked, view.slabs)
            if not any(prices) or not self._time(stop):
                return
            stop.rounds += view.rounds()
            found = view.slabs.best(prices)[1]
            pieces = list(self._kept(view, found, left, prices))
            places = tuple((t, *view.careful.corner(*cell)) for t, *cell in pieces)
            if places and self._holds(board, places):
                counts = np.bincount([t for t, _, _ in places], minlength=len(left))
                yield Filling(board, tuple(counts.tolist()), places)
            had = np.bincount([t for t, _, _ in found], minlength=len(left)).tolist()
            if all(n <= most for n, most in zip(had, left, strict=True)):
                return
            asked = [
                w * (most / n) ** _LESS if n > most > 0 else w
                for w, n, most in zip(asked, had, left, strict=True)
            ]

    def _time(self, stop: Stop) -> bool:
        """Whether there is time for one more look, which cannot be broken off."""
        return not stop.cancelled() and (stop.counted or stop.left() > _LEFT)

    def _finest(self, board: int, chance: Random) -> _View | None:
        """A board on the finest grid that does not take too long, if there is one."""
        rip_first = self.job.sawing is Sawing.RIP_FIRST
        if self._free:
            rip_first = chance.random() < 0.5
        for level in reversed(range(len(self._levels))):
            view = self._view(board, level, rip_first)
            if view.rounds() <= _MOST_ROUNDS:
                return view
        return None

    def _kept(
        self, view: _View, pieces: Sequence[Piece], left: Sequence[int], prices: Sequence[int]
    ) -> Iterator[Piece]:
        """The pieces of which there are copies left, and others where there are none."""
        more = list(left)
        surplus = []
        for piece in pieces:
            if more[piece[0]] > 0:
                more[piece[0]] -= 1
                yield piece
            else:
                surplus.append(piece)
        for piece in surplus:
            other = _instead(view.slabs, piece, more, prices)
            if other is not None:
                more[other[0]] -= 1
                yield other

    def _holds(self, board: int, places: Sequence[Place]) -> bool:
        """Whether all pieces are allowed where they lie, and can be sawn."""
        job = self.job
        sizes, ground = job.maps[board].sizes, job.grounds[board]
        boxes = [(x, y, x + sizes[t][0], y + sizes[t][1]) for t, x, y in places]
        straight = sawable(boxes, job.sawing, job.shop.stages, job.kerf)
        return straight and all(best_pose(ground, job.parts[t], x, y) is not None for t, x, y in places)

    def _view(self, board: int, level: int, rip_first: bool) -> _View:
        key = board, level, rip_first
        if key not in self._views:
            job = self.job
            sawing = Sawing.RIP_FIRST if rip_first else Sawing.CROSSCUT_FIRST
            shop = replace(job.shop, sawing=sawing, stages=3 if self._free else job.shop.stages)
            careful = careful_field(job.boards[board], job.parts, shop, self._levels[level], (), job.wanted)
            if len(self._views) >= _MOST_VIEWS:
                del self._views[next(iter(self._views))]
            self._views[key] = _View(careful, Slabs(careful.field, shop.stages, exact=True))
        return self._views[key]


def _instead(slabs: Slabs, piece: Piece, left: Sequence[int], prices: Sequence[int]) -> Piece | None:
    """The piece of most worth that may lie in the box of another one."""
    t, i, j = piece
    field = slabs.field
    for other in sorted(slabs.parts, key=lambda part: -prices[part]):
        if left[other] <= 0 or prices[other] <= 0:
            continue
        spare = (field.lengths[t] - field.lengths[other], field.widths[t] - field.widths[other])
        if min(spare) < 0:
            continue
        there = np.argwhere(field.places[other][i : i + spare[0] + 1, j : j + spare[1] + 1])
        if len(there):
            return other, i + int(there[0][0]), j + int(there[0][1])
    return None


def _level(job: Job, about: Level) -> Level:
    """Pitches near these that lose little of the sizes of the parts [mm]."""
    kerf, allowances = job.kerf, job.shop.allowances
    wanted = [(part, n) for part, n in zip(job.parts, job.wanted, strict=False) if n > 0]
    lengths = [sawn_length(part, allowances) + kerf for part, _ in wanted]
    widths = [sawn_width(part, allowances) + kerf for part, _ in wanted]
    shares = [n * part.length * part.width for part, n in wanted]
    return _pitch(lengths, shares, about[0]), _pitch(widths, shares, about[1])


def _pitch(sizes: Sequence[float], shares: Sequence[float], about: float) -> float:
    """A pitch near the one asked for that rounds the sizes up by little for its work."""
    tried = [about * (1.0 + _APART * (step - 20) / 20) for step in range(41)]

    def loss(pitch: float) -> float:
        lost = [ceil(size / pitch - _TINY) * pitch / size - 1.0 for size in sizes]
        return sum(share * more for share, more in zip(shares, lost, strict=True)) * sqrt(about / pitch)

    return min(tried, key=loss)


def _whole(prices: Sequence[float], slabs: Slabs) -> list[int]:
    """Prices in whole numbers, so large that the board is not worth more than it may be."""
    field = slabs.field
    dense = max((prices[t] / (field.lengths[t] * field.widths[t]) for t in slabs.parts), default=0.0)
    if dense <= 0.0:
        return [0] * len(prices)
    scale = _FULL * MOST / (dense * field.along * field.across)
    return [int(price * scale + 0.5) if t in slabs.parts else 0 for t, price in enumerate(prices)]
