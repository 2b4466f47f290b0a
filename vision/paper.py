"""Sheets of paper in a photograph: never the board, but good for a rough check of the tape."""

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.frame import in_board_order
from vision.hypotheses import WORK_PX, paper_hulls
from vision.outline import snapped

__all__ = ["found_paper"]

_LEAST_CONFIDENCE = 0.3


def found_paper(rgb: NDArray[np.uint8]) -> NDArray[np.float64] | None:
    """Corners of the sheet of paper in a photograph, for `vision.reference.rough_check`.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]

    Returns
    -------
    ndarray, [4, 2], or None
        (x, y) in order round it; None when no sheet, or none with clear edges, is seen.
    """
    scale = WORK_PX / max(rgb.shape[:2])
    size = (max(1, round(rgb.shape[1] * scale)), max(1, round(rgb.shape[0] * scale)))
    small = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    for hull in paper_hulls(small):
        quad = np.asarray(cv2.approxPolyN(hull.astype(np.float32), 4, ensure_convex=True), dtype=np.float64)
        rough = in_board_order((quad.reshape(4, 2) + 0.5) / scale - 0.5)
        found = snapped(rgb, rough, reach_px=max(6.0, 4.0 / scale))
        if found.confidence >= _LEAST_CONFIDENCE:
            return found.corners_px
    return None
