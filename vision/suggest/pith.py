"""Pith: a narrow soft streak, long and steady along the grain."""

import cv2
import numpy as np

from layout.stock import DefectKind
from vision.suggest.found import Found, outline_of
from vision.suggest.surface import Surface

__all__ = ["pith"]

_SHORTEST_MM = 60
_WIDEST_MM = 16
_FRAME_MM = 40


def pith(surface: Surface) -> list[Found]:
    """Candidates for pith on one stretch; none without the net: in colour alone it is like a dark ring."""
    chances = surface.chances
    if chances is None:
        return []
    chance = cv2.blur(chances["pith"], (15, 1))
    mask = cv2.morphologyEx(
        (chance > 0.35).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, _FRAME_MM), np.uint8)
    )
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    found: list[Found] = []
    for index in range(1, count):
        left, top, wide, high, area = (int(value) for value in stats[index])
        if wide < _SHORTEST_MM or area / wide > _WIDEST_MM:
            continue
        window = np.s_[top : top + high, left : left + wide]
        patch = labels[window] == index
        said = float(np.percentile(chance[window][patch], 60))
        evidence = 7.0 * (said - 0.6) + 0.9 * np.log2(wide / 120)
        ring = outline_of(patch.astype(np.uint8), 1.0, left, top)
        if ring is not None:
            found.append(Found(DefectKind.PITH, ring, float(1 / (1 + np.exp(-evidence)))))
    return found
