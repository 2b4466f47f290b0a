"""What the widths read along a waney board say of its scale: each is seen between its two edges."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from vision.errors import VisionError
from vision.evidence import Evidence
from vision.gate import gated
from vision.waney import waney_outline

__all__ = ["both_edges", "straight_one", "with_widths_seen"]

_LEAST = 3  # widths; two stand at the ends, where the corners say the same
_STRAIGHT_MM = 1.0
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
    return replace(evidence, across_px=tuple(seen))


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
