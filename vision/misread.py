"""Whether a width may be misread: each is left out in turn, and what the rest says of it held against it.

A wrong width at an end leans the camera, one in the middle bends the lens: the picture fits either, and its
places are off along the board by three times as much or more. What gives it away is that sawn boards are
nearly straight and that further widths lie on the same edges.
"""

from dataclasses import replace
from math import hypot
from typing import NamedTuple

import numpy as np

from vision.adjust import Adjusted, adjusted
from vision.evidence import Evidence

__all__ = ["LeftOut", "misread", "unseen", "widths_left_out"]

_BESIDE = 2.5  # standard deviations that a right reading seldom lies beside what the rest says
_LEAST_MM = 2.0  # less is no misreading worth a word
_TELLS = 4  # widths, with which the rest says which one is wrong
_GROWN_MM = 30.0
_SURE_OF_GROWN, _SHOWS_MM = 5, 5.0  # so many widths of a waney board tell of one misread by so much
_GRID = 21


class LeftOut(NamedTuple):
    """A width, and what everything else says of it.

    Parameters
    ----------
    number : int
        Which of the readings.
    off_mm, spread_mm : float
        What was read less what the rest says, and how well that is known, one standard deviation.
    moves_mm : float
        How far the board's places move along it where the reading is left out.
    """

    number: int
    off_mm: float
    spread_mm: float
    moves_mm: float

    @property
    def beside(self) -> float:
        """How many standard deviations it lies beside the rest."""
        return abs(self.off_mm) / self.spread_mm


def misread(evidence: Evidence, made: Adjusted) -> str | None:
    """One sentence about widths that do not lie as a board's do, and what to do; None where all agree.

    Parameters
    ----------
    evidence : Evidence
    made : Adjusted
        What it was adjusted to.
    """
    tried = widths_left_out(evidence, made)
    odd = [one for one in tried if one.beside > _BESIDE and abs(one.off_mm) > _LEAST_MM]
    return _told(evidence, max(odd, key=lambda one: one.beside), tried) if odd else None


def unseen(evidence: Evidence, made: Adjusted) -> str | None:
    """One sentence where a waney board has too few widths for a misread one to show; None where it would.

    Parameters
    ----------
    evidence : Evidence
    made : Adjusted
        What it was adjusted to.
    """
    count = len(evidence.across_px)
    if not 0 < count < _SURE_OF_GROWN:
        return None
    if max(one.spread_mm for one in widths_left_out(evidence, made)) * _BESIDE <= _SHOWS_MM:
        return None
    return (
        f"one of {count} widths of a waney board misread by {_SHOWS_MM:g} mm would not show: read two more, "
        "at a quarter and at three quarters of the length"
    )


def _told(evidence: Evidence, worst: LeftOut, tried: list[LeftOut]) -> str:
    x, width = evidence.readings.widths[worst.number]
    if len(tried) >= _TELLS:
        return (
            f"the width read as {width:g} mm at {x or 0.0:.0f} mm is seen as {width - worst.off_mm:.0f} mm "
            "by everything else; read it again"
        )
    off = f"if one is misread, places are off by up to {max(one.moves_mm for one in tried):.0f} mm"
    if len(tried) == _TELLS - 1:
        against = "and the picture do not agree" if evidence.across_px else "do not lie on straight edges"
        return (
            f"the three widths read {against}, by {abs(worst.off_mm):.0f} mm; {off}: read them again, or two "
            "more, at a quarter and at three quarters of the length"
        )
    return (
        f"by the two widths read the board tapers by {abs(worst.off_mm):.0f} mm; {off}: read them again, or "
        "a third in the middle"
    )


def widths_left_out(evidence: Evidence, made: Adjusted) -> list[LeftOut]:
    """Each width in turn left out; nothing of a single width, nor where no edge is seen.

    Parameters
    ----------
    evidence : Evidence
    made : Adjusted
        What it was adjusted to with all of them.
    """
    widths = evidence.readings.widths
    followed = bool(evidence.across_px) or any(edge is not None for edge in evidence.edges_px[::2])
    if len(widths) < 2 or not followed or any(x is None for x, _ in widths):
        return []
    return [_left_out(evidence, made, number) for number in range(len(widths))]


def _left_out(evidence: Evidence, made: Adjusted, number: int) -> LeftOut:
    readings = evidence.readings
    rest = tuple(one for i, one in enumerate(readings.widths) if i != number)
    seen = tuple(one for i, one in enumerate(evidence.across_px) if i != number)
    # Edges as they grew bow as they like: widths there tell of the camera alone.
    bows = _GROWN_MM if evidence.across_px else readings.straight_mm
    fewer = replace(readings, widths=rest, straight_mm=bows)
    other = adjusted(replace(evidence, readings=fewer, across_px=seen))
    x, width = readings.widths[number]
    if evidence.across_px:
        upper, lower, _ = evidence.across_px[number]
        said, spread = other.apart_across(upper, lower)
        spread = hypot(spread, evidence.across_mm)
    else:
        said, spread = other.width_at(x or 0.0)
        spread = hypot(spread, readings.rule_mm)
    stations = np.linspace(0.0, readings.length, _GRID)
    grid = np.stack(np.meshgrid(stations, [0.0, readings.width]), axis=-1)
    moved = other.frame.to_mm(made.frame.to_px(grid)) - grid
    return LeftOut(number, width - said, spread, float(np.abs(moved[..., 0]).max()))
