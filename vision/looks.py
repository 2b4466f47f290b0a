"""Colour and grain of a face as plain values, so that a repair can find its match without the picture.

The layout hears of no pictures; it compares `layout.repair.looks.Looks`. A cell's
colour is the mean of its middle half by lightness, so that pores and a pencil
line do not count.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.repair.looks import Lab, Looks
from layout.stock import Board, Face, Turn
from vision.grain import CELL_MM, grain_field

__all__ = ["looks_of"]

_PX_PER_CELL = 12


def looks_of(picture: NDArray[np.uint8], px_per_mm: float, board: Board, face: Face) -> Looks:
    """Colour and grain of one face, on cells of 20 mm in the board frame.

    Parameters
    ----------
    picture : uint8 array [rows, columns, 3]
        True-scale RGB picture of the face as seen (the back mirrored, as `layout.stock` says).
    px_per_mm : float
    board : Board
    face : Face

    Raises
    ------
    VisionError
        The picture has no scale, or is smaller than a cell.
    """
    if face is Face.BACK:
        # What is seen lies mirrored; turned back, it stands where it is in the board frame.
        picture = np.flip(picture, 0 if board.turned is Turn.ROLLED else 1)
    picture = np.ascontiguousarray(picture)
    field = grain_field(picture, px_per_mm)
    colour, angles = _colours(picture, px_per_mm), field.angles
    rows, columns = min(len(angles), len(colour)), min(angles.shape[1], colour.shape[1])
    return Looks(
        board.id,
        face.value,
        CELL_MM,
        tuple(tuple(_lab(colour[j, i]) for j in range(rows)) for i in range(columns)),
        tuple(tuple(round(float(angles[j, i]), 2) for j in range(rows)) for i in range(columns)),
    )


def _colours(picture: NDArray[np.uint8], px_per_mm: float) -> NDArray[np.float32]:
    """Mean CIELAB colour of the middle half by lightness of every cell, [rows, columns, 3]."""
    rows, columns = (int(side / px_per_mm // CELL_MM) for side in picture.shape[:2])
    across, along = (round(count * CELL_MM * px_per_mm) for count in (rows, columns))
    size = (columns * _PX_PER_CELL, rows * _PX_PER_CELL)
    small = cv2.resize(picture[:across, :along], size, interpolation=cv2.INTER_AREA)
    lab = cv2.cvtColor(np.asarray(small, dtype=np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    cells = lab.reshape(rows, _PX_PER_CELL, columns, _PX_PER_CELL, 3).swapaxes(1, 2)
    flat = cells.reshape(rows, columns, _PX_PER_CELL**2, 3)
    order = np.argsort(flat[..., 0], axis=2)
    quarter = _PX_PER_CELL**2 // 4
    middle = np.take_along_axis(flat, order[:, :, quarter:-quarter, None], axis=2)
    return np.asarray(middle.mean(axis=2), dtype=np.float32)


def _lab(cell: NDArray[np.float32]) -> Lab:
    lightness, red, yellow = (round(float(value), 2) for value in cell)
    return lightness, red, yellow
