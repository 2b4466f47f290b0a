"""The builder of fillings that straight cuts can saw: slab by slab, strip by strip, piece by piece."""

from collections.abc import Sequence

import numpy as np

from layout.cuts import Box, groups
from layout.ground import Ground
from layout.placement import CutKind
from layout.solve.slab_loops import Floats, Whole, filled
from layout.solve.views import View

__all__ = ["Builder", "Place", "places_of"]

Place = tuple[int, float, float]  # part, and the corner of its sawn piece [mm]

_TINY = 1e-7


class Builder:
    """One board being filled; places are kept from the ground's own origin."""

    def __init__(
        self,
        view: View,
        left: Sequence[int],
        kerf: float,
        ground: Ground,
        fixed: Sequence[Box] = (),
    ) -> None:
        self.view = view
        self.left = np.array(left, dtype=np.int64)
        self.kerf = kerf
        self.pitch = ground.column, ground.row, kerf
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
        _, parts, corners = self.view.answer(
            filled,
            *(self.pitch, self.least, self.left, (x0, y0, x1, y1), crosscut, stages),
            np.array(order, dtype=np.int64),
        )
        self.places += places_of(parts, corners)


def places_of(parts: Whole, corners: Floats) -> list[Place]:
    """Places as a loop of `layout.solve.slab_loops` tells them."""
    xs, ys = corners.T.tolist()
    return list(zip(parts.tolist(), xs, ys, strict=True))
