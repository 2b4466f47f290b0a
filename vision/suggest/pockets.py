"""Bark and resin pockets: short lens-shaped inclusions along the grain, dark or amber."""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import Region, chance_from, regions_of, sureness, within_share
from vision.suggest.surface import Surface

__all__ = ["pockets", "said_pockets", "witness"]

Plane = NDArray[np.float32]

_SAID_RIM, _SAID_LEAST_MM2 = 0.25, 10  # chance from which the net's regions are looked at
_SAID_SHARE = 0.5  # a pocket reaches as far as this share of its own greatest chance
# Worth of what `witness` says: a logistic fit with samples.training.weigh_marks to wider outlines, the first
# 0.75 stricter, and 0.2 more since they are narrower.
_WEIGHTS = np.array([0.11, 1.28, 0.66, -0.29, -0.22, 0.16])
_ROUND_MM = (1, 3)  # what lies so far outside a region is what it is darker than
_RIM = 2.0  # without the net: darkness in usual sizes of the neighbourhood's noise
_LEAST_MM2 = 12
_LEAST_L = 8.0
_STRETCH = (1.8, 9.0)  # length over height
_LONGEST_MM = 140
_BLACK = 0.5  # black is what is darker than this share of the clear grain's lightness
_GREY = 0.65  # of bark's darkest parts: less colour than this share of the clear grain's


def pockets(surface: Surface) -> list[Found]:
    """Candidates for bark and resin pockets on one stretch of board."""
    found: list[Found] = []
    for region, evidence in _weighed(surface):
        ring = region.ring()
        if ring is not None:
            kind = DefectKind.BARK_POCKET if _grey(surface, region) else DefectKind.RESIN_POCKET
            found.append(Found(kind, ring, chance_from(evidence)))
    return found


def _weighed(surface: Surface) -> Iterator[tuple[Region, float]]:
    """Regions with their log odds."""
    if surface.chances is None:
        yield from _plain(surface)
        return
    regions = list(said_pockets(surface))
    if regions:
        said, dark = surface.chances["pocket"], _darkness(surface, 1.0)
        yield from ((region, float(_WEIGHTS @ witness(region, said, dark))) for region in regions)


def said_pockets(surface: Surface) -> Iterator[Region]:
    """Where the net sees pockets."""
    if surface.chances is not None:
        said = surface.chances["pocket"]
        clouds = regions_of(said > _SAID_RIM, _SAID_LEAST_MM2)
        yield from regions_of(within_share(said, clouds, _SAID_SHARE), _SAID_LEAST_MM2)


def witness(region: Region, said: Plane, dark: Plane) -> NDArray[np.float64]:
    """What speaks for a pocket where the net saw one: its `sureness`, and how much darker than round it [L*].

    A pocket is another stuff than the wood beside it; a patch of plain grain is as dark as its neighbours.
    """
    reach = max(_ROUND_MM) + 1
    top, left = max(region.top - reach, 0), max(region.left - reach, 0)
    window = np.s_[top : region.top + region.high + reach, left : region.left + region.wide + reach]
    mask = np.zeros(dark[window].shape, np.uint8)
    inside = np.s_[region.top - top :, region.left - left :]
    mask[inside][: region.high, : region.wide] = region.patch
    near, far = (cv2.dilate(mask, np.ones((2 * mm + 1, 2 * mm + 1), np.uint8)) > 0 for mm in _ROUND_MM)
    ring = far & ~near
    beside = float(dark[window][ring].mean()) if ring.any() else 0.0
    return np.append(sureness(region, said), float(region.of(dark).mean()) - beside)


def _darkness(surface: Surface, blur: float) -> Plane:
    """Darkness against the clear grain, colour counted in [L*]."""
    dark = surface.darkness + 0.7 * surface.colour_shift * (surface.darkness > 0)
    return np.asarray(cv2.GaussianBlur(dark, (0, 0), blur), dtype=np.float32)


def _plain(surface: Surface) -> Iterator[tuple[Region, float]]:
    """From the background alone, which tells only black pockets from figure."""
    dark = _darkness(surface, 0.8)
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


def _grey(surface: Surface, region: Region) -> bool:
    """Whether what fills it has lost the wood's colour, as bark has; resin deepens it, however dark it is."""
    inside = region.of(surface.lab)
    darkest = inside[inside[:, 0] <= np.percentile(inside[:, 0], 30)].mean(axis=0)
    clear = region.of(surface.clear).mean(axis=0)
    return bool(np.hypot(*darkest[1:]) < _GREY * np.hypot(*clear[1:]))
