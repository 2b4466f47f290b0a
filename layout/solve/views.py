"""One board's maps as a filling asks them: from one of its corners, with so much care.

A view knows "the first allowed column at or after this cell, in this row" of every
part. It is made part by part, when a part is first tried on the board.
"""

from collections import OrderedDict
from collections.abc import Callable
from enum import Enum
from typing import TypeVarTuple

import numpy as np
from numpy.typing import NDArray

from layout.clear import ClearMap
from layout.compiled import compiled
from layout.ground import Ground
from layout.solve.job import Job, Maps
from layout.solve.slab_loops import NOWHERE, AskedMaps, Whole

__all__ = ["Care", "View", "Views", "allowed_cells"]

Map = NDArray[np.bool_]
Asked = TypeVarTuple("Asked")
Answer = TypeVarTuple("Answer")

_TINY = 1e-7
_MOST_CELLS = 100_000_000  # of all views kept, two bytes each
_FEWEST = 8  # kept in any case


class Care(Enum):
    """Which places a filling may use."""

    WELCOME = "worth seeing, where there are such places"
    UNHARMED = "no harm to looks"
    ALLOWED = "allowed as they are"
    MENDED = "allowed with repairs"


def allowed_cells(clear: ClearMap, care: Care) -> Map:
    """The cells of a map that may be used with so much care."""
    if care is Care.MENDED:
        return clear.ok if clear.mend is None else clear.ok | np.isfinite(clear.mend)
    if care is Care.ALLOWED or clear.harm is None:
        return clear.ok
    if care is Care.WELCOME and bool((clear.ok & (clear.harm < 0.0)).any()):
        return clear.ok & (clear.harm < 0.0)
    return clear.ok & (clear.harm <= 0.0)


@compiled("void(Array(boolean, 2, 'C', readonly=True), int16[::1])")
def _fill_ahead(ok: NDArray[np.bool_], ahead: NDArray[np.int16]) -> None:
    """Fill in the first true column at or after each cell, in its row.

    Parameters
    ----------
    ok : array of bool, shape (columns, rows)
    ahead : array of int, shape (columns * rows,)
    """
    columns, rows = ok.shape
    for row in range(rows):
        ahead[(columns - 1) * rows + row] = columns - 1 if ok[columns - 1, row] else NOWHERE
    for column in range(columns - 2, -1, -1):
        now, after = ahead[column * rows : (column + 1) * rows], ahead[(column + 1) * rows :]
        for row in range(rows):
            now[row] = np.int16(column) if ok[column, row] else after[row]


class View:
    """What fillings of one board ask of its maps.

    Parameters
    ----------
    ground : Ground
    maps : Maps
    kinds : array of int, shape (parts, 6)
        What may be taken of which part, as `layout.solve.slab_loops` asks.
    care : Care
    far_end, far_edge : bool
        Which corner it is seen from.
    hurry : function
        Whether there is no time to make another map; the part then has no place.
    """

    def __init__(
        self,
        ground: Ground,
        maps: Maps,
        kinds: Whole,
        care: Care,
        far_end: bool,
        far_edge: bool,
        hurry: Callable[[], bool],
    ) -> None:
        self.lengths = [length for length, _ in maps.sizes]
        self.widths = [width for _, width in maps.sizes]
        shapes = np.zeros((len(maps), 3), dtype=np.int64)
        for part, (length, width) in enumerate(maps.sizes):
            if length <= ground.length + _TINY and width <= ground.width + _TINY:
                shapes[part, 0] = -1
        sizes = np.array(maps.sizes, dtype=np.float64).reshape(-1, 2)
        self._asked: AskedMaps = np.zeros(0, dtype=np.int16), shapes, sizes, kinds
        self._used = 0  # cells
        self._ground, self._maps, self._care = ground, maps, care
        self._far_end, self._far_edge, self._hurry = far_end, far_edge, hurry

    def answer(
        self, loop: Callable[[AskedMaps, *Asked], tuple[int, *Answer]], *args: *Asked
    ) -> tuple[int, *Answer]:
        """What a loop of `layout.solve.slab_loops` answers, with every map made that it comes to."""
        refused = []
        while (found := loop(self._asked, *args))[0] >= 0:
            if self._hurry():
                refused.append(found[0])
                self._asked[1][found[0]] = 0
            else:
                self._make(found[0])
        for part in refused:
            self._asked[1][part, 0] = -1
        return found

    def _make(self, part: int) -> None:
        """Make the map of a part."""
        ground, clear = self._ground, self._maps[part]
        ahead, shapes, sizes, kinds = self._asked
        if not clear.anywhere:
            shapes[part] = 0  # without columns there is no place
            return
        ok = allowed_cells(clear, self._care)
        if self._far_end:
            ok = _mirrored(ok, ground.length - clear.length, ground.column, 0)
        if self._far_edge:
            ok = _mirrored(ok, ground.width - clear.width, ground.row, 1)
        end = self._used + ok.size
        if end > len(ahead):
            more = np.empty(max(end, 2 * len(ahead)), dtype=np.int16)
            more[: self._used] = ahead[: self._used]
            ahead = more
        _fill_ahead(np.ascontiguousarray(ok), ahead[self._used : end])
        shapes[part] = self._used, *ok.shape
        self._asked, self._used = (ahead, shapes, sizes, kinds), end


class Views:
    """The views of a job, those used latest kept.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self.hurry: Callable[[], bool] = lambda: False
        self._job, self._kinds = job, job.books.table(len(job.parts))
        self._kept: OrderedDict[tuple[int, Care, bool, bool], View] = OrderedDict()

    def of(self, board: int, care: Care, far_end: bool, far_edge: bool) -> View:
        """A board seen from one of its corners."""
        key = (board, care, far_end, far_edge)
        found = self._kept.get(key)
        if found is None:
            ground = self._job.grounds[board]
            maps = self._job.maps[board]
            found = View(ground, maps, self._kinds, care, far_end, far_edge, lambda: self.hurry())
            self._kept[key] = found
            cells = max(ground.length / ground.column * ground.width / ground.row, 1.0) * len(maps)
            while len(self._kept) > max(_MOST_CELLS // cells, _FEWEST):
                self._kept.popitem(last=False)
        else:
            self._kept.move_to_end(key)
        return found


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
