"""Where a waney piece of a long board is cut off: its rough corners moved onto the wood's own edges."""

from dataclasses import replace
from math import hypot

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.edges import FittedEdge
from vision.errors import VisionError
from vision.frame import Frame
from vision.lens import unknown_lens
from vision.outline import FoundOutline
from vision.waney import waney_outline
from vision.waney_scale import both_edges

__all__ = ["on_the_wood", "stands_out"]

Floats = NDArray[np.float64]

_PASSES = 2
_ROUGH = 0.3  # the page asks to look at its corners, for beside a trestle or a dark knot they may be off
_SLENDER = 9.0  # a piece is not so many times as long as wide; a trestle or a stave of the bench is
_OTHER = 0.6  # in logarithm, how much narrower or wider it may turn out
_CLEAR = 6.0  # of lightness and colour, what stands out of its ground at all
_IN_PX, _OUT_PX = (
    (0.008, 0.025),
    (0.012, 0.035),
)  # of the picture's longer side, from where to where it is held


def on_the_wood(
    rgb: NDArray[np.uint8], rough: FoundOutline, open_ends: tuple[bool, bool], width_mm: float
) -> FoundOutline:
    """A waney piece's corners on its edges, followed from a rough place; as they were where none is seen.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
    rough : FoundOutline
    open_ends : tuple of bool
        Whether the board runs on beyond its near end, and beyond its far end.
    width_mm : float
        About how wide the board is.
    """
    corners = rough.corners_px
    if stands_out(rgb, corners) > 0.0:
        try:
            for _ in range(_PASSES):
                corners = _followed(rgb, replace(rough, corners_px=corners), open_ends, width_mm)
        except (VisionError, ValueError):
            corners = rough.corners_px
    return replace(rough, corners_px=corners, confidence=_ROUGH)


def stands_out(rgb: NDArray[np.uint8], corners_px: Floats) -> float:
    """How likely a rough place is the board: its long sides part it from its ground, and it is broad.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
    corners_px : ndarray, [4, 2]
        In board order.

    Returns
    -------
    float
        0 for what can't be a piece; between two places the larger one is the likelier.
    """
    sides = np.hypot(*(np.roll(corners_px, -1, axis=0) - corners_px).T)
    wide = float(sides[1] + sides[3]) / 2
    if wide < 1.0 or float(sides[0] + sides[2]) / 2 > _SLENDER * wide:
        return 0.0
    contrast = _contrast(rgb, corners_px)
    return wide * contrast / (contrast + _CLEAR)


def _contrast(rgb: NDArray[np.uint8], corners_px: Floats) -> float:
    """How unlike each other both sides of the fainter long edge are, in most places along it [Lab]."""
    reach, middle = max(rgb.shape[:2]), corners_px.mean(axis=0)
    found = []
    for one, other in ((0, 1), (3, 2)):
        a, b = corners_px[one], corners_px[other]
        way = (b - a) / float(np.hypot(*(b - a)))
        inward = np.array([-way[1], way[0]])
        inward *= np.sign((middle - a) @ inward)
        at = a + np.linspace(0.05, 0.95, 31)[:, None] * (b - a)
        inner, outer = (
            _colour(rgb, at[:, None] + sign * np.linspace(*span, 7)[:, None] * reach * inward)
            for sign, span in ((1.0, _IN_PX), (-1.0, _OUT_PX))
        )
        found.append(float(np.median(np.sqrt(np.sum((inner - outer) ** 2, axis=-1)))))
    return min(found)


def _colour(rgb: NDArray[np.uint8], at: Floats) -> Floats:
    """Mean colour of each run of places, outside the picture as at its rim, [n, 3] [Lab]."""
    x, y = np.ascontiguousarray(np.moveaxis(at, -1, 0), dtype=np.float32)
    seen = cv2.remap(rgb, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    lab = cv2.cvtColor(np.asarray(seen, dtype=np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    return np.asarray(np.asarray(lab, dtype=np.float64).mean(axis=1))


def _followed(
    rgb: NDArray[np.uint8], piece: FoundOutline, open_ends: tuple[bool, bool], width_mm: float
) -> Floats:
    """Its corners on the edges followed from where they are [px]."""
    corners = piece.corners_px
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    per_mm = float(sides[1] + sides[3]) / 2 / width_mm
    length = float(sides[0] + sides[2]) / 2 / per_mm
    lens = unknown_lens(rgb.shape[1], rgb.shape[0], None).lens
    frame = Frame.from_corners(corners, length, width_mm, lens)
    ring = np.array(waney_outline(rgb, frame, length, width_mm, open_ends=open_ends))
    upper, lower = both_edges(ring, length)
    found = np.array([upper[0], upper[-1], lower[-1], lower[0]])
    if abs(np.log(max(1.0, float((found[2:, 1] - found[1::-1, 1]).min())) / width_mm)) > _OTHER:
        raise VisionError("the edges followed are those of something else")
    for end, (side, pair) in enumerate(((3, (0, 3)), (1, (1, 2)))):
        edge = piece.edges[side]
        if edge is not None and not open_ends[end]:
            found[list(pair), 0] = _end_at(frame, edge, found[list(pair), 1])
    return frame.to_px(found)


def _end_at(frame: Frame, edge: FittedEdge, y: Floats) -> Floats:
    """Where along the board its end lies at places across it [mm]."""
    place, way = edge.line
    one, other = frame.to_mm(np.array([place - 40.0 * way, place + 40.0 * way]))
    if abs(other[1] - one[1]) < hypot(*(other - one)) / 2:
        return np.full(y.shape, (one[0] + other[0]) / 2)
    return np.asarray(one[0] + (y - one[1]) * (other[0] - one[0]) / (other[1] - one[1]))
