"""What the small net says: for each class of fault its chance at each pixel.

The net was trained on made hardwood boards and, as one domain of several, on
scanned boards (see the card beside the weights). It is one voice: each
suggester asks it and the grain-aligned background, and works without it.
"""

from collections.abc import Mapping
from functools import cache
from importlib import resources

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["CLASSES", "chances_of"]

Plane = NDArray[np.float32]

CLASSES = ("knot", "crack", "pocket", "stain", "pith", "sapwood", "wane")
_ROWS, _COLUMNS = 128, 512  # the net's fixed tile, one pixel per millimetre
_OVERLAP = 32  # neighbouring tiles share at least so much


def chances_of(rgb: NDArray[np.uint8], wood: NDArray[np.bool_]) -> Mapping[str, Plane] | None:
    """Chance of each class at each pixel, or None if the weights are not there.

    Parameters
    ----------
    rgb : uint8 array [rows, columns, 3]
        A stretch of board at one pixel per millimetre, x along the grain.
    wood : bool array [rows, columns]
        Where there is wood: its median colour is the board's own.
    """
    net = _net()
    if net is None:
        return None
    seen = np.asarray(rgb.astype(np.float32) / 255, dtype=np.float32)
    middle = np.median(seen[wood] if wood.any() else seen.reshape(-1, 3), axis=0).astype(np.float32)
    seen = np.asarray(np.clip(seen / (middle + 0.02) - 1, -1.5, 1.5), dtype=np.float32)
    rows, columns = seen.shape[:2]
    down, right = max(0, _ROWS - rows), max(0, _COLUMNS - columns)
    seen = _mirrored(seen, down, right)
    total = np.zeros((len(CLASSES), *seen.shape[:2]), np.float32)
    share = np.full(seen.shape[:2], 1e-6, np.float32)
    weight = np.minimum.outer(_slope(_ROWS), _slope(_COLUMNS))
    for top in _starts(seen.shape[0], _ROWS):
        for left in _starts(seen.shape[1], _COLUMNS):
            window = np.s_[top : top + _ROWS, left : left + _COLUMNS]
            net.setInput(np.ascontiguousarray(seen[window].transpose(2, 0, 1))[None])
            total[:, *window] += net.forward()[0] * weight
            share[window] += weight
    total /= share
    return {name: total[index, :rows, :columns] for index, name in enumerate(CLASSES)}


@cache
def _net() -> cv2.dnn.Net | None:
    file = resources.files("vision.suggest") / "weights" / "marks.onnx"
    if not file.is_file():
        return None
    return cv2.dnn.readNetFromONNX(np.frombuffer(file.read_bytes(), np.uint8))


def _starts(length: int, tile: int) -> list[int]:
    """Where tiles begin so that they cover a length evenly."""
    if length <= tile:
        return [0]
    count = 1 + -(-(length - tile) // (tile - _OVERLAP))
    return [round(index * (length - tile) / (count - 1)) for index in range(count)]


def _slope(length: int) -> Plane:
    """Weight of a tile's pixels along one side: less towards its ends, where it sees less."""
    far = np.minimum(np.arange(length), np.arange(length)[::-1]) + 1.0
    return np.minimum(far / _OVERLAP, 1.0).astype(np.float32)


def _mirrored(plane: Plane, down: int, right: int) -> Plane:
    while down or right:  # a mirror reaches no further than the picture is wide
        step = min(down, plane.shape[0]), min(right, plane.shape[1])
        plane = np.asarray(
            cv2.copyMakeBorder(plane, 0, step[0], 0, step[1], cv2.BORDER_REFLECT), dtype=np.float32
        )
        down, right = down - step[0], right - step[1]
    return plane
