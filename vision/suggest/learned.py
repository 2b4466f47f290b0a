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
_CELL, _OUT = 4, 4  # its first layer steps so many pixels; planes a class that it gives, of two by two
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
    net.setInput(_in_cells(rgb, wood, FINE * high, FINE * wide))
    said = net.forward()[0]
    return {
        name: _in_pixels(said[_OUT * index : _OUT * index + _OUT])[:rows, :columns]
        for index, name in enumerate(CLASSES)
    }


def _in_cells(rgb: NDArray[np.uint8], wood: NDArray[np.bool_], rows: int, columns: int) -> Plane:
    """Red, green, blue, by the wood's median of each, less one; mirrored down and right to so many pixels.

    Array [1, 3 x 16, rows / 4 + 1, columns / 4 + 1]: the net's first layer looks at every fourth pixel, so
    pixels are laid one behind the other in cells of four by four, half a cell of noughts round them all.
    All is done to bytes, which are made numbers as they are put in their place.
    """
    size = (FINE * wood.shape[1], FINE * wood.shape[0])
    if rgb.shape[1::-1] != size:
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
    middle = _medians(np.ascontiguousarray(rgb[::FINE, ::FINE]), wood) / 255
    levels = np.arange(256)[:, None] / 255 / (middle[None] + 0.02) - 1
    table = np.ascontiguousarray(np.clip(levels, -1.5, 1.5).astype(np.float32).T)
    seen = np.ascontiguousarray(_mirrored(rgb, rows - size[1], columns - size[0]))
    high, wide, half = rows // _CELL, columns // _CELL, _CELL // 2
    cells = np.zeros((1, 3 * _CELL**2, high + 1, wide + 1), np.float32)
    for place, plane in enumerate(cv2.split(seen.reshape(rows, wide, 3 * _CELL))):
        x, channel = divmod(place, 3)
        for y in range(_CELL):
            down, right = y < half, x < half  # in a cell that begins half a one earlier
            index = (channel * _CELL + (y + half) % _CELL) * _CELL + (x + half) % _CELL
            to = cells[0, index, 1 - down : 1 - down + high, 1 - right : 1 - right + wide]
            cv2.LUT(plane[y::_CELL], table[channel], dst=to)
    return cells


def _in_pixels(said: Plane) -> Plane:
    """One plane of four that have the pixels of two by two one behind the other."""
    _, rows, columns = said.shape
    plane = np.empty((rows, 2, 2 * columns), np.float32)
    for row in (0, 1):
        plane[:, row] = cv2.merge([said[2 * row], said[2 * row + 1]]).reshape(rows, -1)
    return plane.reshape(2 * rows, 2 * columns)


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
