"""Knots: compact places darker or redder than the clear grain, round which the grain turns aside.

Two witnesses: the background that clear grain would have, and the net. What the
net sees is believed as far as the background bears it out; what only the
background sees is kept, fainter, unless the net saw nothing at all there.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import Region, chance_from, regions_of
from vision.suggest.surface import Surface

__all__ = ["knots"]

Plane = NDArray[np.float32]

_SEED = 3.2  # darkness of a knot's middle, in usual sizes of the neighbourhood's noise
_RIM = 0.42  # the knot reaches out to this share of its own darkness
_LEAST_L = 5.0  # and never less than this [L*]
_REDNESS = 0.7  # worth of a step of colour beside one of lightness
_LONGEST = (
    5.0  # a knot is at most this many times longer along the grain than across (spike knots run across)
)
_PIN_MM = 5.0  # up to this size a knot is a pin knot (common practice)
_SMALLEST_MM2 = 4
_DEAD = 0.55  # a dead knot is darker than this share of the clear grain
_UNSAID, _UNSAID_SLOPE = -2.5, 8.0  # what it counts that the net saw no knot, and less so where it nearly did
_SAID_RIM, _SAID_SEED = 0.3, 0.35  # chance from which the net's regions are drawn, and taken up


def knots(surface: Surface) -> list[Found]:
    """Candidates for knots on one stretch of board, sound, dead and pin."""
    dark = surface.darkness + _REDNESS * surface.colour_shift * (surface.darkness > 0)
    dark = np.asarray(cv2.GaussianBlur(dark, (0, 0), 1.0), dtype=np.float32)
    plain = _dark_regions(surface, dark)
    if surface.chances is None:
        weighed = [(region, _plain_evidence(surface, region, dark)) for region in plain]
    else:
        said = surface.chances["knot"]
        seen = [r for r in regions_of(said > _SAID_RIM, _SMALLEST_MM2) if r.of(said).max() > _SAID_SEED]
        weighed = [(region, _evidence(surface, region, dark, said)) for region in seen]
        taken = said > _SAID_RIM
        for region in plain:
            if not region.of(taken).any():
                doubt = _UNSAID + _UNSAID_SLOPE * float(region.of(said).max())
                weighed.append((region, _plain_evidence(surface, region, dark) + doubt))
    found: list[Found] = []
    for region, evidence in weighed:
        ring = region.ring()
        if ring is not None:
            found.append(Found(_kind(surface, region), ring, chance_from(evidence)))
    return found


def _dark_regions(surface: Surface, dark: Plane) -> list[Region]:
    """Where the board is darker than its clear grain, each as far as a share of its own darkness reaches."""
    regions: list[Region] = []
    for whole in regions_of(dark > np.maximum(1.3 * surface.noise, _LEAST_L * 0.5), _SMALLEST_MM2, 4):
        rest = np.where(whole.patch, dark[whole.window], 0.0)
        noise = surface.noise[whole.window]
        for _ in range(4):  # a dark patch may hold several knots
            row, column = np.unravel_index(int(rest.argmax()), rest.shape)
            peak = float(rest[row, column])
            if peak < max(_SEED * float(noise[row, column]), _LEAST_L * 1.5):
                break
            _, labels = cv2.connectedComponents((rest > max(_RIM * peak, 0.8 * _LEAST_L)).astype(np.uint8))
            blob = labels == labels[row, column]
            rest[cv2.dilate(blob.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0] = 0
            region = _trimmed(blob, whole.left, whole.top)
            if region.area >= _SMALLEST_MM2 and region.wide <= _LONGEST * region.high:
                regions.append(region)
    return regions


def _trimmed(blob: NDArray[np.bool_], left: int, top: int) -> Region:
    rows, columns = np.flatnonzero(blob.any(axis=1)), np.flatnonzero(blob.any(axis=0))
    inside = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return Region(blob[inside], left + int(columns[0]), top + int(rows[0]))


def _plain_evidence(surface: Surface, region: Region, dark: Plane) -> float:
    """Log odds of a knot from the background alone."""
    contrast = float(region.of(dark).mean())
    noise = float(region.of(surface.noise).mean())
    fill = region.area / (region.high * region.wide)
    stretch = region.wide / region.high
    return float(
        1.5 * np.log2(max(contrast, 0.1) / (2.6 * noise))
        + 0.6 * np.log2(min(region.area, 150) / 25)
        - 1.3 * max(0.0, np.log2(stretch / 1.6))
        + 3.0 * (fill - 0.62)
        + 0.08 * (contrast - 12.0)
    )


def _evidence(surface: Surface, region: Region, dark: Plane, said: Plane) -> float:
    """Log odds of a knot where the net saw one, as far as the background bears it out."""
    peak = float(np.percentile(region.of(dark) / region.of(surface.noise), 90))
    sure = float(np.percentile(region.of(said), 75))
    return (
        8.0 * (sure - 0.6) + 0.3 * (min(peak, 9.0) - 4.0) + 0.3 * float(np.log2(min(region.area, 200) / 30))
    )


def _kind(surface: Surface, region: Region) -> DefectKind:
    if float(np.sqrt(region.high * region.wide)) <= _PIN_MM:
        return DefectKind.PIN_KNOT
    lightness = float(np.median(region.of(surface.lab)[:, 0]))
    clear = float(region.of(surface.clear)[:, 0].mean())
    return DefectKind.DEAD_KNOT if lightness < _DEAD * clear else DefectKind.SOUND_KNOT
