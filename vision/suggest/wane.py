"""Wane: bark, or the dark rough slope it leaves, along an edge of the board."""

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import chance_from, median_of, regions_of
from vision.suggest.surface import Surface

__all__ = ["wane"]

_DARKER = 0.62  # bark is darker than this share of the board's lightness ...
_FARTHER = 16.0  # ... or so far off in colour [a*b*]
_LEAST_DEEP_MM = 4  # less is what the corners may be off by, or a strip of bench
_LEAST_LONG_MM = 40
_LEAST_STEP_MM = 25


def wane(surface: Surface) -> list[Found]:
    """Candidates for wane along both edges of one stretch."""
    wood, planes = surface.wood, cv2.split(surface.lab)
    looked_at = wood if wood.any() and not wood.all() else np.s_[:]
    light, red, yellow = (median_of(plane[looked_at]) for plane in planes)
    off = (planes[1] - red) ** 2 + (planes[2] - yellow) ** 2
    bark = (planes[0] < _DARKER * light) | (off > _FARTHER**2)
    chances = surface.chances
    if chances is not None:
        bark |= chances["wane"] > 0.6
    closed = cv2.morphologyEx((bark | ~wood).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 9), np.uint8)) > 0
    mask = _from_edge(closed) | _from_edge(closed[::-1])[::-1]
    mask &= wood
    # A strip of bench beyond an end that is not square reaches in from the edge too, but is short along it.
    mask = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, np.ones((1, _LEAST_STEP_MM))) > 0
    found: list[Found] = []
    for region in regions_of(mask, _LEAST_LONG_MM * _LEAST_DEEP_MM):
        deep = region.area / region.wide
        if region.wide < _LEAST_LONG_MM or deep < _LEAST_DEEP_MM or region.wide < 1.5 * region.high:
            continue
        evidence = min(0.8 * np.log2(region.wide / 60), 2.0) + 0.5 * (min(deep, 10.0) - 5.0)
        said = 0.4 if chances is None else float(region.of(chances["wane"]).mean())
        evidence += 10.0 * (said - 0.5)  # a strip of bench is as dark; only the net knows bark
        ring = region.ring()
        if ring is not None:
            found.append(Found(DefectKind.WANE, ring, chance_from(evidence)))
    return found


def _from_edge(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The part of a mask that reaches down from the first row without a gap."""
    depth = np.where(mask.all(axis=0), 0, np.argmin(mask, axis=0))
    return np.asarray(np.arange(mask.shape[0])[:, None] < depth[None, :])
