"""Knots: compact places darker or redder than the clear grain, round which the grain turns aside."""

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found, outline_of
from vision.suggest.surface import Surface

__all__ = ["knots"]

Plane = NDArray[np.float32]

_SEED = 3.2  # darkness of a knot's middle, in usual sizes of the neighbourhood's noise
_RIM = 0.42  # the knot reaches out to this share of its own darkness
_LEAST_L = 5.0  # and never less than this [L*]
_REDNESS = 0.7  # worth of a step of colour beside one of lightness
_LONGEST = (
    5.0  # a knot is at most this many times longer along the grain than across (spike knots run across)
)
_PIN_MM = 5.0  # up to this size a knot is a pin knot (common practice)
_SMALLEST_MM2 = 4.0


def knots(surface: Surface) -> list[Found]:
    """Candidates for knots on one stretch of board, sound, dead and pin."""
    dark = surface.darkness + _REDNESS * surface.colour_shift * (surface.darkness > 0)
    dark = np.asarray(cv2.GaussianBlur(dark, (0, 0), 1.0), dtype=np.float32)
    found: list[Found] = []
    seeds = (dark > np.maximum(_SEED * surface.noise, _LEAST_L * 1.5)).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        (dark > np.maximum(1.3 * surface.noise, _LEAST_L * 0.5)).astype(np.uint8), connectivity=4
    )
    for index in range(1, count):
        left, top, wide, high, area = (int(value) for value in stats[index])
        window = np.s_[top : top + high, left : left + wide]
        patch = labels[window] == index
        if area < _SMALLEST_MM2 or not seeds[window][patch].any():
            continue
        found.extend(_in_window(surface, np.where(patch, dark[window], 0.0), left, top))
    return found


def _in_window(surface: Surface, dark: Plane, left: int, top: int) -> list[Found]:
    """The knots within one dark component: each as far as a share of its own darkness reaches."""
    found: list[Found] = []
    rest = dark.copy()
    for _ in range(4):
        peak = float(rest.max())
        row, column = np.unravel_index(int(rest.argmax()), rest.shape)
        noise = float(surface.noise[top + row, left + column])
        if peak < max(_SEED * noise, _LEAST_L * 1.5):
            break
        _, labels = cv2.connectedComponents((rest > max(_RIM * peak, 0.8 * _LEAST_L)).astype(np.uint8))
        blob = labels == labels[row, column]
        rest[cv2.dilate(blob.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0] = 0
        one = _knot(surface, blob, dark, noise, left, top)
        if one is not None:
            found.append(one)
    return found


def _knot(
    surface: Surface, blob: NDArray[np.bool_], dark: Plane, noise: float, left: int, top: int
) -> Found | None:
    area = int(blob.sum())
    rows, columns = np.nonzero(blob.any(axis=1))[0], np.nonzero(blob.any(axis=0))[0]
    high, wide = int(rows[-1] - rows[0] + 1), int(columns[-1] - columns[0] + 1)
    if area < _SMALLEST_MM2 or wide > _LONGEST * high:
        return None
    contrast = float(dark[blob].mean())
    fill = area / (high * wide)
    stretch = wide / high
    evidence = (
        1.5 * np.log2(contrast / (2.6 * noise))
        + 1.2 * np.log2(min(area, 150.0) / 25.0) * 0.5
        - 1.3 * max(0.0, np.log2(max(stretch, 1e-3) / 1.6))
        + 3.0 * (fill - 0.62)
        + 0.08 * (contrast - 12.0)
    )
    window = np.s_[top : top + blob.shape[0], left : left + blob.shape[1]]
    lightness = surface.lab[window][..., 0][blob]
    clear = float(surface.clear[window][..., 0][blob].mean())
    size = float(np.sqrt(high * wide))
    if size <= _PIN_MM:
        kind = DefectKind.PIN_KNOT
    else:
        kind = DefectKind.DEAD_KNOT if float(np.median(lightness)) < 0.55 * clear else DefectKind.SOUND_KNOT
    ring = outline_of(blob.astype(np.uint8), 1.0, left, top)
    if ring is None:
        return None
    return Found(kind, ring, float(1 / (1 + np.exp(-evidence))))
