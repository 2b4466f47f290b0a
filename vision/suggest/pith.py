"""Pith: a narrow soft streak, long and steady along the grain."""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import Region, chance_from, log_odds, regions_of
from vision.suggest.surface import Surface

__all__ = ["pith", "said_pith"]

_SHORTEST_MM = 40
_WIDEST_MM = 16
_BRIDGE_MM = 40  # pieces of one streak lie no farther apart
_APART_MM = 12  # streaks farther apart than this are not one
# Worth of: one, log odds of the net's 75 % chance, share of the stretch that it runs along, how many more
# such streaks there are, at most three. A logistic fit, rounded: a board has one pith; mineral streaks come
# in numbers, and end.
_WEIGHTS = np.array([-0.72, 0.82, 1.87, -2.19])


def pith(surface: Surface) -> list[Found]:
    """Candidates for pith on one stretch; none without the net: in colour alone it is like a dark ring."""
    found: list[Found] = []
    for streak, said in said_pith(surface):
        ring = streak.ring()
        if ring is not None:
            found.append(Found(DefectKind.PITH, ring, chance_from(float(_WEIGHTS @ said))))
    return found


def said_pith(surface: Surface) -> Iterator[tuple[Region, NDArray[np.float64]]]:
    """Streaks in which the net sees pith, and what `_WEIGHTS` weigh."""
    chances = surface.chances
    if chances is None:
        return
    chance = np.asarray(cv2.blur(chances["pith"], (15, 1)), dtype=np.float32)
    likely = (chance > 0.3).astype(np.uint8)
    if not likely.any():
        return
    mask = cv2.morphologyEx(likely, cv2.MORPH_CLOSE, np.ones((3, _BRIDGE_MM), np.uint8))
    streaks = [
        region
        for region in regions_of(mask > 0, _SHORTEST_MM)
        if region.wide >= _SHORTEST_MM and region.area / region.wide <= _WIDEST_MM
    ]
    for streak in streaks:
        more = sum(abs(_middle(other) - _middle(streak)) > _APART_MM for other in streaks)
        sure = log_odds(float(np.percentile(streak.of(chance), 75)))
        yield streak, np.array([1.0, sure, streak.wide / surface.wood.shape[1], min(more, 3)])


def _middle(region: Region) -> float:
    return region.top + region.high / 2
