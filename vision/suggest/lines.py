"""Thin dark lines along the grain, measured against the pores and rings of the neighbourhood."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.suggest.regions import parts_of

__all__ = ["Line", "Lines", "lines_of", "lines_over"]

Plane = NDArray[np.float32]

_WIDEST_MM = 4.0  # what is wider is a streak, not a line
_REACH_MM = 24.0  # a line holds its direction at least this far
_FAN = (-0.18, -0.09, 0.0, 0.09, 0.18)  # directions tried, as rise over run


@dataclass(frozen=True)
class Lines:
    """Dark lines of a stretch of board.

    Parameters
    ----------
    depth : float32 array [rows, columns]
        How dark and how steady a line runs through each pixel [L*].
    strength : float32 array [rows, columns]
        The same in usual sizes of such lines nearby.
    px_per_mm : float
    """

    depth: Plane
    strength: Plane
    px_per_mm: float


@dataclass(frozen=True)
class Line:
    """One line: the pixels it covers, within a window of the stretch.

    Parameters
    ----------
    patch : bool array [rows, columns]
    left, top : int
        Place of the patch [px of `Lines`].
    along : float32 array [columns]
        Its strength in each column.
    depth : float
        How dark it is [L*].
    """

    patch: NDArray[np.bool_]
    left: int
    top: int
    along: Plane
    depth: float


def lines_of(fine: Plane, px_per_mm: float, wood: NDArray[np.bool_]) -> Lines:
    """The dark lines of a stretch.

    Parameters
    ----------
    fine : float32 array [rows, columns]
        Lightness, x along the grain.
    px_per_mm : float
    wood : bool array
        False beyond the edges, at any scale.
    """
    tall = round(_WIDEST_MM * px_per_mm) | 1
    closed = cv2.morphologyEx(fine, cv2.MORPH_CLOSE, np.ones((tall, 1), np.uint8))
    thin = np.asarray(closed - fine, dtype=np.float32)
    # A line changes slowly along itself, so half as many columns do for its mean.
    rows, columns = thin.shape
    half = np.asarray(
        cv2.resize(thin, (max(1, columns // 2), rows), interpolation=cv2.INTER_AREA), np.float32
    )
    best = np.zeros_like(half)
    for rise in _FAN:
        np.maximum(best, _mean_along(half, 2 * rise, round(_REACH_MM * px_per_mm / 2) | 1), out=best)
    depth = np.asarray(cv2.resize(best, (columns, rows), interpolation=cv2.INTER_LINEAR), np.float32)
    here = np.asarray(cv2.GaussianBlur(thin, (0, 0), 1.2), dtype=np.float32)
    depth = np.minimum(depth, 1.6 * here + 0.6 * depth)
    off = cv2.resize((~wood).astype(np.uint8), fine.shape[::-1], interpolation=cv2.INTER_NEAREST)
    depth[cv2.dilate(off, np.ones((round(6 * px_per_mm) | 1,) * 2, np.uint8)) > 0] = 0
    window = (round(240 * px_per_mm), round(30 * px_per_mm))
    usual = np.sqrt(np.maximum(cv2.blur(np.minimum(depth, 8.0) ** 2, window), 0.16))
    return Lines(depth, np.asarray(depth / usual, dtype=np.float32), px_per_mm)


def lines_over(lines: Lines, rim: float, shortest_mm: float) -> list[Line]:
    """Connected lines stronger than `rim`, at least so long and three times longer than high."""
    labels, boxes, (x0, y0) = parts_of(lines.strength > rim, connectivity=8)
    long = boxes[:, cv2.CC_STAT_WIDTH] >= shortest_mm * lines.px_per_mm
    long &= boxes[:, cv2.CC_STAT_WIDTH] >= 3 * boxes[:, cv2.CC_STAT_HEIGHT]
    found = []
    for index in np.flatnonzero(long):
        if index == 0:
            continue
        left, top, wide, high, _area = (int(value) for value in boxes[index])
        patch = labels[top : top + high, left : left + wide] == index
        left, top = left + x0, top + y0
        window = np.s_[top : top + high, left : left + wide]
        along = np.where(patch, lines.strength[window], 0).max(axis=0)
        depth = float(np.percentile(lines.depth[window][patch], 70))
        found.append(Line(patch, left, top, np.asarray(along, dtype=np.float32), depth))
    return found


def _mean_along(plane: Plane, rise: float, long: int) -> Plane:
    if not rise:
        return np.asarray(cv2.blur(plane, (long, 1)), dtype=np.float32)
    rows, columns = plane.shape
    lean = np.array([[1.0, 0.0, 0.0], [rise, 1.0, -rise * columns / 2]], np.float64)
    straight = cv2.warpAffine(plane, lean, (columns, rows), flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP)
    mean = cv2.blur(straight, (long, 1))
    return np.asarray(cv2.warpAffine(mean, lean, (columns, rows), flags=cv2.INTER_NEAREST), dtype=np.float32)
