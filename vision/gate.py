"""Whether a photograph's own edges may correct its lens: only so far that they seldom make it worse."""

from dataclasses import replace
from math import copysign, hypot, sqrt

import numpy as np

from vision.adjust import Adjusted, adjusted
from vision.evidence import Evidence, Readings
from vision.lens import LensPrior

__all__ = ["gated"]

# Chosen on made boards, three in five bowed by 0.5 to 3 mm in one edge or in both by themselves, and on
# the rendered bench photos. With a doubt of 2 none of 80 made boards becomes worse by more than the little,
# but the median one is true to 2.7 mm, with 0.7 to 1.7 mm (left alone 3.9 mm); six become worse.
_DOUBT = 0.7  # standard deviations beyond which 1 of 4 lies on one side
_TICKS = 3
_OWN_BOW = 1.33  # of an edge that knows nothing of the other, over that of both together
_LITTLE_MM = 0.25  # by so much a corrected lens may make a picture worse


def gated(evidence: Evidence) -> tuple[Adjusted, bool, LensPrior]:
    """The adjustment, whether the lens term was let move, and the lens as the photograph leaves it known.

    It moves only so far that it seldom makes the picture worse. Let the edges, taken to
    bow each by itself and farther than most do, say m +- s of the lens term beyond what was
    known of it: moved by c <= m, the picture is worse than unmoved, by more than a little,
    only if the truth is below c/2 less half that little, and that shall be less likely than 1 in 4
    even for edges that bow so far, which few do::

        0 ------- c/2 -- m - 0.7 s ------- m        c = 2 (m - 0.7 s) + the little

    Where three ticks or a marker sheet tell of the lens, its edges are not what it is told by.
    """
    free = adjusted(evidence)
    if len(evidence.readings.ticks) >= _TICKS or evidence.sheets:
        return free, True, free.lens
    doubting = adjusted(_doubted(evidence))
    known = evidence.prior.lens.k1
    moved, spread = free.values["k1"] - known, doubting.spreads["k1"]
    told = (doubting.values["k1"] - known) * copysign(1.0, moved)
    sure = 2 * (told - _DOUBT * spread)
    if sure >= abs(moved):
        return free, True, free.lens
    per_unit = _apart(free, adjusted(evidence, hold_k1=True), evidence.readings) / max(abs(moved), 1e-9)
    part = min(abs(moved), max(0.0, sure) + _LITTLE_MM / max(per_unit, 1e-9))
    if part >= abs(moved):
        return free, True, free.lens
    left = hypot(spread, abs(moved) - part)
    made = adjusted(evidence, k1=known + copysign(part, moved), k1_doubt=left)
    return made, part > 0.5 * abs(moved), free.lens


def _doubted(evidence: Evidence) -> Evidence:
    """The same, but either edge bows by itself, and farther than most boards' edges do."""
    readings = evidence.readings
    bows = replace(readings, straight_mm=_OWN_BOW / sqrt(2.0) * readings.straight_mm, alike=2.0)
    return replace(evidence, readings=bows)


def _apart(one: Adjusted, other: Adjusted, readings: Readings) -> float:
    """How far two adjustments lay the same places of the board apart, 95 % of them [mm]."""
    grid = np.stack(
        np.meshgrid(np.linspace(0, readings.length, 21), np.linspace(0, readings.width, 3)), axis=-1
    )
    moved = other.frame.to_mm(one.frame.to_px(grid)) - grid
    return float(np.percentile(np.hypot(moved[..., 0], moved[..., 1]), 95))
