"""One board's maps as a filling asks them: from one of its corners, with so much care.

A view answers "the first allowed column at or after this cell, in this row" at
once. It is made part by part, when a part is first tried on the board.
"""

from collections import OrderedDict
from collections.abc import Callable
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from layout.clear import ClearMap, first_at_or_after
from layout.ground import Ground
from layout.solve.job import Job, Maps

__all__ = ["Care", "View", "Views", "allowed_cells"]

Map = NDArray[np.bool_]
Ahead = NDArray[np.int16]

_TINY = 1e-7
_MOST_CELLS = 100_000_000  # of all views kept, two bytes each
_FEWEST = 8  # kept in any case
_MOST_ANSWERS = 40_000  # of each kind, kept for one view
_NO_PLACE = (32767, 0)
_NOWHERE: Ahead = np.zeros((0, 0), dtype=np.int16)


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


class View:
    """What fillings of one board ask of its maps.

    Parameters
    ----------
    ground : Ground
    maps : Maps
    care : Care
    far_end, far_edge : bool
        Which corner it is seen from.
    hurry : function
        Whether there is no time to make another map; the part then has no place.
    """

    def __init__(
        self, ground: Ground, maps: Maps, care: Care, far_end: bool, far_edge: bool, hurry: Callable[[], bool]
    ) -> None:
        self.lengths = [length for length, _ in maps.sizes]
        self.widths = [width for _, width in maps.sizes]
        self.ahead: list[Ahead | None] = [
            None if length <= ground.length + _TINY and width <= ground.width + _TINY else _NOWHERE
            for length, width in maps.sizes
        ]
        # What was asked before: (part, column, first row, last row) to the column and row found,
        # and (part, column, last column) to the rows that have a place so far on, as bits.
        self.along: dict[tuple[int, int, int, int], tuple[int, int]] = {}
        self.across: dict[tuple[int, int, int], int] = {}
        self._ground, self._maps, self._care = ground, maps, care
        self._far_end, self._far_edge, self._hurry = far_end, far_edge, hurry

    def made(self, part: int) -> Ahead:
        """First allowed column at or after each cell, in its row; without columns if there is no place."""
        if self._hurry():
            return _NOWHERE
        ground, clear = self._ground, self._maps[part]
        if not clear.anywhere:
            found = _NOWHERE
        else:
            ok = allowed_cells(clear, self._care)
            if self._far_end:
                ok = _mirrored(ok, ground.length - clear.length, ground.column, 0)
            if self._far_edge:
                ok = _mirrored(ok, ground.width - clear.width, ground.row, 1)
            found = first_at_or_after(ok)
        self.ahead[part] = found
        return found

    def nearest_along(self, key: tuple[int, int, int, int]) -> tuple[int, int]:
        """The first column at or after one, and the row there, among rows (part, column, first, last)."""
        part, i, j, last = key
        line = self._table(part)[i : i + 1, j : last + 1]
        found = _NO_PLACE
        if line.size:
            step = int(line.argmin())
            found = int(line[0, step]), j + step
        if len(self.along) >= _MOST_ANSWERS:
            self.along.clear()
        self.along[key] = found
        return found

    def rows_within(self, part: int, i: int, limit: int) -> int:
        """Rows in which a part has a place from one column on up to another, as bits."""
        line = self._table(part)[i : i + 1]
        found = 0
        if line.size:
            found = int.from_bytes(np.packbits(line[0] <= limit, bitorder="little").tobytes(), "little")
        if len(self.across) >= _MOST_ANSWERS:
            self.across.clear()
        self.across[part, i, limit] = found
        return found

    def column_after(self, part: int, i: int, row: int) -> int:
        """The first allowed column at or after one, in a row that has one."""
        return self._table(part).item(i, row)

    def _table(self, part: int) -> Ahead:
        ahead = self.ahead[part]
        return self.made(part) if ahead is None else ahead


class Views:
    """The views of a job, those used latest kept.

    Parameters
    ----------
    job : Job
    """

    def __init__(self, job: Job) -> None:
        self.hurry: Callable[[], bool] = lambda: False
        self._job = job
        self._kept: OrderedDict[tuple[int, Care, bool, bool], View] = OrderedDict()

    def of(self, board: int, care: Care, far_end: bool, far_edge: bool) -> View:
        """A board seen from one of its corners."""
        key = (board, care, far_end, far_edge)
        found = self._kept.get(key)
        if found is None:
            ground = self._job.grounds[board]
            maps = self._job.maps[board]
            found = View(ground, maps, care, far_end, far_edge, lambda: self.hurry())
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
