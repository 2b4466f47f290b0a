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
from numpy.typing import NDArray
from shapely import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.covered import Asked, covered
from layout.demands import Demand, demands
from layout.faults import Shown, shown_of
from layout.ground import Ground
from layout.kept import Kept
from layout.offcuts import rectangle_in
from layout.parts import Part
from layout.placement import sawn_on_board
from layout.poses import Pose, as_placement, box_size, left_of, poses
from layout.stock import Where

__all__ = ["hopeful_map", "hopeful_rectangles"]

Map = NDArray[np.bool_]
Rectangle = tuple[float, float, float, float]

_GIVE = 0.06  # conceded all round [mm]
_TINY = 1e-9
_INSCRIBED = 4
_LEAST_ROWS = 3  # parted, beyond one of the map's own, of which one is met in any case
_CORNERS = 5  # of a rectangle, the first one told again at the end
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
    spans = ground.spans
    parts, faults = round(ground.row / ground.parted.row), len(ground.grown)

    def barred(asked: list[Asked]) -> Map:
        return covered(spans, asked, shape, parts, ground.column, _GIVE)

    nobody = np.zeros(faults + 1, dtype=np.bool_)
    nobody[0] = True
    wood = _asked(ground, _sawn(ground, part, lying[0]), nobody)
    outside = barred(wood)
    found = np.zeros(shape, dtype=np.bool_)
    seen = set()
    for shown in _least_shown(ground, part, [pose.from_front for pose in lying]):
        for pose in lying:
            told = demands(ground.faults, part, ground.shop, replace(pose, from_front=0.0), shown=shown)
            key = frozenset(item.key for item in told)
            if key in seen:
                continue
            seen.add(key)
            found |= ~barred([*wood, *_refused(ground, told)])
            if bool((found | outside).all()):
                return found
    return found


def _sawn(ground: Ground, part: Part, pose: Pose) -> BaseGeometry:
    """The sawn piece, from the corner of the upright box round it."""
    placed = as_placement(part, 1, ground.board, ground.shop, 0.0, 0.0, pose)
    return Polygon(sawn_on_board(placed, part, ground.shop.allowances))


def _refused(ground: Ground, told: Sequence[Demand]) -> list[Asked]:
    """Rectangles that may not touch obstacles, and which."""
    found = []
    for item in told:
        owners = np.zeros(len(ground.grown) + 1, dtype=np.bool_)
        owners[[number + 1 for number in item.defects]] = True
        found += _asked(ground, item.laid.shape, owners)
    return found


def _asked(ground: Ground, shape: BaseGeometry, owners: Map) -> list[Asked]:
    """What a shape asks of obstacles, rectangle by rectangle of it."""
    return [asked for one in _upright(shape, ground) for asked in _asked_of(ground, one.bounds, owners)]


def _asked_of(ground: Ground, rectangle: Rectangle, owners: Map) -> list[Asked]:
    """What a rectangle asks of the rows parted, or of the lines between them; nothing if too thin."""
    x0, y0, x1, y1 = rectangle
    row = ground.parted.row
    parts = round(ground.row / row)
    if y1 - y0 < 1e-6:
        return [Asked(x0, x1, floor((y0 - _GIVE) / row), parts + ceil((y0 + _GIVE) / row), True, owners)]
    first, last = parts + ceil((y0 + _GIVE) / row), floor((y1 - _GIVE) / row) - 1
    return [Asked(x0, x1, first, last, False, owners)] if first <= last else []


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


def _upright(shape: BaseGeometry, ground: Ground) -> list[BaseGeometry]:
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
            if shapely.get_num_coordinates(part) > _CORNERS:  # bands do for a rectangle that lies tilted
                found += _inscribed(part)
            found += _bands(part, ground)
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


def _bands(shape: BaseGeometry, ground: Ground) -> list[BaseGeometry]:
    """What of a shape fills bands so wide that obstacles are met there, wherever in a row it lies."""
    row, wide = ground.row, ground.row + max(ground.row, _LEAST_ROWS * ground.parted.row)
    x0, y0, x1, y1 = shape.bounds
    found: list[BaseGeometry] = []
    for j in range(ceil(y0 / row - _TINY), floor((y1 - wide) / row + _TINY) + 1):
        near, far = j * row, j * row + wide
        missing = shapely.get_parts(box(x0, near, x1, far).difference(shape))
        x = x0
        for low, _, high, _ in [*sorted(piece.bounds for piece in missing), (x1, near, x1, far)]:
            if low > x + _GIVE:
                found.append(box(x, near, low, far))
            x = max(x, high)
    return found


def _bytes(rectangles: list[BaseGeometry]) -> int:
    return 1_000 + 200 * len(rectangles)


_known: Kept[list[BaseGeometry]] = Kept(_MOST, _bytes)
