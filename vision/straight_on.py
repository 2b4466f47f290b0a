"""A photograph resampled over its board: the board as seen straight on, at a scale."""

from math import isfinite

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.errors import VisionError
from vision.frame import Frame

__all__ = ["check_scale", "straight_on"]

_MOST_PIXELS = 60_000_000


def straight_on(
    rgb: NDArray[np.uint8], frame: Frame, length_mm: float, width_mm: float, px_per_mm: float
) -> NDArray[np.uint8]:
    """The photograph resampled over the board, smoothed first where it has more pixels than the picture."""
    columns, rows = max(1, round(length_mm * px_per_mm)), max(1, round(width_mm * px_per_mm))
    x = (np.arange(columns) + 0.5) * length_mm / columns
    y = (np.arange(rows) + 0.5) * width_mm / rows
    ends = frame.to_px([[0, width_mm / 2], [length_mm, width_mm / 2]])
    finer = float(np.hypot(*(ends[1] - ends[0]))) / columns
    halvings = max(0, int(np.floor(np.log2(max(finer, 1.0)))))
    source = rgb
    for _ in range(halvings):
        source = np.asarray(cv2.pyrDown(source), dtype=np.uint8)
    picture = np.empty((rows, columns, 3), dtype=np.uint8)
    for top in range(0, rows, 256):  # in bands, so that the maps stay small
        grid = np.stack(np.meshgrid(x, y[top : top + 256]), axis=-1)
        # pyrDown keeps pixel 0 over pixel 0, so its pixel i lies over pixel 2 i.
        where = frame.to_px(grid) / 2**halvings
        cv2.remap(
            source,
            where[..., 0].astype(np.float32),
            where[..., 1].astype(np.float32),
            cv2.INTER_LINEAR if finer > 1 else cv2.INTER_CUBIC,
            dst=picture[top : top + 256],
            borderMode=cv2.BORDER_REPLICATE,
        )
    return picture


def check_scale(px_per_mm: float, length_mm: float, width_mm: float) -> None:
    """Refuse a scale that makes no picture.

    Raises
    ------
    VisionError
        It cannot be used, or the picture would be too big.
    """
    if not (isfinite(px_per_mm) and 0.05 <= px_per_mm <= 20):
        raise VisionError(f"a scale of {px_per_mm} pixels per mm cannot be used; give 0.05 to 20")
    if length_mm * width_mm * px_per_mm**2 > _MOST_PIXELS:
        raise VisionError(
            f"a picture of {length_mm:g} x {width_mm:g} mm at {px_per_mm:g} pixels per mm is too big"
        )
