"""Where exactly a pencil tick or a chalk line runs beside the place that was tapped.

A finger or a mouse meets a line to a pixel or two, which on a photograph of a whole
board is a millimetre or two. The line itself is seen over some hundred pixels across
the board, so its place along it can be told to a fraction of one::

    . . . | . . .        the strip beside the tap, straightened out: along the board
    . . . | . x .        it is read pixel by pixel, across it averaged, each row moved
    . . . | . . .        a little for a line that is not quite square
"""

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.frame import Frame

__all__ = ["LINE_PX", "TAPPED_PX", "line_near"]

LINE_PX = 0.3
"""How well a line that was found is known, one standard deviation [px]."""

TAPPED_PX = 1.0
"""The same of a tap where no line was found [px]."""

_REACH_PX = 6.0  # a tap is no farther off
_STEP_PX = 0.25
_HALF_MM = 15.0  # of the line, to either side of the tap
_SLOPES = np.linspace(-0.06, 0.06, 13)  # a line drawn by eye is that far from square
_LINE_SIGMA_PX = 0.7
_LEAST = 1.5  # grey values
_DISTINCT = 4.0  # over the spread of everything else in the strip
_SAME_PX = 0.75  # between the two halves of a line
_EDGE_MM = 2.0  # of the board left out, where its own edge would be taken for a line


def line_near(
    rgb: NDArray[np.uint8], at_px: ArrayLike, frame: Frame, width_mm: float
) -> NDArray[np.float64] | None:
    """The place on a line across the board beside a tapped one.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
        The photograph.
    at_px : array-like, [2]
        Where it was tapped, (x, y).
    frame : Frame
        Of the board, near enough to tell its direction.
    width_mm : float
        Of the board.

    Returns
    -------
    ndarray, [2], or None
        On the line, at the same place across the board, (x, y); None when no line
        stands out from the grain, and the tap is all there is.
    """
    at = np.asarray(at_px, dtype=np.float64)
    grey, down = _strip(rgb, at, frame, width_mm)
    if grey.shape[0] < 8:
        return None
    place = _place(grey, down)
    if place is None:
        return None
    along = _direction(frame, at, 0)
    return np.asarray(at + place * along)


def _direction(frame: Frame, at: NDArray[np.float64], axis: int) -> NDArray[np.float64]:
    """Along the board (0) or across it (1) in the photograph, unit length."""
    step = np.zeros(2)
    step[axis] = 5.0
    run = frame.to_px(frame.to_mm(at) + step) - at
    return np.asarray(run / max(float(np.hypot(*run)), 1e-9))


def _strip(
    rgb: NDArray[np.uint8], at: NDArray[np.float64], frame: Frame, width_mm: float
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Grey values beside the tap, [across, along], and how far across each row lies [px]."""
    place = frame.to_mm(at)
    low, high = max(_EDGE_MM, place[1] - _HALF_MM), min(width_mm - _EDGE_MM, place[1] + _HALF_MM)
    if high - low < 5.0 or not np.all(np.isfinite(place)):
        return np.zeros((0, 0), dtype=np.float32), np.zeros(0)
    middle = frame.to_px(np.array([[place[0], low], [place[0], high]]))
    rows = max(8, round(float(np.hypot(*(middle[1] - middle[0])))))
    centres = frame.to_px(np.column_stack([np.full(rows, place[0]), np.linspace(low, high, rows)]))
    across = _direction(frame, at, 1)
    beside = np.arange(-_REACH_PX - 4.0, _REACH_PX + 4.0 + _STEP_PX / 2, _STEP_PX)
    where = centres[:, None] + beside[None, :, None] * _direction(frame, at, 0)
    if where.min() < 0 or np.any(where.reshape(-1, 2).max(axis=0) > [rgb.shape[1] - 1, rgb.shape[0] - 1]):
        return np.zeros((0, 0), dtype=np.float32), np.zeros(0)
    seen = cv2.remap(
        rgb, where[..., 0].astype(np.float32), where[..., 1].astype(np.float32), cv2.INTER_LINEAR
    )
    grey = np.asarray(cv2.cvtColor(np.asarray(seen), cv2.COLOR_RGB2GRAY), dtype=np.float32)
    return grey, np.asarray((centres - at) @ across)


def _place(grey: NDArray[np.float32], down: NDArray[np.float64]) -> float | None:
    """Where along the strip a line crosses the tap's own row [px]; None when none stands out."""
    level = grey - np.median(grey, axis=1, keepdims=True)
    limit = 3.0 * float(np.median(np.abs(level))) + 12.0
    level = np.clip(level, -limit, limit)  # one black pore or knot shall not be the line
    best: tuple[float, float, NDArray[np.float32]] | None = None
    for slope in _SLOPES:
        sheared = _sheared(level, slope * down)
        ridge = _ridge(sheared.mean(axis=0))
        peak = float(np.abs(ridge[_inner(ridge)]).max())
        if best is None or peak > best[0]:
            best = (peak, slope, sheared)
    if best is None:
        return None
    ridge = _ridge(best[2].mean(axis=0))
    at = _peak(ridge)
    halves = np.array_split(best[2], 2)
    sign = np.sign(ridge[at])
    apart = [abs(_peak(sign * _ridge(half.mean(axis=0)), signed=True) - at) * _STEP_PX for half in halves]
    rest = np.abs(np.arange(ridge.size) - at) * _STEP_PX > 2.5
    usual = float(np.sqrt(np.mean(ridge[rest] ** 2)))
    if best[0] < max(_LEAST, _DISTINCT * usual) or max(apart) > _SAME_PX:
        return None
    a, b, c = (float(abs(v)) for v in ridge[at - 1 : at + 2])
    part = (a - c) / (2 * (a - 2 * b + c)) if a - 2 * b + c < -1e-9 else 0.0
    return (at + part) * _STEP_PX - _REACH_PX - 4.0


def _sheared(level: NDArray[np.float32], by_px: NDArray[np.float64]) -> NDArray[np.float32]:
    """Each row moved along by so much."""
    columns = np.arange(level.shape[1])[None, :] + by_px[:, None] / _STEP_PX
    rows = np.repeat(np.arange(level.shape[0], dtype=np.float32)[:, None], level.shape[1], axis=1)
    return np.asarray(
        cv2.remap(level, columns.astype(np.float32), rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    )


def _ridge(profile: NDArray[np.float32]) -> NDArray[np.float32]:
    """How much each place stands out from what lies beside it, darker or lighter."""
    row = np.ascontiguousarray(profile, dtype=np.float32)[None, :]
    fine = cv2.GaussianBlur(row, (0, 0), _LINE_SIGMA_PX / _STEP_PX, borderType=cv2.BORDER_REPLICATE)
    wide = cv2.GaussianBlur(row, (0, 0), 3.0 * _LINE_SIGMA_PX / _STEP_PX, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(fine - wide, dtype=np.float32).ravel()


def _inner(ridge: NDArray[np.float32]) -> slice:
    rim = round(4.0 / _STEP_PX)
    return slice(rim, ridge.size - rim)


def _peak(ridge: NDArray[np.float32], signed: bool = False) -> int:
    inner = _inner(ridge)
    return int(inner.start) + int((ridge[inner] if signed else np.abs(ridge[inner])).argmax())
