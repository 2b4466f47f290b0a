"""Bark and resin pockets: short lens-shaped inclusions along the grain, dark or amber."""

import cv2
import numpy as np

from layout.stock import DefectKind
from vision.suggest.found import Found, outline_of
from vision.suggest.surface import Surface

__all__ = ["pockets"]

_SEED, _RIM = 4.5, 2.0  # darkness in usual sizes of the neighbourhood's noise
_LEAST_L = 8.0
_STRETCH = (1.8, 9.0)  # length over height
_LONGEST_MM = 140
_BLACK = 0.5  # bark is darker than this share of the clear grain's lightness


def pockets(surface: Surface) -> list[Found]:
    """Candidates for bark and resin pockets on one stretch of board."""
    dark = surface.darkness + 0.7 * surface.colour_shift * (surface.darkness > 0)
    dark = np.asarray(cv2.GaussianBlur(dark, (0, 0), 0.8), dtype=np.float32)
    mask = dark > np.maximum(_RIM * surface.noise, _LEAST_L * 0.6)
    chances = surface.chances
    if chances is not None:
        mask = (mask & (chances["pocket"] > 0.15)) | (chances["pocket"] > 0.5)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=8)
    found: list[Found] = []
    for index in range(1, count):
        left, top, wide, high, area = (int(value) for value in stats[index])
        if area < 12 or wide > _LONGEST_MM or not _STRETCH[0] <= wide / high <= _STRETCH[1]:
            continue
        window = np.s_[top : top + high, left : left + wide]
        patch = labels[window] == index
        peak = float(np.percentile((dark[window] / surface.noise[window])[patch], 90))
        clear = float(surface.clear[window][..., 0][patch].mean())
        lightness = float(np.percentile(surface.lab[window][..., 0][patch], 30))
        if chances is None:
            black = lightness < _BLACK * clear  # without the net only black pockets are told from figure
            evidence = 0.6 * (peak - 7.0) + (0.5 if black else -2.0) + 0.4 * np.log2(area / 40)
        else:
            said = float(np.percentile(chances["pocket"][window][patch], 70))
            evidence = 7.0 * (said - 0.6) + 0.25 * (min(peak, 10.0) - 4.0) + 0.3 * np.log2(area / 40)
        kind = DefectKind.BARK_POCKET if lightness < _BLACK * clear else DefectKind.RESIN_POCKET
        ring = outline_of(patch.astype(np.uint8), 1.0, left, top)
        if ring is not None:
            found.append(Found(kind, ring, float(1 / (1 + np.exp(-evidence)))))
    return found
