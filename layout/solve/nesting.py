"""Free nesting for the band saw: a board filled part by part, each as near the beginning as it goes.

A part goes to the allowed place nearest the datum end, and of these nearest the
datum edge, that leaves a kerf to all parts already there. Cells of a map are
struck out only when ALL their places are taken; in the others the exact place is
looked for against the parts themselves, so nothing is lost to the pitch of the
maps however many parts lie side by side.
"""

from collections.abc import Mapping, Sequence
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from layout.clear import ClearMap
from layout.cuts import Box
from layout.ground import Ground
from layout.solve.family import Left

__all__ = ["nested"]

Place = tuple[int, float, float]
Map = NDArray[np.bool_]
Begin = tuple[bool, bool, bool]

_TINY = 1e-7
_TRIES = 40  # cells looked at before a part is said not to fit


def nested(
    maps: Sequence[ClearMap],
    oks: Mapping[int, Map],
    left: Left,
    order: Sequence[int],
    fixed: Sequence[Box],
    begin: Begin = (False, False, False),
    singly: Sequence[tuple[int, Begin]] = (),
) -> list[Place]:
    """Places (part, x, y), from the ground's origin, of what one board takes [mm].

    Parameters
    ----------
    maps : sequence of ClearMap
        For each part.
    oks : dict of part to array of bool
        Which cells of the maps may be used.
    left : list of int
        Copies of each part to be had; counted down.
    order : sequence of int
        Parts, the first to be placed first.
    fixed : sequence of (x0, y0, x1, y1)
        Sawn pieces already there, from the ground's origin [mm].
    begin : (bool, bool, bool)
        Begin at the far end; at the far edge; fill along the edge before the end.
    singly : sequence of (part, begin)
        Copies placed one by one before all others, each from a corner of its own.
    """
    board = _Board(maps, maps[order[0]].ground, list(fixed))
    places: list[Place] = []
    visits = [(part, corner, 1) for part, corner in singly if part in oks]
    visits += [(part, begin, left[part]) for part in order]
    for part, corner, copies in visits:
        if not left[part]:
            continue
        board.begin_at(corner)
        lines, cells = board.open_cells(part, oks[part])
        for _ in range(min(copies, left[part])):
            found = board.nearest(part, lines)
            if found is None:
                break
            left[part] -= 1
            places.append((part, *found))
            board.lay(part, *found, cells)
    return places


class _Board:
    def __init__(self, maps: Sequence[ClearMap], ground: Ground, taken: list[Box]) -> None:
        self.far_end = self.far_edge = self.edge_first = False
        self.maps = maps
        self.taken = taken
        self.column, self.row, self.kerf = ground.column, ground.row, ground.shop.allowances.kerf
        self.room = (ground.length, ground.width)

    def begin_at(self, begin: Begin) -> None:
        """Where the parts that follow begin."""
        self.far_end, self.far_edge, self.edge_first = begin

    def open_cells(self, part: int, ok: Map) -> tuple[Map, Map]:
        """Cells in which some place of the part may still be free: in order of search, and as their map."""
        lines = np.array(self._turned(ok), order="C")
        cells = self._turned(lines.T if self.edge_first else lines, back=True)
        for box in self.taken:
            self._strike(part, box, cells)
        return lines, cells

    def _turned(self, cells: Map, back: bool = False) -> Map:
        flipped = cells[:: -1 if self.far_end else 1, :: -1 if self.far_edge else 1]
        return flipped.T if self.edge_first and not back else flipped

    def lay(self, part: int, x: float, y: float, cells: Map) -> None:
        """Take the wood of a part just placed."""
        box = (x, y, x + self.maps[part].length, y + self.maps[part].width)
        self.taken.append(box)
        self._strike(part, box, cells)

    def nearest(self, part: int, lines: Map) -> tuple[float, float] | None:
        """The free place of a part nearest where one begins; cells found to be taken are struck out."""
        flat = lines.reshape(-1)
        columns, rows = lines.shape[::-1] if self.edge_first else lines.shape
        for _ in range(_TRIES):
            index = int(flat.argmax())
            if not flat[index]:
                return None
            i, j = divmod(index, lines.shape[1])
            if self.edge_first:
                i, j = j, i
            i, j = (columns - 1 - i if self.far_end else i), (rows - 1 - j if self.far_edge else j)
            found = self._in_cell(part, i, j)
            if found is not None:
                return found
            flat[index] = False
        return None

    def _in_cell(self, part: int, i: int, j: int) -> tuple[float, float] | None:
        """An exact free place in a cell: at its corner, or against a part that reaches into it."""
        length, width, kerf = self.maps[part].length, self.maps[part].width, self.kerf
        x0, y0 = i * self.column, j * self.row
        x1 = min(x0 + self.column, self.room[0] - length)
        y1 = min(y0 + self.row, self.room[1] - width)
        near = [
            box
            for box in self.taken
            if box[0] - kerf - length < x1
            and box[2] + kerf > x0
            and box[1] - kerf - width < y1
            and box[3] + kerf > y0
        ]
        low_x, low_y = [box[2] + kerf for box in near], [box[3] + kerf for box in near]
        high_x, high_y = [box[0] - kerf - length for box in near], [box[1] - kerf - width for box in near]
        xs = [x1, *high_x] if self.far_end else [x0, *low_x]
        ys = [y1, *high_y] if self.far_edge else [y0, *low_y]
        for x in sorted({x for x in xs if x0 <= x <= x1}, reverse=self.far_end):
            for y in sorted({y for y in ys if y0 <= y <= y1}, reverse=self.far_edge):
                if not any(
                    box[0] - kerf - length < x - _TINY
                    and box[2] + kerf > x + _TINY
                    and box[1] - kerf - width < y - _TINY
                    and box[3] + kerf > y + _TINY
                    for box in near
                ):
                    return x, y
        return None

    def _strike(self, part: int, box: Box, cells: Map) -> None:
        """Strike out the cells all of whose places would come too near a piece."""
        length, width, kerf = self.maps[part].length, self.maps[part].width, self.kerf
        i0 = max(floor((box[0] - kerf - length) / self.column + _TINY) + 1, 0)
        j0 = max(floor((box[1] - kerf - width) / self.row + _TINY) + 1, 0)
        i1 = max(ceil((box[2] + kerf) / self.column - _TINY) - 1, 0)
        j1 = max(ceil((box[3] + kerf) / self.row - _TINY) - 1, 0)
        cells[i0:i1, j0:j1] = False
