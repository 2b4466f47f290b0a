"""Bark and resin pockets: short lens-shaped inclusions along the grain, dark or amber."""

import cv2
import numpy as np

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import chance_from, regions_of
from vision.suggest.surface import Surface

__all__ = ["pockets"]

_RIM = 2.0  # darkness in usual sizes of the neighbourhood's noise
_LEAST_MM2 = 12
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
    found: list[Found] = []
    for region in regions_of(mask, _LEAST_MM2):
        if region.wide > _LONGEST_MM or not _STRETCH[0] <= region.wide / region.high <= _STRETCH[1]:
            continue
        peak = float(np.percentile(region.of(dark) / region.of(surface.noise), 90))
        lightness = float(np.percentile(region.of(surface.lab)[:, 0], 30))
        black = lightness < _BLACK * float(region.of(surface.clear)[:, 0].mean())
        size = np.log2(region.area / 40)
        if chances is None:  # without the net only black pockets are told from figure
            evidence = 0.6 * (peak - 7.0) + (0.5 if black else -2.0) + 0.4 * size
        else:
            said = float(np.percentile(region.of(chances["pocket"]), 70))
            evidence = 7.0 * (said - 0.6) + 0.25 * (min(peak, 10.0) - 4.0) + 0.3 * size
        ring = region.ring()
        if ring is not None:
            kind = DefectKind.BARK_POCKET if black else DefectKind.RESIN_POCKET
            found.append(Found(kind, ring, chance_from(evidence)))
    return found
