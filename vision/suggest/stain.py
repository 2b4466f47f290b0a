"""Stain: clouds and streaks of a colour that is not the wood's own, blue or grey-green above all."""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import Region, chance_from, regions_of, sureness, within_share
from vision.suggest.surface import Surface

__all__ = ["said_stain", "stain"]

_SAID_RIM, _SAID_LEAST_MM2 = 0.25, 60  # chance from which the net's regions are looked at
_SAID_SHARE = 0.5  # a stain reaches as far as this share of its own greatest chance; what is fainter is doubt
# Worth of their `sureness`: a logistic fit to wider outlines, rounded; the first 0.5 stricter for these.
_WEIGHTS = np.array([1.6, 1.71, 0.72, -0.64, 0.03])
_LEAST_MM2 = 250
_LOST_YELLOW = 6.0  # blue stain takes so much yellow away [b*]
_DARKER = 3.0  # and so much light [L*]


def stain(surface: Surface) -> list[Found]:
    """Candidates for stain on one stretch of board."""
    found: list[Found] = []
    for region, evidence in _weighed(surface):
        ring = region.ring()
        if ring is not None:
            found.append(Found(DefectKind.STAIN, ring, chance_from(evidence)))
    return found


def _weighed(surface: Surface) -> Iterator[tuple[Region, float]]:
    """Regions with their log odds."""
    if surface.chances is None:
        yield from _plain(surface)
        return
    said = surface.chances["stain"]
    for region in said_stain(surface):
        yield region, float(_WEIGHTS @ sureness(region, said))


def said_stain(surface: Surface) -> Iterator[Region]:
    """Where the net sees stain."""
    if surface.chances is None:
        return
    said = surface.chances["stain"]
    likely = said > _SAID_RIM
    if not likely.any():
        return
    inside = within_share(said, regions_of(_opened(likely), _SAID_LEAST_MM2), _SAID_SHARE)
    yield from regions_of(_opened(inside), _SAID_LEAST_MM2)


def _opened(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Without threads that are thinner than two millimetres, or shorter than four.

    A window of even sides has no middle: grown from the same pixel of it that it was shrunk to, what stays
    would have moved by a millimetre.
    """
    window = np.ones((2, 4), np.uint8)
    return cv2.dilate(cv2.erode(mask.astype(np.uint8), window, anchor=(2, 1)), window, anchor=(1, 0)) > 0


def _plain(surface: Surface) -> Iterator[tuple[Region, float]]:
    """From the colour alone, which tells only blue stain from figure."""
    lab = np.asarray(cv2.GaussianBlur(surface.lab, (0, 0), 3.0), dtype=np.float32)
    wood = surface.wood
    middle = np.median(lab[wood] if wood.any() else lab.reshape(-1, 3), axis=0)
    lost, darker = middle[2] - lab[..., 2], middle[0] - lab[..., 0]
    blue = (lost > _LOST_YELLOW) & (darker > _DARKER) & (lost > 0.35 * darker) & _away_from_edge(wood)
    mask = cv2.morphologyEx(blue.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 5), np.uint8))
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 15), np.uint8))
    for region in regions_of(mask > 0, _LEAST_MM2):
        strength = float(region.of(lost).mean())
        yield region, 0.35 * (strength - 9.0) + 0.5 * float(np.log2(region.area / 600)) - 1.5


def _away_from_edge(wood: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Not in the shadow that lies along an edge."""
    padded = cv2.copyMakeBorder(wood.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT)
    inner = cv2.erode(padded, np.ones((9, 9), np.uint8))
    return np.asarray(inner[1:-1, 1:-1] > 0)
