"""Pith: a narrow soft streak, long and steady along the grain."""

import cv2
import numpy as np

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import chance_from, regions_of
from vision.suggest.surface import Surface

__all__ = ["pith"]

_SHORTEST_MM = 60
_WIDEST_MM = 16
_BRIDGE_MM = 40  # pieces of one streak lie no farther apart


def pith(surface: Surface) -> list[Found]:
    """Candidates for pith on one stretch; none without the net: in colour alone it is like a dark ring."""
    chances = surface.chances
    if chances is None:
        return []
    chance = np.asarray(cv2.blur(chances["pith"], (15, 1)), dtype=np.float32)
    likely = (chance > 0.35).astype(np.uint8)
    mask = cv2.morphologyEx(likely, cv2.MORPH_CLOSE, np.ones((3, _BRIDGE_MM), np.uint8))
    found: list[Found] = []
    for region in regions_of(mask > 0, _SHORTEST_MM):
        if region.wide < _SHORTEST_MM or region.area / region.wide > _WIDEST_MM:
            continue
        said = float(np.percentile(region.of(chance), 60))
        evidence = 7.0 * (said - 0.6) + 0.9 * np.log2(region.wide / 120)
        ring = region.ring()
        if ring is not None:
            found.append(Found(DefectKind.PITH, ring, chance_from(evidence)))
    return found
