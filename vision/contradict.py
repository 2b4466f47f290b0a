"""Which reading does not agree with the rest, and by how much: each is left out in turn."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from vision.adjust import Adjusted, adjusted
from vision.evidence import Evidence
from vision.misread import misread
from vision.shape import bend

__all__ = ["contradiction"]

_DOUBTFUL = 2.0  # spread of the residuals over what was expected, beyond which the readings contradict
_SETTLED = 0.6  # part of it that is left once the right one is left out
_LOOSE_PX = 60.0  # corners that are hardly believed
_LEAST_MM = 3.0  # by which a reading is off that is named
_LEAST_WIDTHS = 3  # with fewer each is as likely wrong as the other


def contradiction(evidence: Evidence, made: Adjusted) -> str | None:
    """One sentence about what contradicts the rest, and what to do; None where all agree.

    Parameters
    ----------
    evidence : Evidence
    made : Adjusted
        What it was adjusted to.
    """
    if made.misfit <= _DOUBTFUL:  # a lens or a leaning camera may still hide a width misread
        return misread(evidence, made)
    tried = [(adjusted(other), what, number) for what, number, other in _without_one(evidence)]
    for best, what, number in sorted(tried, key=lambda one: one[0].misfit):
        said = _told(evidence, best, what, number) if best.misfit < _SETTLED * made.misfit else None
        if said is not None:
            return said
    return "the readings and the picture do not agree; measure again and check the corners"


def _without_one(evidence: Evidence) -> Iterator[tuple[str, int, Evidence]]:
    """The evidence with the corners hardly believed, and without each width and each tick."""
    readings = evidence.readings
    yield "corners", 0, replace(evidence, corner_px=_LOOSE_PX)
    for i, (x, width) in enumerate(readings.widths if len(readings.widths) >= _LEAST_WIDTHS else ()):
        rest = tuple(one for j, one in enumerate(readings.widths) if j != i)
        seen = tuple(one for j, one in enumerate(evidence.across_px) if j != i)
        if x is not None and width > 0:
            yield "width", i, replace(evidence, readings=replace(readings, widths=rest), across_px=seen)
    for i in range(len(readings.ticks)):
        ticks = tuple(one for j, one in enumerate(readings.ticks) if j != i)
        px = tuple(one for j, one in enumerate(readings.ticks_px) if j != i)
        yield "tick", i, replace(evidence, readings=replace(readings, ticks=ticks, ticks_px=px))


def _told(evidence: Evidence, best: Adjusted, what: str, number: int) -> str | None:
    """The sentence; None where what was left out hardly differs from what the rest says of it."""
    readings = evidence.readings
    if what == "tick":
        at, reading = readings.ticks[number]
        seen = float(best.frame.to_mm(at)[0])
        if abs(seen - reading) < _LEAST_MM:
            return None
        return (
            f"the line read at {reading:g} mm is seen at {seen:.0f} mm by everything else; read it again, "
            "and look whether the tick lies on its line"
        )
    if what == "width":
        x, width = readings.widths[number]
        seen = _width_seen(evidence, best, number)
        if abs(seen - width) < _LEAST_MM:
            return None
        return (
            f"the width read as {width:g} mm at {x or 0.0:.0f} mm is seen as {seen:.0f} mm by everything "
            "else; read it again"
        )
    corners = best.frame.to_mm(evidence.corners_px)[:, 1]
    apart = corners[[3, 2]] - corners[[0, 1]]
    known = sorted((x or 0.0, width) for x, width in readings.widths)
    read = np.interp([0.0, readings.length], *np.array(known).T)
    end = int(np.abs(apart - read).argmax())
    if abs(apart[end] - read[end]) < _LEAST_MM:
        return None
    return (
        f"the corners at the {('left', 'right')[end]} end lie {apart[end]:.0f} mm apart across the board and "
        f"the width read there is {read[end]:.0f} mm; put each corner on the wood's own edge at its end, not "
        "on the box round the board, or read that width again"
    )


def _width_seen(evidence: Evidence, best: Adjusted, number: int) -> float:
    """A width as the rest says it is [mm]."""
    if evidence.across_px:
        upper, lower, _ = evidence.across_px[number]
        return float(best.frame.to_mm(lower)[1] - best.frame.to_mm(upper)[1])
    board = best.values
    part = (evidence.readings.widths[number][0] or 0.0) / board["length"]
    return float(board["width"] + board["taper"] * (part - 0.5) + bend(board, "belly", part))
