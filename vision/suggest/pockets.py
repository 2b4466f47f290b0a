"""Bark and resin pockets: short lens-shaped inclusions along the grain, dark or amber."""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import Region, chance_from, regions_of, sureness
from vision.suggest.surface import Surface

__all__ = ["pockets", "said_pockets"]

_SAID_RIM, _SAID_LEAST_MM2 = 0.25, 10  # chance from which the net's regions are drawn
_WEIGHTS = np.array([1.49, 0.98, 0.91, -0.12, -0.17])  # worth of their `sureness`: a logistic fit, rounded
_RIM = 2.0  # without the net: darkness in usual sizes of the neighbourhood's noise
_LEAST_MM2 = 12
_LEAST_L = 8.0
_STRETCH = (1.8, 9.0)  # length over height
_LONGEST_MM = 140
_BLACK = 0.5  # bark is darker than this share of the clear grain's lightness


def pockets(surface: Surface) -> list[Found]:
    """Candidates for bark and resin pockets on one stretch of board."""
    found: list[Found] = []
    for region, evidence in _weighed(surface):
        ring = region.ring()
        if ring is not None:
            kind = DefectKind.BARK_POCKET if _black(surface, region) else DefectKind.RESIN_POCKET
            found.append(Found(kind, ring, chance_from(evidence)))
    return found


def _weighed(surface: Surface) -> Iterator[tuple[Region, float]]:
    """Regions with their log odds."""
    if surface.chances is None:
        yield from _plain(surface)
        return
    said = surface.chances["pocket"]
    for region in said_pockets(surface):
        yield region, float(_WEIGHTS @ sureness(region, said))


def said_pockets(surface: Surface) -> Iterator[Region]:
    """Where the net sees pockets."""
    if surface.chances is not None:
        yield from regions_of(surface.chances["pocket"] > _SAID_RIM, _SAID_LEAST_MM2)


def _plain(surface: Surface) -> Iterator[tuple[Region, float]]:
    """From the background alone, which tells only black pockets from figure."""
    dark = surface.darkness + 0.7 * surface.colour_shift * (surface.darkness > 0)
    dark = np.asarray(cv2.GaussianBlur(dark, (0, 0), 0.8), dtype=np.float32)
    mask: NDArray[np.bool_] = dark > np.maximum(_RIM * surface.noise, _LEAST_L * 0.6)
    for region in regions_of(mask, _LEAST_MM2):
        if region.wide > _LONGEST_MM or not _STRETCH[0] <= region.wide / region.high <= _STRETCH[1]:
            continue
        peak = float(np.percentile(region.of(dark) / region.of(surface.noise), 90))
        black = 0.5 if _black(surface, region) else -2.0
        yield region, 0.6 * (peak - 7.0) + black + 0.4 * float(np.log2(region.area / 40))


def _black(surface: Surface, region: Region) -> bool:
    lightness = float(np.percentile(region.of(surface.lab)[:, 0], 30))
    return lightness < _BLACK * float(region.of(surface.clear)[:, 0].mean())
