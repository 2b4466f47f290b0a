"""Where exactly an edge of the board runs: edges found to a fraction of a pixel beside a rough line.

A strip of the picture along the rough line is straightened out, so that the
edge runs along its columns::

      outside   row 0
      ---------------------------- rough line (middle row), a --> b along it
      wood      last row

and in it the curve  offset = ends + bow  with the most step from ground to wood
is looked for over its whole length, so that a knot, a shadow or the seam of a bench
cannot lead it astray by being strong in one place.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["FittedEdge", "fit_edge"]

_STEP_PX = 0.5  # spacing of the strip's rows
_MOST_COLUMNS = 900
_MOST_SIDE_PX = 24.0  # of a board's own edge that may show beside its face
_LEAST_SIDE = 2.0  # change of colour from edge to face [Lab units per px]
_BLUR_PX = 1.2
_LOOKS = 4


@dataclass(frozen=True, eq=False)
class FittedEdge:
    """One side of a board as it was found in the picture.

    Parameters
    ----------
    points_px : ndarray, [n, 2]
        Points (x, y) on the edge, in order from a to b; those off the curve are left out.
    a_px, b_px : ndarray, [2]
        Ends of the chord of the fitted curve, (x, y).
    bow_px : float
        How far the curve's middle lies off its chord, positive towards the wood.
    support : float
        Part of the length on which the edge is seen, 0 to 1.
    residual_px : float
        Root mean square distance of `points_px` from the curve.
    contrast : float
        Step from ground to wood over the spread of both, 0 upwards; below about 1 it is hardly seen.
    side_px : float
        How wide the board's own edge shows beside its face; 0 when it does not.
    """

    points_px: NDArray[np.float64]
    a_px: NDArray[np.float64]
    b_px: NDArray[np.float64]
    bow_px: float
    support: float
    residual_px: float
    contrast: float
    side_px: float = 0.0

    @property
    def clear(self) -> bool:
        """Whether it is seen well enough to measure by."""
        return self.support >= 0.4 and self.contrast >= 1.0 and self.residual_px <= 2.0

    @property
    def line(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """A point of the chord and its direction (unit length)."""
        run = self.b_px - self.a_px
        return self.a_px, run / np.hypot(*run)


@dataclass(frozen=True, eq=False)
class _Strip:
    """The straightened strip: `step` is the gradient from ground to wood, [row, column]."""

    lab: NDArray[np.float32]
    seen: NDArray[np.bool_]
    step: NDArray[np.float32]
    rows_px: NDArray[np.float64]
    along: NDArray[np.float64]
    contrast: float


def fit_edge(
    rgb: NDArray[np.uint8],
    a_px: ArrayLike,
    b_px: ArrayLike,
    *,
    reach_px: float = 20.0,
    inside_px: float = 36.0,
    most_bow_px: float = 8.0,
    inset: float = 0.02,
) -> FittedEdge | None:
    """The edge of the board near the line from a to b, the wood on the right hand of someone walking it.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
    a_px, b_px : array-like, [2]
        Ends of the rough line (x, y). In picture axes, y down, the wood lies towards
        (-dy, dx) of the run (dx, dy).
    reach_px : float
        How far to both sides the edge is looked for [px].
    inside_px : float
        How far into the wood it may be looked for the arris, where the board's own edge shows [px].
    most_bow_px : float
        Greatest bow looked for [px].
    inset : float
        Part of the length left out at either end, where the next side's edge disturbs.

    Returns
    -------
    FittedEdge or None
        None when fewer than eight points of an edge are seen.
    """
    a, b = np.asarray(a_px, dtype=np.float64), np.asarray(b_px, dtype=np.float64)
    run = b - a
    length = float(np.hypot(*run))
    if length < 12.0:
        return None
    normal = np.array([-run[1], run[0]]) / length
    strip = _strip(rgb, a, run, normal, (reach_px, inside_px), inset)
    curve = _best_curve(strip, reach_px, most_bow_px)
    depth = _side_depth(strip, curve, min(_MOST_SIDE_PX, inside_px / 1.5))
    if depth is not None:
        arris = _fitted(*_on_arris(strip, curve, depth), a, run, normal)
        # A line of pores may look like an arris, but wanders and comes and goes.
        if arris is not None and arris.support >= 0.9 and arris.residual_px <= 0.6:
            return replace(arris, side_px=depth)
    return _fitted(strip, curve, a, run, normal)


def _fitted(
    strip: "_Strip",
    curve: NDArray[np.float64],
    a: NDArray[np.float64],
    run: NDArray[np.float64],
    normal: NDArray[np.float64],
) -> FittedEdge | None:
    """The edge through the steps found column by column beside a curve."""
    # The window draws what is found towards its own middle, so it is laid round the fit again.
    for _ in range(_LOOKS):
        before = curve
        offsets, seen = _peaks_near(strip, _curve(before, strip.along))
        fit, kept = _robust_curve(strip.along, offsets, seen)
        if fit is None:
            return None
        curve = fit
        if np.abs(curve - before).max() < 0.05:
            break
    along = strip.along[kept]
    residual = offsets[kept] - _curve(curve, along)
    return FittedEdge(
        points_px=a + along[:, None] * run + offsets[kept][:, None] * normal,
        a_px=a + curve[0] * normal,
        b_px=a + run + curve[1] * normal,
        bow_px=float(curve[2]),
        support=float(kept.sum() / kept.size),
        residual_px=float(np.sqrt(np.mean(residual**2))),
        contrast=strip.contrast,
    )


def _curve(curve: NDArray[np.float64], along: NDArray[np.float64]) -> NDArray[np.float64]:
    """Offset of the curve (offset at a, offset at b, bow) at a part of the length [px]."""
    return np.asarray(curve[0] * (1 - along) + curve[1] * along + curve[2] * 4 * along * (1 - along))


def _strip(
    rgb: NDArray[np.uint8],
    a: NDArray[np.float64],
    run: NDArray[np.float64],
    normal: NDArray[np.float64],
    reach: tuple[float, float],
    inset: float,
) -> _Strip:
    length, reach_px = float(np.hypot(*run)), reach[0]
    columns = int(np.clip(length * (1 - 2 * inset), 12, _MOST_COLUMNS))
    along = inset + (np.arange(columns) + 0.5) / columns * (1 - 2 * inset)
    rows = np.arange(-reach_px - 4.0, max(reach) + 4.0 + _STEP_PX / 2, _STEP_PX)
    where = a + along[None, :, None] * run + rows[:, None, None] * normal
    inside = (where[..., 0] > 0) & (where[..., 1] > 0)
    inside &= (where[..., 0] < rgb.shape[1] - 1) & (where[..., 1] < rgb.shape[0] - 1)
    colour = cv2.remap(
        rgb,
        where[..., 0].astype(np.float32),
        where[..., 1].astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    lab = np.asarray(cv2.cvtColor(colour.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB), dtype=np.float32)
    lab = np.asarray(cv2.GaussianBlur(lab, (0, 0), sigmaX=1.0, sigmaY=_BLUR_PX / _STEP_PX), dtype=np.float32)
    axis, contrast = _wood_axis(lab, rows, reach_px)
    value = lab @ axis
    step = np.gradient(value, _STEP_PX, axis=0).astype(np.float32)
    step[~inside] = 0.0
    return _Strip(lab=lab, seen=inside, step=step, rows_px=rows, along=along, contrast=contrast)


def _wood_axis(
    lab: NDArray[np.float32], rows: NDArray[np.float64], reach_px: float
) -> tuple[NDArray[np.float32], float]:
    """The direction in Lab that best tells wood from ground (Fisher's), and how well it does."""
    far = max(2.0, reach_px * 0.5)
    ground = lab[rows < -far].reshape(-1, 3).astype(np.float64)
    wood = lab[(rows > far) & (rows <= reach_px + 4.0)].reshape(-1, 3).astype(np.float64)
    spread = (np.cov(ground.T) + np.cov(wood.T)) / 2 + np.eye(3) * 4.0
    axis = np.linalg.solve(spread, wood.mean(0) - ground.mean(0))
    size = np.sqrt(axis @ spread @ axis)
    if size < 1e-9:
        return np.array([1.0, 0.0, 0.0], dtype=np.float32), 0.0
    return (axis / size).astype(np.float32), float(size)


def _best_curve(strip: _Strip, reach_px: float, most_bow_px: float) -> NDArray[np.float64]:
    """The curve with the most step under it, each column's step capped so that no one place decides."""
    bins = min(60, strip.step.shape[1])
    edges = np.linspace(0, strip.step.shape[1], bins + 1).astype(int)
    gain = np.stack([strip.step[:, i:j].mean(axis=1) for i, j in pairwise(edges)], axis=1)
    along = np.array([strip.along[i:j].mean() for i, j in pairwise(edges)])
    gain = np.clip(gain, 0.0, max(float(np.median(gain.max(axis=0))), 1e-6))
    gain = np.asarray(cv2.GaussianBlur(gain, (1, 0), sigmaX=0.01, sigmaY=1.0 / _STEP_PX))
    best = np.zeros(3)
    spans, pitch = np.array([reach_px, reach_px, most_bow_px]), 2.0
    for _ in range(2):  # every second pixel first, then closely round the best
        grids = [
            np.arange(middle - span, middle + span + 0.5 * pitch, pitch) if span > 0 else np.zeros(1)
            for middle, span in zip(best, spans, strict=True)
        ]
        curves = np.stack(np.meshgrid(*grids, indexing="ij"), axis=-1).reshape(-1, 3)
        best = curves[_gains(gain, curves, along, float(strip.rows_px[0])).argmax()]
        spans, pitch = np.minimum(spans, 2.0), 1.0
    return np.asarray(best)


def _gains(
    gain: NDArray[np.float32], curves: NDArray[np.float64], along: NDArray[np.float64], first_row: float
) -> NDArray[np.float64]:
    """Mean step under each curve, a bow costing a little."""
    shapes = np.stack([1 - along, along, 4 * along * (1 - along)])
    row = ((curves @ shapes - first_row) / _STEP_PX + 0.5).astype(np.int32)
    np.clip(row, 0, gain.shape[0] - 1, out=row)
    mean = gain[row, np.arange(along.size)].mean(axis=1)
    return np.asarray(mean - 0.002 * np.abs(curves[:, 2]), dtype=np.float64)


def _side_depth(strip: _Strip, curve: NDArray[np.float64], most_px: float) -> float | None:
    """How far inside the curve the face begins, where the board's own edge shows beside it [px].

    A camera that is not square over the board sees one of its edges too, as wood as
    the face but in another light: the outermost step is then not the arris.
    """
    depths = np.arange(-2.0, most_px * 1.6, _STEP_PX)
    offset = _curve(curve, strip.along)[None, :] + depths[:, None]
    row = np.rint((offset - strip.rows_px[0]) / _STEP_PX).astype(int)
    if row.max() >= strip.rows_px.size:
        depths = depths[: max(0, int(strip.rows_px.size - 1 - row[0].max()))]
        row = row[: depths.size]
    if depths.size < 16:
        return None
    profile = np.median(strip.lab[np.maximum(row, 0), np.arange(strip.along.size)], axis=1)
    change = np.linalg.norm(np.gradient(profile, _STEP_PX, axis=0), axis=1)
    outer = depths >= 2.5
    face = change[depths > most_px * 0.6]
    floor = max(_LEAST_SIDE, 2.5 * float(np.percentile(face, 90)) if face.size else np.inf)
    peaks = np.flatnonzero(
        outer[1:-1]
        & (depths[1:-1] <= most_px)
        & (change[1:-1] >= floor)
        & (change[1:-1] >= change[:-2])
        & (change[1:-1] > change[2:])
    )
    return float(depths[peaks[0] + 1]) if peaks.size else None


def _on_arris(strip: _Strip, curve: NDArray[np.float64], depth: float) -> tuple[_Strip, NDArray[np.float64]]:
    """The strip read for the step from the board's edge to its face, and the curve moved onto it."""
    offset = _curve(curve, strip.along)
    distance = strip.rows_px[:, None] - offset[None, :]
    side = strip.lab[(distance > 0.35 * depth) & (distance < depth - 0.8)]
    face = strip.lab[(distance > depth + 1.0) & (distance < depth + 6.0)]
    if min(len(side), len(face)) < 50:
        return strip, curve
    axis = (np.median(face, axis=0) - np.median(side, axis=0)).astype(np.float32)
    axis /= max(float(np.linalg.norm(axis)), 1e-6)
    step = np.gradient(strip.lab @ axis, _STEP_PX, axis=0).astype(np.float32)
    step[~strip.seen | (np.abs(distance - depth) > 4.0)] = 0.0
    return replace(strip, step=step), curve + np.array([depth, depth, 0.0])


def _peaks_near(
    strip: _Strip, offset: NDArray[np.float64], within_px: float = 2.5
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Per column, the centre of the step near the curve [px], and whether there is one."""
    distance = strip.rows_px[:, None] - offset[None, :]
    weight = np.where(np.abs(distance) <= within_px, np.maximum(strip.step, 0.0), 0.0).astype(np.float64)
    peak = weight.max(axis=0)
    floor = 0.25 * float(np.median(peak[peak > 0])) if np.any(peak > 0) else np.inf
    weight = np.maximum(weight - 0.3 * peak, 0.0)
    total = weight.sum(axis=0)
    seen = (peak > max(floor, 1e-3)) & (total > 0)
    centre = (weight * strip.rows_px[:, None]).sum(axis=0) / np.where(total > 0, total, 1.0)
    return np.where(seen, centre, 0.0), seen


def _robust_curve(
    along: NDArray[np.float64], offsets: NDArray[np.float64], seen: NDArray[np.bool_]
) -> tuple[NDArray[np.float64] | None, NDArray[np.bool_]]:
    """Least squares curve through the peaks, those further than 2.5 spreads left out step by step."""
    design = np.stack([1 - along, along, 4 * along * (1 - along)], axis=1)
    kept = seen.copy()
    fit: NDArray[np.float64] | None = None
    for _ in range(8):
        if kept.sum() < 8:
            return None, kept
        fit = np.asarray(np.linalg.lstsq(design[kept], offsets[kept], rcond=None)[0], dtype=np.float64)
        off = np.abs(offsets - design @ fit)
        spread = 1.4826 * float(np.median(off[kept]))
        now = seen & (off <= max(2.5 * spread, 0.15))
        if np.array_equal(now, kept):
            break
        kept = now
    return fit, kept
