"""The outline of a board whose edges are not straight: the border between wood and ground, point by point.

Looked for in the true-scale frame, where a board lies level: along each column the
wood's own colours, learnt from the board's middle, give way to the ground's, learnt
from beyond its edges.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString

from vision.errors import VisionError
from vision.frame import Frame
from vision.waney_step import stepped

__all__ = ["waney_outline"]

_WORK = 1.0  # px per mm
_MARGIN_MM = 45.0
_STEP_MM = 10.0
_FINE = 2.0  # rows per mm in which the arris is looked for
_ABOUT_MM, _ABOUT = 4.5, 7  # about each station, how far and how often it is looked
_CLOSE_MM = 0.7
_BEND, _PASSES = 4, 4  # a crooked board is followed along its own axis, a curve of this degree
_BENDS_MM = 12.0  # of bend that is left; an edge is looked for up to 29 mm beside where it is expected
_SEED = 20
_MOST_BARK_MM = 40.0
_BARK_DARKER = 15.0  # in lightness, 0 to 100; judged on made boards, no source
_BARK_STATIONS = 5
_LEAST_BARK_MM = 3.0
_RIM_PX = 4.5  # in a coarse photograph the border itself is a rim as dark as bark, so wide


def waney_outline(
    rgb: NDArray[np.uint8],
    frame: Frame,
    length_mm: float,
    width_mm: float,
    *,
    open_ends: tuple[bool, bool] = (False, False),
) -> tuple[tuple[float, float], ...]:
    """The outline of a board with waney edges, in the frame's millimetres.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
        The photograph.
    frame : Frame
        In which the board's four corners are near (0, 0) and (length, width).
    length_mm, width_mm : float
    open_ends : tuple of bool
        Whether the board runs on beyond the near, and beyond the far end, as a piece of it does.

    Returns
    -------
    tuple of (float, float)
        Corners in order along the datum edge and back; y may be below 0 or above
        the width where an edge bulges beyond its ends [mm].

    Raises
    ------
    VisionError
        The wood cannot be told from the ground.
    """
    stations = np.linspace(2.0, length_mm - 2.0, max(2, round((length_mm - 4.0) / _STEP_MM) + 1))
    axis = np.zeros(_BEND + 1)
    for _ in range(_PASSES):
        upper, lower = _followed(rgb, frame, (length_mm, width_mm), stations, open_ends, axis)
        further = np.polyfit(stations, (upper + lower - width_mm) / 2, _BEND)
        aside = np.polyval(further, stations)
        if np.abs(aside - np.linspace(aside[0], aside[-1], aside.size)).max() < _BENDS_MM:
            break
        upper, lower, axis = upper - aside, lower - aside, axis + further
    edges = []
    for border in (upper, lower):
        smooth = _smooth(border) + np.polyval(axis, stations)
        line = LineString(np.column_stack([stations, smooth])).simplify(_CLOSE_MM)
        edges.append(np.array(line.coords))
    for edge in edges:
        edge[0, 0], edge[-1, 0] = 0.0, length_mm
    ring = np.concatenate([edges[0], edges[1][::-1]])
    return tuple((float(x), float(y)) for x, y in ring)


def _smooth(border: NDArray[np.float64]) -> NDArray[np.float64]:
    """Medians of five stations, of fewer towards the ends; an end itself where it runs as its neighbours."""
    last = border.size - 1
    halves = [min(2, k, last - k) for k in range(border.size)]
    smooth = np.array([np.median(border[k - half : k + half + 1]) for k, half in enumerate(halves)])
    if last >= 2:
        for end, one, two in ((0, 1, 2), (last, last - 1, last - 2)):
            smooth[end] = np.median([border[end], 2 * smooth[one] - smooth[two], smooth[one]])
    return smooth


def _followed(
    rgb: NDArray[np.uint8],
    frame: Frame,
    size_mm: tuple[float, float],
    stations: NDArray[np.float64],
    open_ends: tuple[bool, bool],
    axis: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Both edges at every station, counted across from a board of that size bent along `axis` [mm]."""
    length_mm, width_mm = size_mm
    picture, seen = _level(rgb, frame, length_mm, width_mm, axis)
    mask = _wood(picture, seen, width_mm, open_ends)
    columns = np.clip(np.rint((stations + _MARGIN_MM) * _WORK).astype(int), 0, mask.shape[1] - 1)
    upper, lower = _borders(mask, columns)
    if np.isnan(upper).mean() > 0.2:
        raise VisionError("the board's edges cannot be told from the ground; draw its outline by hand")
    light = np.asarray(cv2.cvtColor(picture, cv2.COLOR_RGB2LAB), dtype=np.float32)[..., 0] / 2.55
    middle = frame.to_px([[length_mm / 2, 0.0], [length_mm / 2, width_mm]])
    rim = max(_LEAST_BARK_MM, _RIM_PX * width_mm / float(np.hypot(*(middle[1] - middle[0]))))
    upper, lower = (
        border + way * _bark(light, columns, border, way, rim) for border, way in ((upper, 1), (lower, -1))
    )
    upper, lower = _stepped(rgb, frame, stations, (upper, lower), width_mm, axis)
    known = [~np.isnan(border) for border in (upper, lower)]
    return (
        np.interp(stations, stations[known[0]], upper[known[0]]),
        np.interp(stations, stations[known[1]], lower[known[1]]),
    )


def _level(
    rgb: NDArray[np.uint8], frame: Frame, length_mm: float, width_mm: float, axis: NDArray[np.float64]
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """The board and a margin round it at _WORK px per mm, and what of that lies in the photograph."""
    x = np.arange(-_MARGIN_MM, length_mm + _MARGIN_MM, 1 / _WORK)
    y = np.arange(-_MARGIN_MM, width_mm + _MARGIN_MM, 1 / _WORK)
    where = _bent(frame, x, y, axis)
    seen = (where[..., 0] >= 0) & (where[..., 1] >= 0)
    seen &= (where[..., 0] <= rgb.shape[1] - 1) & (where[..., 1] <= rgb.shape[0] - 1)
    picture = cv2.remap(
        rgb,
        np.ascontiguousarray(where[..., 0], dtype=np.float32),
        np.ascontiguousarray(where[..., 1], dtype=np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(picture, dtype=np.uint8), np.asarray(seen, dtype=np.bool_)


def _bent(
    frame: Frame, x: NDArray[np.float64], y: NDArray[np.float64], axis: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Where a grid of places is seen whose rows are bent along `axis`, [y, x, 2]."""
    grid = np.stack(np.meshgrid(x, y), axis=-1)
    grid[..., 1] += np.polyval(axis, grid[..., 0])
    return frame.to_px(grid)


def _stepped(
    rgb: NDArray[np.uint8],
    frame: Frame,
    stations: NDArray[np.float64],
    borders: tuple[NDArray[np.float64], NDArray[np.float64]],
    width_mm: float,
    axis: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Both borders moved onto the arris beside them, each looked for on its own half of the board [mm]."""
    x = stations[:, None] + np.linspace(-_ABOUT_MM, _ABOUT_MM, _ABOUT)[None, :]
    y = np.arange(-_MARGIN_MM, width_mm + _MARGIN_MM, 1 / _FINE)
    where = _bent(frame, x.ravel(), y, axis)
    seen = cv2.remap(
        rgb,
        np.ascontiguousarray(where[..., 0], dtype=np.float32),
        np.ascontiguousarray(where[..., 1], dtype=np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    lab = np.asarray(cv2.cvtColor(np.asarray(seen, dtype=np.float32) / 255.0, cv2.COLOR_RGB2LAB))
    lab = lab.reshape(y.size, stations.size, _ABOUT, 3).mean(axis=2)
    half = y.size // 2
    upper = stepped(lab[:half], (borders[0] + _MARGIN_MM) * _FINE, 1, _FINE)
    lower = stepped(lab[half:], (borders[1] + _MARGIN_MM) * _FINE - half, -1, _FINE) + half
    return (upper - 0.5) / _FINE - _MARGIN_MM, (lower + 0.5) / _FINE - _MARGIN_MM


def _wood(
    picture: NDArray[np.uint8], seen: NDArray[np.bool_], width_mm: float, open_ends: tuple[bool, bool]
) -> NDArray[np.bool_]:
    """Where GrabCut sees wood, from the sure middle of the board and the sure rim of the margin."""
    edge = round(_MARGIN_MM * _WORK)
    # Beyond an open end there is wood, which is not to be learnt as ground.
    cut = slice(edge if open_ends[0] else 0, picture.shape[1] - (edge if open_ends[1] else 0))
    whole, picture, seen = picture, picture[:, cut], seen[:, cut]
    height, width = picture.shape[:2]
    sure = round(min(0.3 * width_mm, 60.0) * _WORK)
    state = np.full((height, width), cv2.GC_PR_FGD, dtype=np.uint8)
    state[: edge - 8], state[edge + round(width_mm * _WORK) + 8 :] = cv2.GC_PR_BGD, cv2.GC_PR_BGD
    rim = round(0.35 * edge)
    state[:rim], state[-rim:] = cv2.GC_BGD, cv2.GC_BGD
    near, far = (0 if is_open else edge for is_open in open_ends)
    state[:, : max(0, near - 2)], state[:, width - max(0, far - 2) :] = cv2.GC_BGD, cv2.GC_BGD
    state[edge + sure : height - edge - sure, near + 4 : width - far - 4] = cv2.GC_FGD
    state[~seen] = cv2.GC_BGD
    if not (np.any(state == cv2.GC_FGD) and np.any(state == cv2.GC_BGD)):
        raise VisionError("too little of the board is in the picture; draw its outline by hand")
    cv2.setRNGSeed(_SEED)
    ground, wood = np.zeros((1, 65)), np.zeros((1, 65))
    bgr = np.ascontiguousarray(picture[..., ::-1])
    cv2.grabCut(bgr, state, (0, 0, width, height), ground, wood, 4, cv2.GC_INIT_WITH_MASK)
    mask = np.isin(state, (cv2.GC_FGD, cv2.GC_PR_FGD)).astype(np.uint8)
    mask = np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((5, 9), np.uint8)), dtype=np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    if len(stats) < 2:
        raise VisionError("the board cannot be told from the ground; draw its outline by hand")
    wood_seen = np.zeros(whole.shape[:2], dtype=np.bool_)
    wood_seen[:, cut] = labels == 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
    return wood_seen


def _bark(
    light: NDArray[np.float32],
    columns: NDArray[np.intp],
    border: NDArray[np.float64],
    way: int,
    least_mm: float,
) -> NDArray[np.float64]:
    """How far inside each border the wood begins, where darker bark lies outside it [mm].

    Bark is unlike the ground too, so it was taken for the board. A dark knot at the
    edge is a matter of a column or two, bark of many.
    """
    deep = np.zeros(columns.size)
    smooth = np.asarray(cv2.blur(light, (9, 1)))
    reach, beyond = round(_MOST_BARK_MM * _WORK), round(10 * _WORK)
    for k in np.flatnonzero(~np.isnan(border)):
        first = round((border[k] + _MARGIN_MM) * _WORK)
        rows = first + way * np.arange(reach + beyond)
        if rows.min() < 0 or rows.max() >= light.shape[0]:
            continue
        run = smooth[rows, columns[k]].astype(np.float64)
        total = np.concatenate([[0.0], np.cumsum(run)])
        depths = np.arange(int(np.ceil(least_mm * _WORK)), reach)
        outside = total[depths] / depths
        inside = (total[depths + beyond] - total[depths]) / beyond
        step = inside - outside
        best = int(step.argmax())
        if step[best] > _BARK_DARKER:
            deep[k] = depths[best] / _WORK
    half = _BARK_STATIONS // 2
    return np.array([np.median(deep[max(0, k - half) : k + half + 1]) for k in range(deep.size)])


def _borders(
    mask: NDArray[np.bool_], columns: NDArray[np.intp]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """First and last wood of each column [mm], knots and gaps inside ignored; nan where there is none."""
    upper, lower = np.full(columns.size, np.nan), np.full(columns.size, np.nan)
    for k, column in enumerate(columns):
        rows = np.flatnonzero(mask[:, column])
        if rows.size >= 5:
            upper[k] = (rows[0] - 0.5) / _WORK - _MARGIN_MM
            lower[k] = (rows[-1] + 0.5) / _WORK - _MARGIN_MM
    return upper, lower
