"""Whether a photograph's own edges may correct its lens: only so far that they seldom make it worse."""

from collections.abc import Sequence
from dataclasses import replace
from math import copysign, hypot, sqrt
from typing import NamedTuple

import numpy as np

from vision.adjust import Adjusted, adjusted
from vision.evidence import Evidence, Readings
from vision.lens import LensPrior, pooled

__all__ = ["WIDTHS", "Gated", "gated", "told_by_others"]

WIDTHS = 3
"""Widths read along a board that tell its own bow from the lens's."""

# Chosen on made boards, three in five bowed by 0.5 to 3 mm in one edge or in both by themselves, and on
# the rendered bench photos. A doubt of 2 makes no board worse by more than the little. While nobody has read
# a width between the ends it would cost too much: the median board is true to 2.1 mm, with 0.7 to 1.6 mm
# (left alone 3.5 mm), though 8 of 220 become worse. With that width the larger doubt costs 0.1 mm.
_DOUBT = 0.7  # standard deviations beyond which 1 of 4 lies on one side
_NO_DOUBT_LEFT = 2.0  # beyond which 1 of 40 does
_TICKS = 3
_OWN_BOW = 1.33  # of an edge that knows nothing of the other, over that of both together
_LITTLE_MM = 0.25  # by so much a corrected lens may make a picture worse


class Gated(NamedTuple):
    """An adjustment whose lens term was let move as far as seemed right.

    Parameters
    ----------
    made : Adjusted
    learnt : bool
        Whether the lens term was let move by more than half.
    lens : LensPrior
        The lens as the photograph leaves it known, its edges taken to bow farther than most do.
    bow_alike : bool
        Whether the lens term was moved, by more than a little, for what may be a bow of the board: nobody has
        read its width between its ends.
    """

    made: Adjusted
    learnt: bool
    lens: LensPrior
    bow_alike: bool = False


def gated(evidence: Evidence) -> Gated:
    """The adjustment with the lens term moved only so far that it seldom makes the picture worse.

    Let the edges, taken to bow each by itself and farther than most do, say m +- s of the lens term beyond
    what was known of it: moved by c <= m, the picture is worse than unmoved, by more than a little,
    only if the truth is below c/2 less half that little, and that shall be less likely than 1 in 4
    even for edges that bow so far, which few do::

        0 ------- c/2 -- m - 0.7 s ------- m        c = 2 (m - 0.7 s) + the little

    and less likely than 1 in 40, with 2 s, where three widths tell how far the edges bow apart: then it never
    was on hundreds of made boards. Where three ticks or a marker sheet tell of the lens, its edges are not
    what it is told by.
    """
    free, readings = adjusted(evidence), evidence.readings
    if len(readings.ticks) >= _TICKS or evidence.sheets:
        return Gated(free, True, free.lens)
    doubting = adjusted(_doubted(evidence))
    known = evidence.prior.lens.k1
    moved, spread = free.values["k1"] - known, doubting.spreads["k1"]
    told = (doubting.values["k1"] - known) * copysign(1.0, moved)
    by_edges = any(edge is not None for edge in evidence.edges_px[::2])
    told_apart = by_edges and len(readings.widths) >= WIDTHS
    sure = 2 * (told - (_NO_DOUBT_LEFT if told_apart else _DOUBT) * spread)
    per_unit = _apart(free, adjusted(evidence, hold_k1=True), readings) / max(abs(moved), 1e-9)
    little = _LITTLE_MM / max(per_unit, 1e-9)
    part = abs(moved) if sure >= abs(moved) else min(abs(moved), max(0.0, sure) + little)
    harmless = max(0.0, 2 * (told - _NO_DOUBT_LEFT * spread)) + little
    alike = by_edges and not told_apart and part > 1.01 * harmless
    if part >= abs(moved):
        return Gated(free, True, doubting.lens, alike)
    left = hypot(spread, abs(moved) - part)
    made = adjusted(evidence, k1=known + copysign(part, moved), k1_doubt=left)
    return Gated(made, part > 0.5 * abs(moved), doubting.lens, alike)


def told_by_others(before: LensPrior, seen: Sequence[LensPrior]) -> LensPrior:
    """What other photographs by the same phone say of its lens, moved only so far that it hardly ever harms.

    Their boards may all bow as well: pooled and believed at once, what one other photograph said made
    13 of 60 made boards worse, and what four said 9; moved as `gated` does where no doubt is left, none.

    Parameters
    ----------
    before : LensPrior
        What each of them started from.
    seen : sequence of LensPrior
        What each said, alone, at this picture's size.
    """
    told = pooled(before, seen)
    moved = told.lens.k1 - before.lens.k1
    part = min(abs(moved), max(0.0, 2 * (abs(moved) - _NO_DOUBT_LEFT * told.k1_spread)))
    lens = replace(told.lens, k1=before.lens.k1 + copysign(part, moved))
    return replace(told, lens=lens, k1_spread=hypot(told.k1_spread, abs(moved) - part))


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
