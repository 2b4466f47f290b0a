"""What the widths read along a waney board say of its scale: each is seen between its two edges."""

from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from numpy.typing import NDArray

from vision.errors import VisionError
from vision.evidence import Evidence
from vision.gate import gated
from vision.start import scale_across
from vision.waney import waney_outline

__all__ = ["SEAT_MM", "Laid", "both_edges", "laid_across", "straight_one", "with_widths_seen"]

SEAT_MM = 0.6
"""How much wider a waney board as a whole may seem than it is read: blur, bark, the arris [mm].

By our own camera 0.35 mm root mean square over 46 photographs.
"""

_LEAST = 3  # widths; two stand at the ends, where the corners say the same
_STRAIGHT_MM = 1.0
_ROOM_MM, _STEP_MM = 2.0, 5.0  # what may be cut off at the picture's rim; a frame's width is a multiple
_WANDERS_MM = 2.5


def with_widths_seen(rgb: NDArray[np.uint8], evidence: Evidence) -> Evidence:
    """The evidence with every width that was read laid between the edges seen at its station.

    The edges are followed in the frame that the corners alone give; it is some millimetres off
    along the board, where a waney edge hardly changes. Where they can't be followed, nothing is added.
    """
    readings = evidence.readings
    stations = [(x, width) for x, width in readings.widths if x is not None]
    if len(stations) < _LEAST:
        return evidence
    frame = gated(evidence)[0].frame
    try:
        ring = np.array(waney_outline(rgb, frame, readings.length, readings.width))
    except VisionError:
        return evidence
    upper, lower = both_edges(ring, readings.length)
    seen = []
    for x, width in stations:
        ends = [[x, np.interp(x, edge[:, 0], edge[:, 1])] for edge in (upper, lower)]
        (a, b), (c, d) = frame.to_px(np.array(ends, dtype=np.float64))
        seen.append(((float(a), float(b)), (float(c), float(d)), width))
    fine = scale_across(frame, readings)
    return replace(evidence, across_px=tuple(seen), seat_px=max(evidence.seat_px, SEAT_MM * fine))


def both_edges(
    ring: NDArray[np.float64], length_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The upper and the lower edge of an outline by `vision.waney`, each from the near end on, [n, 2]."""
    far = int(np.flatnonzero(ring[:, 0] >= length_mm)[0])
    return ring[: far + 1], ring[far + 1 :][::-1]


def straight_one(ring: NDArray[np.float64], length_mm: float) -> tuple[int, float] | None:
    """Which edge alone is straight, 0 the upper, 1 the lower, and where it lies [mm]; None if not one."""
    off, place = [], []
    for edge in both_edges(ring, length_mm):
        x = np.linspace(0.0, length_mm, 101)
        y = np.interp(x, edge[:, 0], edge[:, 1])
        line = np.polyval(np.polyfit(x, y, 1), x)
        off.append(float(np.percentile(np.abs(y - line), 95)))
        place.append(float(line.mean()))
    which = int(np.argmin(off))
    if off[which] > _STRAIGHT_MM or off[1 - which] < _WANDERS_MM:
        return None
    return which, place[which]


@dataclass(frozen=True, eq=False)
class Laid:
    """A waney outline laid into the picture of its face.

    Parameters
    ----------
    turn : ndarray, [3, 3]
        From the outline's millimetres to the picture's.
    width_mm : float
        Of the picture.
    seen_mm : float
        Of the board at its widest place.
    aside_mm : float
        By how much the board may lie aside because nothing says where in the picture it belongs.
    by_middles : bool
        Whether only the middles of its ends and of its outline lay it, no edge and no hand.
    apart_mm : float
        By how much it may lie apart of the other face, which it is laid over, across.
    notes : tuple of str
        What of the readings across both faces cannot be.
    """

    turn: NDArray[np.float64]
    width_mm: float
    seen_mm: float
    aside_mm: float
    by_middles: bool = True
    apart_mm: float = 0.0
    notes: tuple[str, ...] = ()


def laid_across(
    ring: NDArray[np.float64],
    length_mm: float,
    width_mm: float,
    shown_mm: float | None,
    lies_mm: tuple[float, float] | None,
) -> Laid:
    """How a waney outline is laid into a picture that both faces share.

    Its axis runs through the middles of its ends, which is one line seen from either face, and it lies in
    the middle; but a sawn edge lies along the frame's, and a face drawn by hand where it was drawn. The
    picture is wider than asked where the edges of a crooked board wander to one side by more than its widest
    place leaves room for.

    Parameters
    ----------
    ring : ndarray, [n, 2]
        As `vision.waney.waney_outline` gives it.
    length_mm, width_mm : float
        As the tape says, the width at its widest.
    shown_mm : float or None
        How wide the picture shall be at least; None for as wide as the board needs.
    lies_mm : (float, float) or None
        Between which places across a picture of that width the face was drawn.
    """
    upper, lower = both_edges(ring, length_mm)
    sawn = straight_one(ring, length_mm)
    turn = _levelled(upper, lower, length_mm, sawn)
    level = ring @ turn[:2, :2].T + turn[:2, 2]
    top, bottom = float(level[:, 1].min()), float(level[:, 1].max())
    span, seen = bottom - top, _widest(upper, lower)
    need = width_mm + span - seen
    wide = span if shown_mm is None else shown_mm
    if shown_mm is not None and need > shown_mm + _ROOM_MM:
        wide = _STEP_MM * ceil(need / _STEP_MM)
    move = (wide - span) / 2 - top
    more = 0.0 if shown_mm is None else (abs(width_mm - seen) + max(0.0, need - wide)) / 2
    if lies_mm is not None:
        moved = wide - (wide if shown_mm is None else shown_mm)
        move = (sum(lies_mm) + moved - top - bottom) / 2
        more = abs(lies_mm[1] - lies_mm[0] - span) / 2
    elif sawn is not None:  # it lies where the frame's edge does, on either face
        here = both_edges(ring, length_mm)[sawn[0]] @ turn[:2, :2].T + turn[:2, 2]
        move, more = (0.0 if sawn[0] == 0 else wide) - float(np.mean(here[[0, -1], 1])), 0.0
    turn[1, 2] += move
    return Laid(turn, wide, seen, more, lies_mm is None and sawn is None)


def _levelled(
    upper: NDArray[np.float64],
    lower: NDArray[np.float64],
    length_mm: float,
    sawn: tuple[int, float] | None,
) -> NDArray[np.float64]:
    """The turn that lays the axis of a board level, or its sawn edge, [3, 3]."""
    middle = (upper[[0, -1], 1] + lower[[0, -1], 1]) / 2
    slope = float(middle[1] - middle[0]) / length_mm
    if sawn is not None:
        edge = (upper, lower)[sawn[0]]
        x = np.linspace(0.0, length_mm, 101)
        slope = float(np.polyfit(x, np.interp(x, edge[:, 0], edge[:, 1]), 1)[0])
    turn = np.eye(3)
    turn[:2, :2] = np.array([[1.0, slope], [-slope, 1.0]]) / np.hypot(1.0, slope)
    pivot = np.array([0.0, middle[0]])
    turn[:2, 2] = pivot - turn[:2, :2] @ pivot
    return turn


def _widest(upper: NDArray[np.float64], lower: NDArray[np.float64]) -> float:
    """Where two edges lie farthest apart, square across [mm]."""
    x = np.unique(np.concatenate([upper[:, 0], lower[:, 0]]))
    return float((np.interp(x, lower[:, 0], lower[:, 1]) - np.interp(x, upper[:, 0], upper[:, 1])).max())
