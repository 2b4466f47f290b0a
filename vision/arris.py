"""Where the arris of a board lies beside the step that was found, when the board's own edge shows there.

A camera that is not square over a board sees one of its long edges too, a few
pixels of wood in another light, and the outermost step is then not the arris::

    ground          |  edge, k times as bright  |  face
    ----------------+---------------------------+--------------> towards the wood
                    p - d                       p  the arris

How wide the edge shows (d) follows from the board's thickness and from where the
camera stands, so it need not be guessed. The profile across is
fitted as it comes about, three steps blurred alike, instead of taking its steepest place for the edge.
"""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import ndtr

from vision.edges import FittedEdge

__all__ = ["on_the_arris"]

_STEP_PX = 0.5
_OUT_PX, _IN_PX = 7.0, 6.0  # how far the profile is read beyond the edge's band
_SEGMENTS = 4
_NOISE = 0.03  # of the step from ground to wood: figure, pores and shadow that the profile keeps
_DARKER, _DARKER_SPREAD = 0.75, 0.3  # an edge in its own light, next to the face's; judged by eye, no source
_BLUR_PX, _BLUR_SPREAD = 1.0, 0.4  # the spread of the logarithm
_FAR_PX = 2.0  # one standard deviation between the step found and the arris, the edge's band aside
_CHROMA = 0.5  # colour is kept at half the picture's size in a JPEG, so it weighs less
_CONTRADICTS_PX = 1.5  # between parts of one edge
_UNSTEADY_PX = 0.15  # about a line through the parts; above it the slope is left to what was known of it


def on_the_arris(
    rgb: NDArray[np.uint8],
    edge: FittedEdge,
    inward: NDArray[np.float64],
    shows_px: Sequence[float] = (0.0, 0.0),
) -> FittedEdge:
    """The edge moved onto the arris, its form kept.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
    edge : FittedEdge
    inward : ndarray, [2]
        Towards the wood, unit length.
    shows_px : (float, float)
        How wide the board's own edge should show beside the face, at the first and
        the last of the edge's points; 0 where it does not [px].
    """
    points = edge.points_px
    part = np.linspace(0.0, 1.0, len(points))
    wide = np.interp(part, [0.0, 1.0], shows_px)
    where, shift = [], []
    for chunk in np.array_split(np.arange(len(points)), _SEGMENTS):
        if len(chunk) < 8:
            continue
        found = _shift(rgb, points[chunk], inward, float(wide[chunk].mean()))
        if found is not None:
            where.append(float(part[chunk].mean()))
            shift.append(found)
    if len(shift) < 3:
        return edge
    line = _line(np.array(where), np.array(shift), (wide[-1] - wide[0]), part)
    if line is None:
        return edge
    ends = line[[0, -1]]
    return replace(
        edge,
        points_px=points + line[:, None] * inward,
        a_px=edge.a_px + ends[0] * inward,
        b_px=edge.b_px + ends[1] * inward,
        side_px=max(edge.side_px, float(wide.mean())),
    )


def _line(
    where: NDArray[np.float64], shift: NDArray[np.float64], known_slope: float, part: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """The shift along the whole edge; None where its parts contradict one another."""
    if np.ptp(shift) > _CONTRADICTS_PX:
        return None
    first, second = np.triu_indices(len(where), 1)
    # Theil and Sen's: the median of the slopes between any two, so that one odd place does not tilt it.
    slope = float(np.median((shift[second] - shift[first]) / (where[second] - where[first])))
    around = shift - slope * where
    if float(np.std(around)) > _UNSTEADY_PX:
        slope = known_slope
    return np.asarray(float(np.median(shift - slope * where)) + slope * part)


def _shift(
    rgb: NDArray[np.uint8], points: NDArray[np.float64], inward: NDArray[np.float64], wide: float
) -> float | None:
    """How far inside the points the arris lies, from the profile across all of them [px]."""
    at = np.arange(-_OUT_PX - wide, _IN_PX + wide + _STEP_PX / 2, _STEP_PX)
    place = points[:, None] + at[None, :, None] * inward
    if place.min() < 0 or np.any(place.reshape(-1, 2).max(axis=0) > [rgb.shape[1] - 1, rgb.shape[0] - 1]):
        return None
    seen = cv2.remap(
        rgb, place[..., 0].astype(np.float32), place[..., 1].astype(np.float32), cv2.INTER_LINEAR
    )
    profile = _colours(np.median(seen, axis=0))
    step = profile[-6:].mean(axis=0) - profile[:6].mean(axis=0)
    size = float(np.linalg.norm(step))
    if size < 0.02:
        return None
    profile = profile / (size * _NOISE)
    starts = [(0.0, wide), (wide, wide)] if wide > 0.4 else [(0.0, 0.0)]
    answers = [_fitted(at, profile, start, wide) for start in starts]
    return min(answers, key=lambda answer: answer[1])[0]


def _colours(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Brightness and two differences of colour, [n, 3]."""
    v = values / 255.0
    bright = v @ [0.299, 0.587, 0.114]
    return np.stack([bright, _CHROMA * (v[:, 0] - bright), _CHROMA * (v[:, 2] - bright)], axis=1)


def _fitted(
    at: NDArray[np.float64], profile: NDArray[np.float64], start: tuple[float, float], wide: float
) -> tuple[float, float]:
    """Place of the arris [px] and the cost of the fit from a start (place, width of the edge)."""
    with_edge = wide > 0.4
    spread = 0.3 + 0.15 * wide

    def off(unknown: NDArray[np.float64]) -> NDArray[np.float64]:
        place, blur = unknown[0], np.exp(np.clip(unknown[1], -1.6, 1.6))
        face = ndtr((at - place) / blur)
        if with_edge:
            wood, k = ndtr((at - place + max(0.0, unknown[2])) / blur), unknown[3]
        else:
            wood, k = face, 1.0
        shares = np.stack([1 - wood, (1 - wood) * at / _OUT_PX, face + k * (wood - face)], axis=1)
        levels = np.linalg.lstsq(shares, profile, rcond=None)[0]
        prior = [(unknown[1] - np.log(_BLUR_PX)) / _BLUR_SPREAD, (place - start[0]) / _FAR_PX]
        if with_edge:
            prior += [(unknown[2] - wide) / spread, (k - _DARKER) / _DARKER_SPREAD]
        return np.concatenate([(profile - shares @ levels).ravel(), prior])

    first = [start[0], np.log(_BLUR_PX), *([start[1], _DARKER] if with_edge else [])]
    solved = least_squares(off, first, max_nfev=20, xtol=1e-3, ftol=1e-3)
    return float(solved.x[0]), float(solved.cost)
