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
_KNOT_PX = 16
_MOST_BOXES = 6
_SAME_MM = 3.0
_LIKE = 0.1  # a card as seen is this near to its size
_LIKE_FORM = 0.03  # and its sides to their ratio
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
    for box in _card_boxes(_level(rgb, frame, length_mm, width_mm)):
        corners = _card_at(rgb, frame, box)
        if corners is not None:
            return corners
    return None


def _card_at(rgb: NDArray[np.uint8], frame: Frame, box_mm: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Corners of the card about a rough box; None where there is none."""
    long, short = KnownSize.BANK_CARD.value
    rough = in_board_order(frame.to_px(box_mm))
    found = snapped(rgb, rough, reach_px=max(4.0, 0.06 * float(np.hypot(*(rough[1] - rough[0])))))
    if found.confidence < _CARD_CONFIDENCE:
        return None
    on_board = frame.to_mm(found.corners_px)
    sides = np.hypot(*(np.roll(on_board, -1, axis=0) - on_board).T)
    alike = np.abs(np.log(sides[:2] / sides[2:])).max() < _SQUARE
    short_px = float(np.hypot(*(found.corners_px[2] - found.corners_px[1])))
    off = np.log(np.sort(sides.reshape(2, 2).mean(axis=0))[::-1] / [long, short])
    like = alike and abs(off.mean()) < _LIKE and abs(off[0] - off[1]) < _LIKE_FORM + 1.5 / short_px
    return found.corners_px if like else None


def _level(rgb: NDArray[np.uint8], frame: Frame, length_mm: float, width_mm: float) -> NDArray[np.uint8]:
    """The board and what lies round it, seen straight on at _WORK; what is outside the photograph, black."""
    size = [round((side + 2 * _MARGIN_MM) * _WORK) for side in (length_mm, width_mm)]
    # The frame is smooth: asked every few pixels, it is known between them to a hundredth of one.
    knots = [np.linspace(0, side - 1, max(2, side // _KNOT_PX)) for side in size]
    coarse = frame.to_px(np.stack(np.meshgrid(*knots), axis=-1) / _WORK - _MARGIN_MM)
    # Not by cv2.remap, which knows 32 places between two pixels and would leave steps.
    across, down = (
        np.stack([np.interp(np.arange(side), k, row) for row in np.eye(k.size)], axis=1)
        for side, k in zip(size, knots, strict=True)
    )
    at = [np.ascontiguousarray(down @ coarse[..., i] @ across.T, dtype=np.float32) for i in (0, 1)]
    return np.asarray(cv2.remap(rgb, at[0], at[1], cv2.INTER_LINEAR), dtype=np.uint8)


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
    kept: list[NDArray[np.float64]] = []
    for _, place in sorted(found, key=lambda pair: pair[0]):
        # One outline is met several times: within and without, and faint and clear.
        if all(np.hypot(*(place.mean(axis=0) - other.mean(axis=0))) > _SAME_MM for other in kept):
            kept.append(place)
    return kept[:_MOST_BOXES]
