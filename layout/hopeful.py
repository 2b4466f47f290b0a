"""Hopeful maps: where a part might lie, if everything unsure goes well. For bounds only.

A cell of a hopeful map is false only if NO place in it is allowed in ANY pose
with ANY share of planing. So every layout there is lies on true cells, and what
cannot be done on hopeful maps cannot be done at all. Half a tenth of a millimetre
is conceded to whoever measures.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import ceil, floor

import numpy as np
import shapely
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from shapely import Point, box
from shapely.geometry.base import BaseGeometry

from layout.demands import Demand, demands
from layout.faults import Shown, shown_of
from layout.ground import Ground, extreme_rows
from layout.kept import Kept
from layout.offcuts import rectangle_in
from layout.parts import Part
from layout.poses import box_size, left_of, poses
from layout.stock import Where

__all__ = ["hopeful_map", "hopeful_rectangles"]

Map = NDArray[np.bool_]
Rectangle = tuple[float, float, float, float]
Stretches = tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]
# By obstacles, and rows of a part: from where to where they reach in each row of places [mm].
Reached = dict[tuple[bytes, float, float], tuple[NDArray[np.float64], NDArray[np.float64]]]

_GIVE = 0.06  # conceded all round [mm]
_TINY = 1e-9
_MEETING = 1e-6  # stretches nearer than this are one [mm]
_FAR = 3e4  # beyond any board [mm]
_INSCRIBED = 4
_SPACING = 4.0  # of points that stand for a curve, at most [mm]
_MOST = 4_000_000  # of rectangles of shapes kept from one map to the next [bytes]


def hopeful_map(ground: Ground, part: Part) -> Map:
    """Cells, of the ground's pitch, in which the part's corner might lie; shape (columns, rows)."""
    length, width = box_size(part, ground.board, ground.shop)
    room_x, room_y = ground.length - length + _GIVE, ground.width - width + _GIVE
    lying = poses(part, ground.board, ground.shop) if room_x >= 0 and room_y >= 0 else ()
    if not lying:
        return np.zeros((1, 1), dtype=np.bool_)
    shape = (floor(room_x / ground.column) + 1, floor(room_y / ground.row) + 1)
    if lying[0].tilt:
        return np.ones(shape, dtype=np.bool_)
    wood = _stretches(
        ground, shape, [((0.0, 0.0, length, width), np.flatnonzero(ground.parted.convex_rows.owner < 0))], {}
    )
    outside = _cells_of(ground, shape, wood)
    found = np.zeros(shape, dtype=np.bool_)
    seen, reached = set(), Reached()
    for shown in _least_shown(ground, part, [pose.from_front for pose in lying]):
        for pose in lying:
            told = demands(ground.faults, part, ground.shop, replace(pose, from_front=0.0), shown=shown)
            key = frozenset(item.key for item in told)
            if key in seen:
                continue
            seen.add(key)
            found |= ~_cells_of(ground, shape, wood, _stretches(ground, shape, _asked(ground, told), reached))
            if bool((found | outside).all()):
                return found
    return found


def _asked(ground: Ground, told: Sequence[Demand]) -> list[tuple[Rectangle, NDArray[np.int64]]]:
    """Rectangles that may not touch obstacles, and which."""
    owner = ground.parted.convex_rows.owner
    return [
        (shape.bounds, np.flatnonzero(np.isin(owner, list(item.defects))))
        for item in told
        for shape in _upright(item.laid.shape, ground.row)
    ]


def hopeful_rectangles(found: Map, ground: Ground) -> list[Rectangle]:
    """Rectangles (x0, y0, x1, y1) of places that together cover a hopeful map, from the ground's origin [mm].

    Runs of like rows are joined, so there are few of them; they do not overlap
    but for their rims.
    """
    rectangles: list[Rectangle] = []
    running: dict[tuple[int, int], int] = {}
    rows = found.shape[1]
    for j in range(rows + 1):
        runs = _runs(found[:, j]) if j < rows else []
        for run in [run for run in running if run not in runs]:
            start = running.pop(run)
            rectangles.append(
                (run[0] * ground.column, start * ground.row, run[1] * ground.column, j * ground.row)
            )
        for run in runs:
            running.setdefault(run, j)
    return rectangles


def _runs(line: Map) -> list[tuple[int, int]]:
    steps = np.flatnonzero(np.diff(np.concatenate(([False], line, [False])).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(steps[::2], steps[1::2], strict=True)]


def _least_shown(ground: Ground, part: Part, planings: Sequence[float]) -> list[Shown]:
    """What shows of the defects in a few shares of planing; any other shows all that one of them does.

    The more is planed off the front, the less is left of what reaches in from there, and
    the more of what reaches in from the back. So the least amounts that make a
    difference to the former are enough.
    """
    board, least, most = ground.board, min(planings), max(planings)
    depths = [item.depth for item in board.defects if item.depth is not None and item.where is Where.FRONT]
    reaches = {least, *depths, *(depth - part.thickness for depth in depths)}
    found: dict[Shown, None] = {}
    for planed in sorted(reach for reach in reaches if least <= reach <= most):
        lefts = [
            left_of(item, board, part.thickness, planed + (_GIVE if item.where is Where.FRONT else -_GIVE))
            for item in board.defects
        ]
        found[shown_of(lefts)] = None
    return list(found)


def _upright(shape: BaseGeometry, row: float) -> list[BaseGeometry]:
    """Upright rectangles, lines along or across, and points of a shape; anything else of it is hoped away."""
    parts = list(shape.geoms) if hasattr(shape, "geoms") else [shape]
    found = []
    for part in parts:
        x0, y0, x1, y1 = part.bounds
        line = part.geom_type == "LineString" and (x1 - x0 < 1e-6 or y1 - y0 < 1e-6)
        if line or (part.geom_type == "Polygon" and part.area >= (x1 - x0) * (y1 - y0) - 1e-6):
            found.append(part)
        elif part.geom_type == "LineString":
            found += [Point(xy) for xy in shapely.get_coordinates(shapely.segmentize(part, _SPACING))]
        elif part.geom_type == "Polygon":
            found += _inscribed(part)
            found += _bands(part, row)
    return found


def _inscribed(shape: BaseGeometry) -> list[BaseGeometry]:
    """A few upright rectangles that lie in a shape: what touches one of them touches the shape.

    The same shape is asked about for every board.
    """
    known = _known.get(shape.wkb)
    if known is not None:
        return known
    found: list[BaseGeometry] = []
    rest = shape
    for _ in range(_INSCRIBED):
        inner = rectangle_in(rest)
        if inner is None:
            break
        found.append(box(*inner))
        rest = rest.difference(found[-1])
    return _known.put(shape.wkb, found)


def _bands(shape: BaseGeometry, row: float) -> list[BaseGeometry]:
    """What of a shape fills bands two rows wide, in which an obstacle of one row is sure to be met."""
    x0, y0, x1, y1 = shape.bounds
    found: list[BaseGeometry] = []
    for j in range(ceil(y0 / row - _TINY), floor(y1 / row + _TINY) - 1):
        near, far = j * row, (j + 2) * row
        missing = shapely.get_parts(box(x0, near, x1, far).difference(shape))
        x = x0
        for low, _, high, _ in [*sorted(piece.bounds for piece in missing), (x1, near, x1, far)]:
            if low > x + _GIVE:
                found.append(box(x, near, low, far))
            x = max(x, high)
    return found


def _stretches(
    ground: Ground,
    shape: tuple[int, int],
    asked: list[tuple[Rectangle, NDArray[np.int64]]],
    reached: Reached,
) -> Stretches:
    """Rows, and from where to where along them no place is good, wherever in the row it lies [mm].

    How far obstacles reach in rows that were asked for before is known; what is found is added.
    """
    _, rows = shape
    fine = ground.parted
    parts = round(ground.row / fine.row)
    found = [(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))]
    for (x0, y0, x1, y1), which in asked:
        first, last = parts + ceil((y0 + _GIVE) / fine.row), floor((y1 - _GIVE) / fine.row) - 1
        if not len(which) or (y1 - y0 >= 1e-6 and last < first):
            continue
        key_of = which.tobytes(), y0, y1
        if key_of in reached:
            near, far = reached[key_of]
        elif y1 - y0 < 1e-6:
            lines = range(floor((y0 - _GIVE) / fine.row), parts + ceil((y0 + _GIVE) / fine.row) + 1)
            near, far = _on_line(fine, which, lines, rows, parts)
        else:
            low, high = fine.convex_rows.low[which], fine.convex_rows.high[which]
            near, far = (found[:, ::parts] for found in extreme_rows(low, high, first, last, rows * parts))
        reached[key_of] = near, far
        piece, j = np.nonzero(near - x1 < far - x0)
        # A fault was cut into pieces: where one ends the next begins, and nothing lies between them.
        owner = fine.convex_rows.owner[which][piece]
        key, near, far = _joined(
            j + rows * (owner - owner.min(initial=0)), near[piece, j] - x1, far[piece, j] - x0
        )
        near, far = near + _GIVE, far - _GIVE
        there = near < far
        found.append((key[there] % rows, near[there], far[there]))
    row, near, far = (np.concatenate(every) for every in zip(*found, strict=True))
    return row, near, far


def _joined(key: NDArray[np.int64], near: NDArray[np.float64], far: NDArray[np.float64]) -> Stretches:
    """Stretches with those of one key joined that meet or overlap."""
    if not len(key):
        return key, near, far
    near, far = np.clip(near, -_FAR, _FAR), np.clip(far, -_FAR, _FAR)
    order = np.lexsort((near, key))
    key, near = key[order], near[order]
    at = 3.0 * _FAR * (np.cumsum(np.diff(key, prepend=key[0]) > 0))  # one key behind the other on one line
    reached = np.maximum.accumulate(far[order] + at)
    starts = np.flatnonzero(np.concatenate(([True], (near + at)[1:] > reached[:-1] + _MEETING)))
    ends = np.concatenate((starts[1:], [len(key)])) - 1
    return key[starts], near[starts], reached[ends] - at[ends]


def _cells_of(ground: Ground, shape: tuple[int, int], *stretches: Stretches) -> Map:
    """Cells that stretches cover together: one may end in a cell in which another has begun."""
    columns, rows = shape
    row, near, far = _joined(*(np.concatenate(every) for every in zip(*stretches, strict=True)))
    begin = np.clip(np.floor(near / ground.column) + 1, 0, columns).astype(np.int64)
    end = np.clip(np.ceil(far / ground.column) - 1, 0, columns).astype(np.int64)
    there = begin < end
    cells = (columns + 1) * rows
    steps = np.bincount(begin[there] * rows + row[there], minlength=cells)
    steps -= np.bincount(end[there] * rows + row[there], minlength=cells)
    found: Map = np.cumsum(steps.reshape(columns + 1, rows), axis=0)[:-1] > 0
    return found


def _on_line(
    fine: Ground, which: NDArray[np.int64], lines: range, rows: int, parts: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Stretches that obstacles take on a line along the board, wherever in a row's parts it lies, by row.

    They reach over the lines of the ground before and behind it, by what is conceded at least.
    """
    every = fine.convex_lines.low.shape[1]
    before, after = max(-lines.start, 0), max((rows - 1) * parts + lines.stop - every, 0)
    first = lines.start + before

    def of_each_row(values: NDArray[np.float64], nothing: float) -> NDArray[np.float64]:
        wide = np.full((len(which), before + every + after), nothing)
        wide[:, before : before + every] = values[which]
        windows = sliding_window_view(wide[:, first:], len(lines), axis=1)
        return windows[:, : (rows - 1) * parts + 1 : parts]

    near = of_each_row(fine.convex_lines.low, np.inf).max(axis=2)
    return near, of_each_row(fine.convex_lines.high, -np.inf).min(axis=2)


def _bytes(rectangles: list[BaseGeometry]) -> int:
    return 1_000 + 200 * len(rectangles)


_known: Kept[list[BaseGeometry]] = Kept(_MOST, _bytes)
