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
from vision.suggest.regions import Region, chance_from, log_odds, peaks_in, regions_of
from vision.suggest.surface import Surface

__all__ = ["knots", "knotty_darkness", "said_knots", "witness"]

Plane = NDArray[np.float32]

_SEED = 3.2  # darkness of a knot's middle, in usual sizes of the neighbourhood's noise
_RIM = 0.42  # the knot reaches out to this share of its own darkness
_LEAST_L = 5.0  # and never less than this [L*]
_REDNESS = 0.7  # worth of a step of colour beside one of lightness
_LONGEST = 5.0  # a knot is at most this many times longer along the grain than across (spikes run across)
_PIN_MM = 5.0  # up to this size a knot is a pin knot (common practice)
_SMALLEST_MM2 = 4
_DEAD = 0.55  # a dead knot is darker than this share of the clear grain
_SAID_RIM, _SAID_SEED = 0.25, 0.3  # chance from which the net's regions are drawn, and taken up
_SAID_SHARE, _SAID_SECOND = 0.65, 0.85  # a knot reaches to this share of its peak; rank of a second one
# Worth of what `witness` says: three quarters the fit of samples.training.weigh_marks, one quarter the rule
# before it, which ranked knots of the scans better; a quarter surer either way, as marks of knots above
# a half were nearly all right on woods the net had not seen, and their doubt kept others from being shown;
# the first 0.15 stricter; then 0.2 less so, as the weights since are less sure of themselves.
_WEIGHTS = np.array([-1.55, 1.54, 1.51, -0.11, 0.14, 0.43])
# Log odds where only the background speaks, by the net's greatest chance there:
_UNSAID, _UNSAID_SLOPE = -5.0, 14.0


def knots(surface: Surface) -> list[Found]:
    """Candidates for knots on one stretch of board, sound, dead and pin."""
    dark = knotty_darkness(surface)
    plain = _dark_regions(surface, dark)
    if surface.chances is None:
        weighed = [(region, _plain_evidence(surface, region, dark)) for region in plain]
    else:
        said = surface.chances["knot"]
        weighed = [
            (region, float(_WEIGHTS @ witness(surface, region, dark, said))) for region in said_knots(said)
        ]
        taken = said > _SAID_RIM
        for region in plain:
            if not region.of(taken).any():
                weighed.append((region, _UNSAID + _UNSAID_SLOPE * float(region.of(said).max())))
    found: list[Found] = []
    for region, evidence in weighed:
        ring = region.ring()
        if ring is not None:
            found.append(Found(_kind(surface, region, dark), ring, chance_from(evidence)))
    return found


def knotty_darkness(surface: Surface) -> Plane:
    """Darkness against the clear grain, redness counted in [L*]."""
    dark = surface.darkness + _REDNESS * surface.colour_shift * (surface.darkness > 0)
    return np.asarray(cv2.GaussianBlur(dark, (0, 0), 1.0), dtype=np.float32)


def _dark_regions(surface: Surface, dark: Plane) -> list[Region]:
    """Where the board is darker than its clear grain."""
    rim = np.maximum(1.3 * surface.noise, _LEAST_L * 0.5)
    seed = np.maximum(_SEED * surface.noise, _LEAST_L * 1.5).astype(np.float32)
    peaks = (
        region
        for whole in regions_of(dark > rim, _SMALLEST_MM2, 4)
        for region in peaks_in(whole, dark, share=_RIM, least=0.8 * _LEAST_L, seed=seed)
    )
    return [
        region for region in peaks if region.area >= _SMALLEST_MM2 and region.wide <= _LONGEST * region.high
    ]


def said_knots(said: Plane) -> list[Region]:
    """Where the net sees knots; two that touch are parted where its chance sinks between them."""
    peaks = (
        region
        for whole in regions_of(said > _SAID_RIM, _SMALLEST_MM2)
        for region in peaks_in(
            whole, said, share=_SAID_SHARE, least=_SAID_RIM, seed=_SAID_SEED, second=_SAID_SECOND, most=3
        )
    )
    return [region for region in peaks if region.area >= _SMALLEST_MM2]


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
        + 0.08 * (contrast - 14.5)
    )


def witness(surface: Surface, region: Region, dark: Plane, said: Plane) -> NDArray[np.float64]:
    """What speaks for a knot where the net saw one.

    One, log odds of its 75 % and greatest chance, log2 mm2, darkness in usual sizes, and
    the share that is at least half as dark as the darkest.
    """
    depth, inside = region.of(dark), region.of(said)
    peak = min(float(np.percentile(depth / region.of(surface.noise), 90)), 9.0)
    core = float((depth > 0.5 * depth.max()).mean())
    sure = log_odds(float(np.percentile(inside, 75)))
    return np.array([1.0, sure, log_odds(float(inside.max())), np.log2(region.area), peak, core])


def _kind(surface: Surface, region: Region, dark: Plane) -> DefectKind:
    inside = region.of(dark)
    core = int((inside > 0.5 * inside.max()).sum())  # small outlines are generous; the dark of a knot is not
    if float(np.sqrt(4 / np.pi * core)) <= _PIN_MM:
        return DefectKind.PIN_KNOT
    lightness = float(np.median(region.of(surface.lab)[:, 0]))
    clear = float(region.of(surface.clear)[:, 0].mean())
    return DefectKind.DEAD_KNOT if lightness < _DEAD * clear else DefectKind.SOUND_KNOT
