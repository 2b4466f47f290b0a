"""Shakes and checks: thin dark lines along the grain, darker than the pores and rings round them."""

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found, outline_of
from vision.suggest.surface import Surface

__all__ = ["cracks"]

Plane = NDArray[np.float32]

_WIDEST_MM = 4.0  # what is wider is a streak, not a crack
_REACH_MM = 24.0  # a crack holds its line at least this far
_FAN = (-0.21, -0.14, -0.07, 0.0, 0.07, 0.14, 0.21)  # directions tried, as rise over run
_SEED, _RIM = 5.0, 2.6  # hysteresis, in usual sizes of such lines nearby
_SHORTEST_MM = 14.0


def cracks(surface: Surface) -> list[Found]:
    """Candidates for shakes and checks on one stretch of board."""
    scale = surface.fine_px_per_mm
    line = _dark_lines(surface.fine, scale)
    off = cv2.resize(
        (~surface.wood).astype(np.uint8), surface.fine.shape[::-1], interpolation=cv2.INTER_NEAREST
    )
    off = cv2.dilate(off, np.ones((round(6 * scale) | 1,) * 2, np.uint8))
    line[off > 0] = 0
    usual = np.sqrt(
        np.maximum(cv2.blur(np.minimum(line, 8.0) ** 2, (round(240 * scale), round(30 * scale))), 0.16)
    )
    strength = line / usual
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        (strength > _RIM).astype(np.uint8), connectivity=8
    )
    found: list[Found] = []
    for index in range(1, count):
        left, top, wide, high, _area = (int(value) for value in stats[index])
        if wide < _SHORTEST_MM * scale or wide < 3 * high:
            continue
        window = np.s_[top : top + high, left : left + wide]
        patch = labels[window] == index
        along = np.where(patch, strength[window], 0).max(axis=0)
        if float((along > _SEED).mean()) * wide < _SHORTEST_MM * scale:
            continue
        found.extend(_crack(patch, along, np.where(patch, line[window], 0.0), scale, left, top))
    return found


def _crack(
    patch: NDArray[np.bool_], along: Plane, line: Plane, scale: float, left: int, top: int
) -> list[Found]:
    length = patch.shape[1] / scale
    evidence = (
        0.9 * (float(np.percentile(along, 60)) - 6.5)
        + 1.3 * np.log2(length / 40.0)
        + 0.25 * (float(np.percentile(line[patch], 70)) - 8.0)
    )
    ring = outline_of(patch.astype(np.uint8), scale, left, top)
    if ring is None:
        return []
    return [Found(DefectKind.CHECK, ring, float(1 / (1 + np.exp(-evidence))))]


def _dark_lines(fine: Plane, scale: float) -> Plane:
    """How dark and how steady a thin line along the grain runs through each pixel [L*]."""
    tall = round(_WIDEST_MM * scale) | 1
    closed = cv2.morphologyEx(fine, cv2.MORPH_CLOSE, np.ones((tall, 1), np.uint8))
    thin = closed - fine
    best = np.zeros_like(thin)
    long = round(_REACH_MM * scale) | 1
    for rise in _FAN:
        kernel = np.zeros((2 * round(abs(rise) * long / 2) + 1, long), np.float32)
        columns = np.arange(long)
        kernel[np.round((columns - long // 2) * rise).astype(int) + kernel.shape[0] // 2, columns] = 1 / long
        np.maximum(best, cv2.filter2D(thin, -1, kernel), out=best)
    return np.asarray(
        np.minimum(best, 1.6 * cv2.GaussianBlur(thin, (0, 0), 1.2) + 0.6 * best), dtype=np.float32
    )
