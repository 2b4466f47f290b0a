"""Where exactly the wood of a waney board ends: the sharpest step beside the border that colours suggest.

Colours alone settle it to a few millimetres: bark in shade passes for ground or for wood, a wooden
bench for the board. But the sawn face ends at an arris, where one colour gives way to another within a
pixel or two; and that line runs on smoothly. So along each edge the path is looked for that has the
most of a step, with the board's own wood on its inner side, and hardly jumps.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["stepped"]

Floats = NDArray[np.float64]

_SIDE_MM = 3.0  # that is averaged to either side of a step
_NEAR_MM, _BESIDE_MM = 1.5, 2.5  # the same at last, and how far beside the path that is looked for
_DEEP_MM = (5.0, 18.0)  # inside it, where the board's own wood is
_FULL = 25.0  # of colour difference (CIE 1976), beyond which a step is not more of one
_STRANGE = 45.0  # the same between the inner side and the wood, which rules a step out
_FAR_MM = 60.0  # from the border as coloured that costs as much as a whole step
_MOST_FAR = 0.35  # of a whole step: colours may be wrong by any distance
_JUMP = 0.035  # of a whole step, for each row by which neighbours lie apart
_REACH_ROWS = 8  # by which neighbours may lie apart


def stepped(lab: NDArray[np.float32], border: Floats, way: int, per_mm: float) -> Floats:
    """The rows of the path, one a station, to a part of a row.

    Parameters
    ----------
    lab : ndarray of float32, [row, station, 3]
        Colour of the board and some ground beyond it, averaged about each station (CIE L*a*b*).
    border : ndarray, [station]
        Rows of the border as colours suggest it; nan where they don't.
    way : int
        1 where the wood lies at greater rows, -1 where at lesser ones.
    per_mm : float
        Rows per millimetre.
    """
    if way < 0:
        rows = lab.shape[0] - 1
        return np.asarray(rows - stepped(lab[::-1], rows - border, 1, per_mm))
    gain = _gain(lab, per_mm)
    known = np.flatnonzero(~np.isnan(border))
    if not known.size:
        return border
    near = np.interp(np.arange(border.size), known, border[known])
    far = np.abs(np.arange(lab.shape[0])[:, None] - near[None, :]) / per_mm
    gain = gain - np.minimum(far / _FAR_MM, _MOST_FAR)
    return _finer(lab, _path(gain), per_mm)


def _gain(lab: NDArray[np.float32], per_mm: float) -> Floats:
    """How much of a step from anything to the board's own wood lies above each row, 0 to 1."""
    side = max(2, round(_SIDE_MM * per_mm))
    outside, inside = _mean(lab, -side, 0), _mean(lab, 0, side)
    wood = _mean(lab, round(_DEEP_MM[0] * per_mm), round(_DEEP_MM[1] * per_mm))
    step = np.minimum(np.linalg.norm(inside - outside, axis=2) / _FULL, 1.0)
    alike = 1.0 - np.minimum(np.linalg.norm(inside - wood, axis=2) / _STRANGE, 1.0)
    gain = step * alike
    gain[:side], gain[-side:] = 0.0, 0.0
    return np.asarray(gain)


def _mean(lab: NDArray[np.float32], low: int, high: int) -> Floats:
    """Mean colour of the rows from low to high beyond each."""
    total = np.concatenate([np.zeros((1, *lab.shape[1:])), np.cumsum(lab, axis=0, dtype=np.float64)])
    rows = np.arange(lab.shape[0])
    first, last = np.clip(rows + low, 0, lab.shape[0]), np.clip(rows + high, 0, lab.shape[0])
    return np.asarray((total[last] - total[first]) / np.maximum(last - first, 1)[:, None, None])


def _path(gain: Floats) -> NDArray[np.intp]:
    """The rows of the path with the greatest gain, by dynamic programming."""
    rows, stations = gain.shape
    best = gain[:, 0].copy()
    came = np.zeros((stations, rows), dtype=np.intp)
    steps = range(-_REACH_ROWS, _REACH_ROWS + 1)
    for k in range(1, stations):
        padded = np.pad(best, _REACH_ROWS, constant_values=-np.inf)
        tried = np.stack([padded[_REACH_ROWS + s : _REACH_ROWS + s + rows] - _JUMP * abs(s) for s in steps])
        chosen = tried.argmax(axis=0)
        came[k] = np.arange(rows) + chosen - _REACH_ROWS
        best = tried[chosen, np.arange(rows)] + gain[:, k]
    path = np.empty(stations, dtype=np.intp)
    path[-1] = int(best.argmax())
    for k in range(stations - 1, 0, -1):
        path[k - 1] = came[k, path[k]]
    return path


def _finer(lab: NDArray[np.float32], path: NDArray[np.intp], per_mm: float) -> Floats:
    """The path to a part of a row: where beside it colours change fastest, whatever they are."""
    near, reach = max(2, round(_NEAR_MM * per_mm)), round(_BESIDE_MM * per_mm)
    step = np.linalg.norm(_mean(lab, 0, near) - _mean(lab, -near, 0), axis=2)
    step[:near], step[-near:] = 0.0, 0.0
    k = np.arange(path.size)
    rows = np.clip(path + np.arange(-reach, reach + 1)[:, None], 1, lab.shape[0] - 2)
    at = rows[step[rows, k].argmax(axis=0), k]
    a, b, c = step[at - 1, k], step[at, k], step[at + 1, k]
    curve = a - 2 * b + c
    part = np.where(curve < -1e-6, (a - c) / (2 * np.minimum(curve, -1e-6)), 0.0)
    return np.asarray(at + np.clip(part, -1.0, 1.0))
