"""Fillings: what one board can be cut into, built slab by slab in the shop's order of sawing.

A slab is what lies between two cuts of one stage: for crosscut first a length of
board, in it strips, in these pieces. The builder takes the first part (in a given
order) that fits, makes the slab as thick as that part, fills the slab in the
other direction, and goes on behind it. Every filling it makes is sawable by
construction (`layout.cuts`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Sawing
from layout.clear import first_at_or_after
from layout.cuts import Box, groups
from layout.placement import CutKind
from layout.solve.job import Job
from layout.solve.nesting import Begin, nested

__all__ = ["Care", "Filler", "Filling", "Place"]

Place = tuple[int, float, float]  # part, and the corner of its sawn piece in the board frame [mm]

_TINY = 1e-7
_NOWHERE = 32767
_FREE_STAGES = 6

# For one part on one board: first allowed column at or after each cell, length and width of its box.
View = tuple[NDArray[np.int16], float, float]


class Care(Enum):
    """Which places a filling may use."""

    WELCOME = "worth seeing, where there are such places"
    UNHARMED = "no harm to looks"
    ALLOWED = "allowed as they are"
    MENDED = "allowed with repairs"


@dataclass(frozen=True)
class Filling:
    """What one board is cut into.

    Parameters
    ----------
    board : int
    counts : tuple of int
        Copies of each part.
    places : tuple of Place
    mend : float
        About what its repairs cost [money].
    """

    board: int
    counts: tuple[int, ...]
    places: tuple[Place, ...]
    mend: float = 0.0


class Filler:
    """Fills boards of a job; keeps what it needs of the maps at hand."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self._crosscut_first = job.sawing is not Sawing.RIP_FIRST
        self._stages = job.shop.stages if job.sawing is not Sawing.BAND_SAW else _FREE_STAGES
        self._kerf = job.kerf
        self._views: dict[tuple[int, Care, bool, bool], list[View]] = {}
        self._fixed = [
            [(x0 - g.x0, y0 - g.y0, x1 - g.x0, y1 - g.y0) for x0, y0, x1, y1 in boxes]
            for g, boxes in zip(job.grounds, job.taken, strict=True)
        ]

    def fill(
        self,
        board: int,
        left: Sequence[int],
        order: Sequence[int],
        care: Care = Care.ALLOWED,
        crosscut_first: bool | None = None,
        begin: Begin = (False, False, False),
    ) -> Filling:
        """A filling of one board with parts from what is left, tried in this order.

        Parameters
        ----------
        board : int
        left : sequence of int
            Copies of each part to be had.
        order : sequence of int
            Parts, the first to be tried first.
        care : Care
            Which places to use.
        crosscut_first : bool, optional
            With the band saw: build slabs, this way round; free nesting if not given.
        begin : (bool, bool, bool)
            Begin at the far end; at the far edge; free nesting: along the edge first.
        """
        job = self.job
        ground, maps = job.grounds[board], job.maps[board]
        here = [part for part in order if left[part] and maps[part].anywhere]
        if crosscut_first is None and job.sawing is Sawing.BAND_SAW and here:
            oks = [self._oks(board, part, care) for part in range(len(maps))]
            found = nested(maps, oks, list(left), here, self._fixed[board], begin)
            return self._filling(board, found, care)
        far_end, far_edge, _ = begin
        frame = _Mirror(ground.length, ground.width, far_end, far_edge)
        view = self._view(board, care, far_end, far_edge)
        fixed = [frame.box(box) for box in self._fixed[board]]
        builder = _Builder(view, list(left), self._kerf, ground.column, ground.row, fixed)
        if here:
            first = self._crosscut_first
            if crosscut_first is not None and job.sawing is Sawing.BAND_SAW:
                first = crosscut_first
            whole = (0.0, 0.0, ground.length, ground.width)
            builder.lump(*whole, first, self._stages, here)
        found = [
            (part, *frame.corner(x, y, maps[part].length, maps[part].width)) for part, x, y in builder.places
        ]
        return self._filling(board, found, care)

    def _filling(self, board: int, found: Sequence[Place], care: Care) -> Filling:
        ground, maps = self.job.grounds[board], self.job.maps[board]
        counts = [0] * len(maps)
        for part, _, _ in found:
            counts[part] += 1
        places = tuple((part, x + ground.x0, y + ground.y0) for part, x, y in found)
        mend = 0.0
        if care is Care.MENDED:
            mend = sum(maps[part].cost_at(x, y)[0] for part, x, y in places)
        return Filling(board, tuple(counts), places, mend)

    def _oks(self, board: int, part: int, care: Care) -> NDArray[np.bool_]:
        clear = self.job.maps[board][part]
        if care is Care.WELCOME and clear.harm is not None and bool((clear.ok & (clear.harm < 0)).any()):
            return clear.ok & (clear.harm < 0.0)
        if care in (Care.WELCOME, Care.UNHARMED) and clear.harm is not None:
            return clear.ok & (clear.harm <= 0.0)
        if care is Care.MENDED and clear.mend is not None:
            return clear.ok | np.isfinite(clear.mend)
        return clear.ok

    def _view(self, board: int, care: Care, far_end: bool, far_edge: bool) -> list[View]:
        key = (board, care, far_end, far_edge)
        view = self._views.get(key)
        if view is None:
            view = []
            for part, clear in enumerate(self.job.maps[board]):
                if not (far_end or far_edge) and care is Care.ALLOWED:
                    ahead = clear.ahead
                else:
                    ok = self._oks(board, part, care)
                    ground = clear.ground
                    if far_end and clear.anywhere:
                        ok = _mirrored(ok, ground.length - clear.length, ground.column, 0)
                    if far_edge and clear.anywhere:
                        ok = _mirrored(ok, ground.width - clear.width, ground.row, 1)
                    ahead = first_at_or_after(ok)
                view.append((ahead, clear.length, clear.width))
            self._views[key] = view
        return view


@dataclass(frozen=True)
class _Mirror:
    """A ground seen from its far end, its far edge, or both."""

    length: float
    width: float
    far_end: bool
    far_edge: bool

    def box(self, box: Box) -> Box:
        """A rectangle as seen from there, or back again [mm]."""
        x0, y0, x1, y1 = box
        if self.far_end:
            x0, x1 = self.length - x1, self.length - x0
        if self.far_edge:
            y0, y1 = self.width - y1, self.width - y0
        return x0, y0, x1, y1

    def corner(self, x: float, y: float, length: float, width: float) -> tuple[float, float]:
        """The corner nearest the origin of a piece placed as seen from there [mm]."""
        x0, y0, _, _ = self.box((x, y, x + length, y + width))
        return x0, y0


def _mirrored(ok: NDArray[np.bool_], room: float, pitch: float, axis: int) -> NDArray[np.bool_]:
    """A map seen from the other end of an axis: true where all of both cells under a cell are."""
    near = np.arange(ok.shape[axis]) * pitch
    far = np.minimum(near + pitch, room)
    low = np.floor((room - far) / pitch + _TINY).astype(np.int64)
    high = np.floor((room - near) / pitch - _TINY).astype(np.int64)
    last = ok.shape[axis] - 1
    low, high = np.clip(low, 0, last), np.clip(high, 0, last)
    found: NDArray[np.bool_] = ok.take(low, axis) & ok.take(high, axis)
    return found


class _Builder:
    """One board being filled; places are kept from the ground's own origin."""

    def __init__(
        self,
        maps: list[View],
        left: list[int],
        kerf: float,
        column: float,
        row: float,
        fixed: Sequence[Box] = (),
    ) -> None:
        self.maps = maps
        self.left = left
        self.kerf = kerf
        self.column = column
        self.row = row
        self.fixed = fixed
        self.places: list[Place] = []

    def lump(
        self, x0: float, y0: float, x1: float, y1: float, crosscut: bool, stages: int, order: list[int]
    ) -> None:
        """Fill a lump round the pieces fixed in it: free stretches as usual, the others one stage deeper."""
        inside = [box for box in self.fixed if box[0] < x1 and box[2] > x0 and box[1] < y1 and box[3] > y0]
        if not inside:
            self.slabs(x0, y0, x1, y1, crosscut, stages, order)
            return
        if stages == 0:
            return
        kind, (low, high) = (CutKind.CROSSCUT, (0, 2)) if crosscut else (CutKind.RIP, (1, 3))
        reached = x0 if crosscut else y0
        for group in groups(inside, range(len(inside)), kind, self.kerf):
            near = min(inside[number][low] for number in group)
            far = max(inside[number][high] for number in group)
            if crosscut:
                self.slabs(reached, y0, near - self.kerf, y1, crosscut, stages, order)
                self.lump(near, y0, far, y1, not crosscut, stages - 1, order)
            else:
                self.slabs(x0, reached, x1, near - self.kerf, crosscut, stages, order)
                self.lump(x0, near, x1, far, not crosscut, stages - 1, order)
            reached = far + self.kerf
        if crosscut:
            self.slabs(reached, y0, x1, y1, crosscut, stages, order)
        else:
            self.slabs(x0, reached, x1, y1, crosscut, stages, order)

    def slabs(
        self,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        crosscut: bool,
        stages: int,
        order: list[int],
    ) -> None:
        """Fill a free lump: slabs one behind the other, each as thick as the first part that fits."""
        kerf, left = self.kerf, self.left
        while True:
            found = None
            index = part = 0
            for index, part in enumerate(order):  # noqa: B007
                if left[part]:
                    found = self.nearest(part, x0, y0, x1, y1, crosscut)
                    if found is not None:
                        break
            if found is None:
                return
            # Parts passed over do not fit this lump at all, so they fit nothing cut from it.
            order = order[index:]
            x, y = found
            _, length, width = self.maps[part]
            near, thick, start = (x, length, x0) if crosscut else (y, width, y0)
            if near - start > kerf and len(order) > 1:
                gap = (x0, y0, x - kerf, y1) if crosscut else (x0, y0, x1, y - kerf)
                self.slabs(*gap, crosscut, stages, order[1:])
                if not left[part]:
                    continue
            if stages == 1:
                left[part] -= 1
                self.places.append((part, x, y))
            else:
                slab = (x, y0, x + length, y1) if crosscut else (x0, y, x1, y + width)
                self.slabs(*slab, not crosscut, stages - 1, order)
            if crosscut:
                x0 = near + thick + kerf
            else:
                y0 = near + thick + kerf

    def nearest(
        self, part: int, x0: float, y0: float, x1: float, y1: float, crosscut: bool
    ) -> tuple[float, float] | None:
        """The place of a part nearest the beginning of a lump, along it (crosscuts) or across it (rips)."""
        ahead, length, width = self.maps[part]
        if x1 - x0 < length - _TINY or y1 - y0 < width - _TINY:
            return None
        i = int(x0 / self.column + _TINY)
        j = int(y0 / self.row + _TINY)
        last = int((y1 - width) / self.row + _TINY)
        if i >= len(ahead):
            return None
        line = ahead[i, j : last + 1]
        if not len(line):
            return None
        if crosscut:
            step = int(line.argmin())
        else:
            fits = line <= int((x1 - length) / self.column + _TINY)
            step = int(fits.argmax())
            if not fits[step]:
                return None
        column = int(line[step])
        if column == _NOWHERE:
            return None
        x = x0 if column == i else column * self.column
        if x + length > x1 + _TINY:
            return None
        return x, max(y0, (j + step) * self.row)
