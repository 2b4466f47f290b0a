"""Wane: bark, or the dark rough slope it leaves, along an edge of the board."""

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found, outline_of
from vision.suggest.surface import Surface

__all__ = ["wane"]

_DARKER = 0.62  # bark is darker than this share of the board's lightness ...
_FARTHER = 16.0  # ... or so far off in colour [a*b*]
_LEAST_DEEP_MM = 3
_LEAST_LONG_MM = 40


def wane(surface: Surface) -> list[Found]:
    """Candidates for wane along both edges of one stretch."""
    lab, wood = surface.lab, surface.wood
    middle = np.median(lab[wood] if wood.any() else lab.reshape(-1, 3), axis=0)
    bark = (lab[..., 0] < _DARKER * middle[0]) | (
        np.hypot(*(lab - middle)[..., 1:].transpose(2, 0, 1)) > _FARTHER
    )
    chances = surface.chances
    if chances is not None:
        bark = (bark & (chances["wane"] > 0.2)) | (chances["wane"] > 0.6)
    closed = cv2.morphologyEx((bark | ~wood).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 9), np.uint8)) > 0
    mask = _from_edge(closed) | _from_edge(closed[::-1])[::-1]
    mask &= wood
    found: list[Found] = []
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    for index in range(1, count):
        left, top, wide, high, area = (int(value) for value in stats[index])
        deep = area / wide
        if wide < _LEAST_LONG_MM or deep < _LEAST_DEEP_MM or wide < 1.5 * high:
            continue
        patch = labels[top : top + high, left : left + wide] == index
        evidence = 0.8 * np.log2(wide / 60) + 0.5 * (deep - 5.0)
        if chances is not None:
            said = chances["wane"][top : top + high, left : left + wide][patch]
            evidence += 6.0 * (float(said.mean()) - 0.5)
        else:
            evidence -= 0.5
        ring = outline_of(patch.astype(np.uint8), 1.0, left, top)
        if ring is not None:
            found.append(Found(DefectKind.WANE, ring, float(1 / (1 + np.exp(-evidence)))))
    return found


def _from_edge(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The part of a mask that reaches down from the first row without a gap."""
    depth = np.where(mask.all(axis=0), 0, np.argmin(mask, axis=0))
    return np.asarray(np.arange(mask.shape[0])[:, None] < depth[None, :])
