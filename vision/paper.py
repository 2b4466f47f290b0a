"""Sheets of paper and bank cards in a photograph: never the board, but good for a rough check of the tape.

A sheet is known by being bright, plain and compact. A card may be of any colour: it is
looked for where the tape says how large it must appear.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.frame import Frame, in_board_order
from vision.hypotheses import WORK_PX, paper_hulls
from vision.outline import snapped
from vision.reference import KnownSize

__all__ = ["found_card", "found_paper"]

_LEAST_CONFIDENCE = 0.3
_CARD_CONFIDENCE = 0.5
_MARGIN_MM = 200.0  # a card lies on the board or no farther beside it
_WORK = 1.0  # px per mm at which cards are looked for
_LIKE = 0.1  # a card as seen is this near to its size
_SQUARE = 0.04  # and its opposite sides to one another
_FULL = 0.9  # of its upright box; round corners take a little


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


def found_card(
    rgb: NDArray[np.uint8], frame: Frame, length_mm: float, width_mm: float
) -> NDArray[np.float64] | None:
    """Corners of the bank card on a board or beside it, for `vision.reference.rough_check`.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
    frame : Frame
        Of the board, from its taped size.
    length_mm, width_mm : float
        Of the board.

    Returns
    -------
    ndarray, [4, 2], or None
        (x, y) in order round it, where its sides would meet but for its round corners;
        None when nothing of about that size with four straight sides is seen.
    """
    long, short = KnownSize.BANK_CARD.value
    for box in _card_boxes(_level(rgb, frame, length_mm, width_mm)):
        rough = in_board_order(frame.to_px(box))
        found = snapped(rgb, rough, reach_px=max(4.0, 0.06 * float(np.hypot(*(rough[1] - rough[0])))))
        if found.confidence < _CARD_CONFIDENCE:
            continue
        on_board = frame.to_mm(found.corners_px)
        sides = np.hypot(*(np.roll(on_board, -1, axis=0) - on_board).T)
        alike = np.abs(np.log(sides[:2] / sides[2:])).max() < _SQUARE
        off = np.log(np.sort(sides.reshape(2, 2).mean(axis=0))[::-1] / [long, short])
        if alike and abs(off.mean()) < _LIKE and abs(off[0] - off[1]) < _LIKE:
            return found.corners_px
    return None


def _level(rgb: NDArray[np.uint8], frame: Frame, length_mm: float, width_mm: float) -> NDArray[np.uint8]:
    """The board and what lies round it, seen straight on at _WORK; what is outside the photograph, black."""
    x = np.arange(-_MARGIN_MM, length_mm + _MARGIN_MM, 1 / _WORK)
    y = np.arange(-_MARGIN_MM, width_mm + _MARGIN_MM, 1 / _WORK)
    at = frame.to_px(np.stack(np.meshgrid(x, y), axis=-1)).astype(np.float32)
    return np.asarray(cv2.remap(rgb, at[..., 0], at[..., 1], cv2.INTER_LINEAR), dtype=np.uint8)


def _card_boxes(level: NDArray[np.uint8]) -> list[NDArray[np.float64]]:
    """Rectangles of about a card's size in the level picture, in board millimetres, the likeliest first."""
    lab = np.asarray(cv2.cvtColor(cv2.GaussianBlur(level, (0, 0), 1.2), cv2.COLOR_RGB2LAB), dtype=np.uint8)
    found: list[tuple[float, NDArray[np.float64]]] = []
    for low in (15, 35):
        edges = np.zeros(level.shape[:2], dtype=np.uint8)
        for channel, gain in ((0, 1.0), (1, 2.0), (2, 2.0)):
            plane = np.ascontiguousarray(lab[..., channel])
            edges |= np.asarray(cv2.Canny(plane, low * 2 / gain, low * 4 / gain), dtype=np.uint8)
        edges = np.asarray(cv2.dilate(edges, np.ones((3, 3), np.uint8)), dtype=np.uint8)
        for contour in cv2.findContours(edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)[0]:
            box = cv2.minAreaRect(contour)
            size = np.sort(np.array(box[1]))[::-1] / _WORK
            if size[1] < 30.0 or cv2.contourArea(contour) < _FULL * box[1][0] * box[1][1]:
                continue
            off = float(np.abs(np.log(size / np.array(KnownSize.BANK_CARD.value))).max())
            if off < 1.5 * _LIKE:
                found.append((off, np.asarray(cv2.boxPoints(box), dtype=np.float64) / _WORK - _MARGIN_MM))
    return [box for _, box in sorted(found, key=lambda pair: pair[0])][:6]
