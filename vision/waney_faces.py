"""How a waney board's narrower face lies over its wider one: by the middles of both all along.

Bark slopes, and otherwise at one edge than at the other, so neither outline tells where across the other
face lies: what that leaves open is owned to.
"""

from dataclasses import replace
from math import ceil

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.waney_scale import Laid

__all__ = ["APART", "laid_over", "narrower"]

Floats = NDArray[np.float64]

APART = 0.42
"""By how much, as a part of the thickness, faces laid by their middles lie apart at most, 97 % of boards.

By our wood model, whose logs are up to 5 % out of round in two waves, 2.5 % in three.
"""

_COLUMN_MM = 2.0
_ROOM_MM, _STEP_MM = 2.0, 5.0  # as `vision.waney_scale` widens a picture


def narrower(ring: Floats, other: Floats, length_mm: float) -> bool:
    """Whether the first of two outlines, [n, 2], is the narrower one, on average."""
    x = np.linspace(_COLUMN_MM, length_mm - _COLUMN_MM, 51)
    widths = [float(np.mean(lower - upper)) for upper, lower in (_edges(one, x) for one in (ring, other))]
    return widths[0] < widths[1]


def laid_over(
    ring: Floats, laid: Laid, other: ArrayLike | None, shown_mm: float | None, thickness_mm: float | None
) -> Laid:
    """A narrower face laid over the wider one, and owning to what nothing says of where it lies.

    Parameters
    ----------
    ring : ndarray, [n, 2]
    laid : Laid
        As `vision.waney_scale.laid_across` lays it.
    other : array-like, [n, 2], or None
        Outline of the other face, as seen from this one, in a picture as wide as shown.
    shown_mm, thickness_mm : float or None
    """
    if other is None or shown_mm is None or thickness_mm is None or not laid.by_middles:
        return laid
    below = np.asarray(other, dtype=np.float64) + np.array([0.0, (laid.width_mm - shown_mm) / 2])
    length_mm = float(ring[:, 0].max())
    if not narrower(ring, below, length_mm):
        return laid
    x = np.linspace(_COLUMN_MM, length_mm - _COLUMN_MM, 151)
    placed = ring @ laid.turn[:2, :2].T + laid.turn[:2, 2]
    middles = [np.mean(_edges(one, x), axis=0) for one in (placed, below)]
    turn, shift = np.polyfit(x / length_mm - 0.5, middles[0] - middles[1], 1)
    over = _moved(laid, ring, float(shift), float(turn))
    return replace(over, aside_mm=max(laid.aside_mm, APART * thickness_mm))


def _moved(laid: Laid, ring: Floats, shift_mm: float, turn_mm: float) -> Laid:
    """The outline moved up and turned back by so much, in a picture widened where it would leave it."""
    length_mm = float(ring[:, 0].max())
    slope = turn_mm / length_mm
    spin = np.eye(3)
    spin[:2, :2] = np.array([[1.0, slope], [-slope, 1.0]]) / np.hypot(1.0, slope)
    pivot = np.array([length_mm / 2, laid.width_mm / 2])
    spin[:2, 2] = pivot - spin[:2, :2] @ pivot - [0.0, shift_mm]
    turn = spin @ laid.turn
    y = ring @ turn[1, :2] + turn[1, 2]
    beyond = max(-float(y.min()), float(y.max()) - laid.width_mm) - _ROOM_MM
    more = _STEP_MM * ceil(max(beyond, 0.0) / _STEP_MM)
    turn[1, 2] += more
    return replace(laid, turn=turn, width_mm=laid.width_mm + 2 * more)


def _edges(ring: Floats, x: Floats) -> tuple[Floats, Floats]:
    """Least and greatest y of an outline at stations along it; held where it does not reach."""
    ends = np.roll(ring, -1, axis=0)
    run = ends[:, 0] - ring[:, 0]
    low, high = np.minimum(ring[:, 0], ends[:, 0]), np.maximum(ring[:, 0], ends[:, 0])
    crossed = (low[:, None] <= x) & (x <= high[:, None]) & (np.abs(run) > 1e-9)[:, None]
    part = (x - ring[:, :1]) / np.where(np.abs(run) > 1e-9, run, 1.0)[:, None]
    y = ring[:, 1:] + part * (ends[:, 1] - ring[:, 1])[:, None]
    known = crossed.any(axis=0)
    upper = np.where(crossed, y, np.inf).min(axis=0)[known]
    lower = np.where(crossed, y, -np.inf).max(axis=0)[known]
    return np.interp(x, x[known], upper), np.interp(x, x[known], lower)
