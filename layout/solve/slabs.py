"""The builder of fillings that straight cuts can saw: slab by slab, strip by strip, piece by piece."""

from collections.abc import Sequence

from layout.cuts import Box, groups
from layout.ground import Ground
from layout.placement import CutKind
from layout.solve.family import Left
from layout.solve.views import View

__all__ = ["Builder", "Place"]

Place = tuple[int, float, float]  # part, and the corner of its sawn piece [mm]

_TINY = 1e-7
_NOWHERE = 32767


class Builder:
    """One board being filled; places are kept from the ground's own origin."""

    def __init__(
        self,
        view: View,
        left: Left,
        kerf: float,
        ground: Ground,
        fixed: Sequence[Box] = (),
    ) -> None:
        self.view = view
        self.left = left
        self.kerf = kerf
        self.column, self.row, self.width = ground.column, ground.row, ground.width
        self.fixed = fixed
        self.places: list[Place] = []
        # What is smaller than any part, or misses the window, is passed over.
        self.least = (min(view.lengths, default=0.0), min(view.widths, default=0.0))
        self.window: Box | None = None

    def lump(
        self,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        crosscut: bool,
        stages: int,
        order: list[int],
        fixed: Sequence[Box] | None = None,
    ) -> None:
        """Fill a lump round the pieces fixed in it: free stretches as usual, the others one stage deeper.

        Only the pieces given can lie in it, of all that are fixed.
        """
        if not self._of_use(x0, y0, x1, y1):
            return
        fixed = self.fixed if fixed is None else fixed
        inside = [box for box in fixed if box[0] < x1 and box[2] > x0 and box[1] < y1 and box[3] > y0]
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
            own = [inside[number] for number in group]
            if crosscut:
                self._stretch(reached, y0, near - self.kerf, y1, crosscut, stages, order)
                self.lump(near, y0, far, y1, not crosscut, stages - 1, order, own)
            else:
                self._stretch(x0, reached, x1, near - self.kerf, crosscut, stages, order)
                self.lump(x0, near, x1, far, not crosscut, stages - 1, order, own)
            reached = far + self.kerf
        if crosscut:
            self._stretch(reached, y0, x1, y1, crosscut, stages, order)
        else:
            self._stretch(x0, reached, x1, y1, crosscut, stages, order)

    def _stretch(
        self, x0: float, y0: float, x1: float, y1: float, crosscut: bool, stages: int, order: list[int]
    ) -> None:
        """Fill a free stretch beside fixed pieces."""
        if self._of_use(x0, y0, x1, y1):
            self.slabs(x0, y0, x1, y1, crosscut, stages, order)

    def _of_use(self, x0: float, y0: float, x1: float, y1: float) -> bool:
        """Whether a lump is large enough for any part, and reaches into the window if there is one."""
        if x1 - x0 + _TINY < self.least[0] or y1 - y0 + _TINY < self.least[1]:
            return False
        if self.window is None:
            return True
        left, near, right, far = self.window
        return x0 <= right and x1 >= left and y0 <= far and y1 >= near

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
        view, kerf, left = self.view, self.kerf, self.left
        lengths, widths = view.lengths, view.widths
        along, across, column, row = view.along, view.across, self.column, self.row
        shortest, narrowest = self.least
        while True:
            room_x, room_y = x1 - x0 + _TINY, y1 - y0 + _TINY
            if room_x < shortest or room_y < narrowest:
                return
            # As `nearest`, written out for every part: a search spends most of its time here.
            first, line = int(x0 / column + _TINY), int(y0 / row + _TINY)
            index = part = at = 0
            for part in order:
                if left[part] and lengths[part] <= room_x and widths[part] <= room_y:
                    last = int((y1 - widths[part]) / row + _TINY)
                    if crosscut:
                        key = (part, first, line, last)
                        at, there = along.get(key) or view.nearest_along(key)
                    else:
                        limit = int((x1 - lengths[part]) / column + _TINY)
                        rows = across.get((part, first, limit))
                        if rows is None:
                            rows = view.rows_within(part, first, limit)
                        rows = (rows >> line) & ((2 << (last - line)) - 1 if last >= line else 0)
                        if not rows:
                            index += 1
                            continue
                        there = line + (rows & -rows).bit_length() - 1
                        at = view.column_after(part, first, there)
                    if at != _NOWHERE:
                        x = x0 if at == first else at * column
                        if x + lengths[part] <= x1 + _TINY:
                            break
                index += 1
            else:
                return
            y = max(y0, there * row)
            # Parts passed over do not fit this lump at all, so they fit nothing cut from it.
            order = order[index:]
            length, width = lengths[part], widths[part]
            near, thick, start = (x, length, x0) if crosscut else (y, width, y0)
            if near - start > kerf and len(order) > 1:
                gap = (x0, y0, x - kerf, y1) if crosscut else (x0, y0, x1, y - kerf)
                self.slabs(*gap, crosscut, stages, order[1:])
                if not left[part]:
                    # A stave in the gap took the width this one was to have.
                    x0, y0 = (near, y0) if crosscut else (x0, near)
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
        """The place of a part nearest the beginning of a lump, along it (crosscuts) or across it (rips).

        The lump must be as long and as wide as the part.
        """
        view = self.view
        length = view.lengths[part]
        i = int(x0 / self.column + _TINY)
        j = int(y0 / self.row + _TINY)
        last = int((y1 - view.widths[part]) / self.row + _TINY)
        if crosscut:
            key = (part, i, j, last)
            found = view.along.get(key) or view.nearest_along(key)
        else:
            limit = int((x1 - length) / self.column + _TINY)
            rows = view.across.get((part, i, limit))
            if rows is None:
                rows = view.rows_within(part, i, limit)
            rows = (rows >> j) & ((2 << (last - j)) - 1 if last >= j else 0)
            if not rows:
                return None
            row = j + (rows & -rows).bit_length() - 1
            found = view.column_after(part, i, row), row
        column, row = found
        if column == _NOWHERE:
            return None
        x = x0 if column == i else column * self.column
        if x + length > x1 + _TINY:
            return None
        return x, max(y0, row * self.row)
