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

__all__ = ["CLASSES", "FINE", "chances_of"]

Plane = NDArray[np.float32]

CLASSES = ("knot", "crack", "pocket", "stain", "pith", "sapwood", "wane")
FINE = 2  # pixels per millimetre that the net reads; it answers with one
_STEP = 16  # it halves the picture until a cell is 16 mm, so sides are whole cells [mm]
_LEAST = 64  # and needs this much to look at [mm]


def chances_of(rgb: NDArray[np.uint8], wood: NDArray[np.bool_]) -> Mapping[str, Plane] | None:
    """Chance of each class at each pixel, or None if the weights are not there.

    Parameters
    ----------
    rgb : uint8 array [rows, columns, 3]
        A stretch of board at two pixels per millimetre, x along the grain.
    wood : bool array [rows / 2, columns / 2]
        Where there is wood, at one: its median colour is the board's own.

    Returns
    -------
    dict of str to float32 array [rows / 2, columns / 2], or None
    """
    net = _net()
    if net is None:
        return None
    rows, columns = wood.shape
    high, wide = (max(_LEAST, -(-side // _STEP) * _STEP) for side in (rows, columns))
    net.setInput(_normalised(rgb, wood, FINE * high, FINE * wide))
    said = net.forward()[0]
    return {name: np.asarray(said[index, :rows, :columns]) for index, name in enumerate(CLASSES)}


def _normalised(rgb: NDArray[np.uint8], wood: NDArray[np.bool_], rows: int, columns: int) -> Plane:
    """Red, green, blue, by the wood's median of each, less one; mirrored down and right to so many pixels.

    Array [1, 3, rows, columns]; all is done to bytes, which are made numbers as they are put in their place.
    """
    size = (FINE * wood.shape[1], FINE * wood.shape[0])
    if rgb.shape[1::-1] != size:
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
    middle = _medians(np.ascontiguousarray(rgb[::FINE, ::FINE]), wood) / 255
    levels = np.arange(256)[:, None] / 255 / (middle[None] + 0.02) - 1
    table = np.ascontiguousarray(np.clip(levels, -1.5, 1.5).astype(np.float32).T)
    seen = np.empty((1, 3, rows, columns), np.float32)
    for channel, plane in enumerate(cv2.split(_mirrored(rgb, rows - size[1], columns - size[0]))):
        cv2.LUT(plane, table[channel], dst=seen[0, channel])
    return seen


def _medians(rgb: NDArray[np.uint8], wood: NDArray[np.bool_]) -> NDArray[np.float64]:
    """The wood's median of each colour, by counting bytes; of everything, if there is no wood."""
    looked_at = wood.astype(np.uint8) if wood.any() else None
    middles = []
    for channel in range(3):
        upto = cv2.calcHist([rgb], [channel], looked_at, [256], [0, 256]).ravel().astype(np.int64).cumsum()
        low, high = np.searchsorted(upto, ((upto[-1] - 1) // 2, upto[-1] // 2), side="right")
        middles.append(float(low + high) / 2)
    return np.array(middles)


@cache
def _net() -> cv2.dnn.Net | None:
    file = resources.files("vision.suggest") / "weights" / "marks.onnx"
    if not file.is_file():
        return None
    # The newer engine says the same to a millionth and takes a quarter longer.
    return cv2.dnn.readNetFromONNX(np.frombuffer(file.read_bytes(), np.uint8), engine=cv2.dnn.ENGINE_CLASSIC)


def _mirrored(rgb: NDArray[np.uint8], down: int, right: int) -> NDArray[np.uint8]:
    while down or right:  # a mirror reaches no further than the picture is wide
        step = min(down, rgb.shape[0]), min(right, rgb.shape[1])
        rgb = np.asarray(cv2.copyMakeBorder(rgb, 0, step[0], 0, step[1], cv2.BORDER_REFLECT), np.uint8)
        down, right = down - step[0], right - step[1]
    return rgb
