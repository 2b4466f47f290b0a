"""Fillings: what one board can be cut into, built slab by slab in the shop's order of sawing.

A slab is what lies between two cuts of one stage: for crosscut first a length of
board, in it strips, in these pieces. The builder takes the first part (in a given
order) that fits, makes the slab as thick as that part, fills the slab in the
other direction, and goes on behind it. Every filling it makes is sawable by
construction (`layout.cuts`).
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from layout.allowances import Sawing
from layout.cuts import Box
from layout.solve.family import Left
from layout.solve.job import Job
from layout.solve.nesting import Begin, nested
from layout.solve.slabs import Builder, Place
from layout.solve.views import Care, Views, allowed_cells

__all__ = ["FREE_STAGES", "Care", "Filler", "Filling", "Lump", "Place"]

FREE_STAGES = 6  # of slabs for the band saw
_MOST_TRIED = 64  # of all parts of a cutting list on one board
_SURELY_TRIED = 40


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
        self.stages = job.shop.stages if job.sawing is not Sawing.BAND_SAW else FREE_STAGES
        self._kerf = job.kerf
        self.areas = job.areas()
        self.views = Views(job)

    def fill(
        self,
        board: int,
        left: Sequence[int],
        order: Sequence[int],
        care: Care = Care.ALLOWED,
        crosscut_first: bool | None = None,
        begin: Begin = (False, False, False),
        singly: Sequence[tuple[int, Begin]] = (),
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
        singly : sequence of (part, begin)
            Free nesting: copies placed before all others, each from a corner of its own.
        """
        job, free = self.job, self.job.left(left)
        here = self.tried(board, free, order)
        if not here:
            return Filling(board, (0,) * len(job.parts), ())
        if crosscut_first is None and job.sawing is Sawing.BAND_SAW:
            nest = self._nested(board, free, here, care, begin, singly)
            return self._filling(board, nest, care, job.counts(left, free))
        lump = self.lump(board, left, care, begin, crosscut_first)
        lump.builder.lump(*lump.whole, lump.crosscut_first, self.stages, here)
        counts = tuple(a - b for a, b in zip(left, lump.builder.left.tolist(), strict=True))
        return self.filling(lump, lump.builder.places, counts)

    def refilled(
        self,
        board: int,
        kept: Sequence[Place],
        left: Sequence[int],
        order: Sequence[int],
        care: Care = Care.ALLOWED,
        crosscut_first: bool | None = None,
        begin: Begin = (False, False, False),
        window: Box | None = None,
    ) -> Filling:
        """A filling of one board in which pieces stay where they are; other arguments as for `fill`.

        Parameters
        ----------
        kept : sequence of Place
            Pieces that stay.
        left : sequence of int
            Copies of each part to be had besides; without staves of free width.
        window : (x0, y0, x1, y1), optional
            In slabs only stretches that reach into it are filled [mm, in the board frame].
        """
        job, ground, sizes = self.job, self.job.grounds[board], self.job.maps[board].sizes
        own = [(part, x - ground.x0, y - ground.y0) for part, x, y in kept]
        here = self.tried(board, left, order)
        if not here:
            return self._filling(board, own, care)
        boxes = [(x, y, x + sizes[part][0], y + sizes[part][1]) for part, x, y in own]
        if crosscut_first is None and job.sawing is Sawing.BAND_SAW:
            nest = self._nested(board, list(left), here, care, begin, (), boxes)
            return self._filling(board, [*own, *nest], care)
        lump = self.lump(board, left, care, begin, crosscut_first)
        builder, view = lump.builder, lump.builder.view
        builder.fixed = [*builder.fixed, *(lump.frame.box(box) for box in boxes)]
        builder.least = min(view.lengths[part] for part in here), min(view.widths[part] for part in here)
        if window is not None:
            x0, y0, x1, y1 = window
            box = (x0 - ground.x0, y0 - ground.y0, x1 - ground.x0, y1 - ground.y0)
            builder.window = lump.frame.box(box)
        builder.lump(*lump.whole, lump.crosscut_first, self.stages, here)
        found = [(part, *lump.frame.corner(x, y, *sizes[part])) for part, x, y in builder.places]
        return self._filling(board, [*own, *found], care)

    def lump(
        self,
        board: int,
        left: Sequence[int],
        care: Care = Care.ALLOWED,
        begin: Begin = (False, False, False),
        crosscut_first: bool | None = None,
    ) -> "Lump":
        """A board ready to be filled slab by slab from one of its corners; arguments as for `fill`."""
        ground = self.job.grounds[board]
        far_end, far_edge, _ = begin
        frame = _Mirror(ground.length, ground.width, far_end, far_edge)
        view = self.views.of(board, care, far_end, far_edge)
        fixed = [frame.box(box) for box in self._fixed(board)]
        builder = Builder(view, left, self._kerf, ground, fixed)
        first = self._crosscut_first
        if crosscut_first is not None and self.job.sawing is Sawing.BAND_SAW:
            first = crosscut_first
        return Lump(board, care, frame, builder, (0.0, 0.0, ground.length, ground.width), first)

    def filling(self, lump: "Lump", places: Sequence[Place], counts: Sequence[int] = ()) -> Filling:
        """What a board is cut into, from places as its builder tells them; counted if it is not said."""
        sizes = self.job.maps[lump.board].sizes
        found = [(part, *lump.frame.corner(x, y, *sizes[part])) for part, x, y in places]
        return self._filling(lump.board, found, lump.care, counts)

    def tried(self, board: int, left: Left | Sequence[int], order: Sequence[int]) -> list[int]:
        """Parts to try on a board: all there are, or of very many the first and some of the others."""
        here = [part for part in order if left[part]]
        if len(here) <= _MOST_TRIED:
            return here
        rest = here[_SURELY_TRIED:]
        step = ceil(len(rest) / (_MOST_TRIED - _SURELY_TRIED))
        return here[:_SURELY_TRIED] + rest[board % step :: step]

    def _nested(
        self,
        board: int,
        left: Left,
        here: Sequence[int],
        care: Care,
        begin: Begin,
        singly: Sequence[tuple[int, Begin]],
        kept: Sequence[Box] = (),
    ) -> list[Place]:
        maps = self.job.maps[board]
        here = [part for part in here if not self.views.hurry() and maps[part].anywhere]
        oks = {part: allowed_cells(maps[part], care) for part in here}
        return nested(maps, oks, left, here, [*self._fixed(board), *kept], begin, singly) if here else []

    def _fixed(self, board: int) -> list[Box]:
        """Pieces already on a board, from its ground's origin [mm]."""
        boxes = self.job.taken[board]
        if not boxes:
            return []
        ground = self.job.grounds[board]
        return [(x0 - ground.x0, y0 - ground.y0, x1 - ground.x0, y1 - ground.y0) for x0, y0, x1, y1 in boxes]

    def _filling(self, board: int, found: Sequence[Place], care: Care, counts: Sequence[int] = ()) -> Filling:
        ground, maps = self.job.grounds[board], self.job.maps[board]
        if not counts:
            times = Counter(part for part, _, _ in found)
            counts = [times[part] for part in range(len(maps))]
        places = tuple((part, x + ground.x0, y + ground.y0) for part, x, y in found)
        mend = 0.0
        if care is Care.MENDED:
            mend = sum(maps[part].cost_at(x, y)[0] for part, x, y in places)
        return Filling(board, tuple(counts), places, mend)


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


@dataclass(frozen=True)
class Lump:
    """A board about to be filled.

    Parameters
    ----------
    board : int
    care : Care
    frame : _Mirror
        How the builder sees it.
    builder : Builder
    whole : (x0, y0, x1, y1)
        All of it [mm].
    crosscut_first : bool
    """

    board: int
    care: Care
    frame: _Mirror
    builder: Builder
    whole: Box
    crosscut_first: bool
