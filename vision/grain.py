"""Which way the grain runs, place by place, and how steep it is to the board's length.

Grain is read from the pattern of rings, pores and rays: where the picture
changes least from pixel to pixel, there the fibres run (structure tensor).
Figure is not fibre: on flat-sawn faces the rings' curves only come near it, so
each reading carries how sure it is, and the board's slope is the weighted
median of the sure ones.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.errors import VisionError

__all__ = ["CELL_MM", "GrainField", "grain_field"]

Plane = NDArray[np.float32]

CELL_MM = 20.0
_SMOOTH_MM = 8.0  # the pattern is judged over about this much wood
_SURE = 0.35  # a reading counts towards the slope from this coherence on


@dataclass(frozen=True)
class GrainField:
    """Direction of the grain over a face, on square cells.

    Parameters
    ----------
    angles : float32 array [rows, columns]
        Angle to the x axis, positive from x towards y, -90 to 90 [degrees].
    sure : float32 array [rows, columns]
        0 (no direction to be seen) to 1 (all lines run one way).
    cell_mm : float
        Side of a cell [mm]; the first cell's corner is the picture's.
    """

    angles: Plane
    sure: Plane
    cell_mm: float = CELL_MM

    @property
    def mean(self) -> float:
        """Weighted median angle of the sure cells [degrees]; 0 where nothing is sure."""
        sure = self.sure >= _SURE
        if not sure.any():
            return 0.0
        angles, weights = self.angles[sure], self.sure[sure]
        order = np.argsort(angles)
        half = np.searchsorted(np.cumsum(weights[order]), weights.sum() / 2)
        return float(angles[order][min(int(half), len(order) - 1)])

    @property
    def slope_percent(self) -> float:
        """Deviation across for a hundred along, without its sign (100 times rise over run) [%]."""
        return 100.0 * abs(float(np.tan(np.radians(self.mean))))

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """(angle [degrees], how sure) at a point of the picture [mm]."""
        row = min(max(int(y_mm / self.cell_mm), 0), self.angles.shape[0] - 1)
        column = min(max(int(x_mm / self.cell_mm), 0), self.angles.shape[1] - 1)
        return float(self.angles[row, column]), float(self.sure[row, column])


def grain_field(picture: NDArray[np.uint8], px_per_mm: float, cell_mm: float = CELL_MM) -> GrainField:
    """The grain's direction over a true-scale picture.

    Parameters
    ----------
    picture : uint8 array [rows, columns, 3]
        RGB, x along the board.
    px_per_mm : float
    cell_mm : float
        Side of the cells of the result [mm].

    Raises
    ------
    VisionError
        The picture is smaller than a cell, or has no scale.

    References
    ----------
    Structure tensor and its coherence: common knowledge of image analysis (from memory).
    """
    if not (np.isfinite(px_per_mm) and px_per_mm > 0):
        raise VisionError(f"the scale of the picture is {px_per_mm} pixels per mm; give a number above 0")
    rows, columns = (int(side / px_per_mm // cell_mm) for side in picture.shape[:2])
    if rows < 1 or columns < 1:
        raise VisionError(f"a face of at least {cell_mm:.0f} mm each way is needed to read the grain")
    size = (round(picture.shape[1] / px_per_mm), round(picture.shape[0] / px_per_mm))
    parts = [_tensor(stretch) for stretch in _stretches(picture, size)]
    xx, xy, yy = (np.concatenate([part[index] for part in parts], axis=1) for index in range(3))
    grid = (columns, rows)
    exact = np.s_[: round(rows * cell_mm), : round(columns * cell_mm)]
    xx, xy, yy = (
        cv2.resize(np.ascontiguousarray(a[exact]), grid, interpolation=cv2.INTER_AREA) for a in (xx, xy, yy)
    )
    across = 0.5 * np.arctan2(2 * xy, xx - yy)  # the way of the steepest change
    angles = np.degrees(across) + 90.0
    angles = (angles + 90.0) % 180.0 - 90.0
    sure = np.sqrt((xx - yy) ** 2 + 4 * xy**2) / np.maximum(xx + yy, 1e-6)
    return GrainField(np.asarray(angles, dtype=np.float32), np.asarray(sure, dtype=np.float32), cell_mm)


def _stretches(picture: NDArray[np.uint8], size: tuple[int, int]) -> list[Plane]:
    """Lightness at one pixel per millimetre, in stretches of a metre (the gradients need no more)."""
    small = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    grey = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    return [grey[:, left : left + 1000] for left in range(0, grey.shape[1], 1000)]


def _tensor(grey: Plane) -> tuple[Plane, Plane, Plane]:
    soft = cv2.GaussianBlur(grey, (0, 0), 1.0)
    dx = cv2.Scharr(soft, cv2.CV_32F, 1, 0)
    dy = cv2.Scharr(soft, cv2.CV_32F, 0, 1)
    limit = 3.0 * float(np.median(np.hypot(dx, dy))) + 1e-3
    size = np.maximum(np.hypot(dx, dy) / limit, 1.0)  # a knot or an edge must not outvote the grain round it
    dx, dy = dx / size, dy / size
    xx, xy, yy = (cv2.GaussianBlur(a, (0, 0), _SMOOTH_MM / 2) for a in (dx * dx, dx * dy, dy * dy))
    return np.asarray(xx, np.float32), np.asarray(xy, np.float32), np.asarray(yy, np.float32)
