"""Pith: a narrow soft streak, long and steady along the grain."""

import cv2
import numpy as np

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import Region, chance_from, log_odds, regions_of
from vision.suggest.surface import Surface

__all__ = ["pith"]

_SHORTEST_MM = 60
_WIDEST_MM = 16
_BRIDGE_MM = 40  # pieces of one streak lie no farther apart
_BESIDE_MM = 10  # how dark a streak is, is told against the wood so far to either side
# Worth of: one, log odds of the net's 75 % chance, share of the stretch that it runs along, how much
# darker than the wood beside it [L*]. A logistic fit, rounded: a mineral streak looks like it but ends.
_WEIGHTS = np.array([-4.21, 0.14, 4.31, 0.18])


def pith(surface: Surface) -> list[Found]:
    """Candidates for pith on one stretch; none without the net: in colour alone it is like a dark ring."""
    chances = surface.chances
    if chances is None:
        return []
    chance = np.asarray(cv2.blur(chances["pith"], (15, 1)), dtype=np.float32)
    likely = (chance > 0.3).astype(np.uint8)
    mask = cv2.morphologyEx(likely, cv2.MORPH_CLOSE, np.ones((3, _BRIDGE_MM), np.uint8))
    found: list[Found] = []
    for region in regions_of(mask > 0, _SHORTEST_MM):
        if region.wide < _SHORTEST_MM or region.area / region.wide > _WIDEST_MM:
            continue
        sure = log_odds(float(np.percentile(region.of(chance), 75)))
        share = region.wide / surface.wood.shape[1]
        said = np.array([1.0, sure, share, _darker(surface, region)])
        ring = region.ring()
        if ring is not None:
            found.append(Found(DefectKind.PITH, ring, chance_from(float(_WEIGHTS @ said))))
    return found


def _darker(surface: Surface, region: Region) -> float:
    lightness = surface.lab[..., 0]
    top, low = max(0, region.top - _BESIDE_MM), region.top + region.high + _BESIDE_MM
    beside = lightness[top:low, region.left : region.left + region.wide]
    return float(np.median(beside) - np.median(region.of(lightness)))
