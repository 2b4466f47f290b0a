"""Free nesting for the band saw: a board filled part by part, each as near the beginning as it goes.

A part goes to the allowed place nearest the datum end, and of these nearest the
datum edge, that leaves a kerf to all parts already there. Cells of a map are
struck out only when ALL their places are taken; in the others the exact place is
looked for against the parts themselves, so nothing is lost to the pitch of the
maps however many parts lie side by side.
"""

from collections.abc import Sequence
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from layout.clear import ClearMap
from layout.cuts import Box

__all__ = ["nested"]

Place = tuple[int, float, float]
Map = NDArray[np.bool_]

_TINY = 1e-7
_TRIES = 40  # cells looked at before a part is said not to fit


def nested(
    maps: Sequence[ClearMap],
    oks: Sequence[Map],
    left: list[int],
    order: Sequence[int],
    fixed: Sequence[Box],
) -> list[Place]:
    """Places (part, x, y), from the ground's origin, of what one board takes [mm].

    Parameters
    ----------
    maps : sequence of ClearMap
        For each part.
    oks : sequence of array of bool
        Which cells of the maps may be used.
    left : list of int
        Copies of each part to be had; counted down.
    order : sequence of int
        Parts, the first to be placed first.
    fixed : sequence of (x0, y0, x1, y1)
        Sawn pieces already there, from the ground's origin [mm].
    """
    board = _Board(maps, list(fixed))
    places: list[Place] = []
    for part in order:
        if not left[part]:
            continue
        cells = board.open_cells(part, oks[part])
        while left[part]:
            found = board.nearest(part, cells)
            if found is None:
                break
            left[part] -= 1
            places.append((part, *found))
            board.lay(part, *found, cells)
    return places


class _Board:
    def __init__(self, maps: Sequence[ClearMap], taken: list[Box]) -> None:
        self.maps = maps
        self.taken = taken
        ground = maps[0].ground
        self.column, self.row, self.kerf = ground.column, ground.row, ground.shop.allowances.kerf
        self.room = (ground.length, ground.width)

    def open_cells(self, part: int, ok: Map) -> Map:
        """Cells in which some place of the part may still be free."""
        cells = ok.copy()
        for box in self.taken:
            self._strike(part, box, cells)
        return cells

    def lay(self, part: int, x: float, y: float, cells: Map) -> None:
        """Take the wood of a part just placed."""
        box = (x, y, x + self.maps[part].length, y + self.maps[part].width)
        self.taken.append(box)
        self._strike(part, box, cells)

    def nearest(self, part: int, cells: Map) -> tuple[float, float] | None:
        """The free place of a part nearest the datum end; cells found to be taken are struck out."""
        rows = cells.shape[1]
        flat = cells.reshape(-1)
        for _ in range(_TRIES):
            index = int(flat.argmax())
            if not flat[index]:
                return None
            found = self._in_cell(part, index // rows, index % rows)
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
        xs = [x0, *(box[2] + kerf for box in near if x0 < box[2] + kerf <= x1 + _TINY)]
        ys = [y0, *(box[3] + kerf for box in near if y0 < box[3] + kerf <= y1 + _TINY)]
        for x in sorted(xs):
            for y in sorted(ys):
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
