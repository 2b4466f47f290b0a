"""The shapes of a part that may have demands on the wood, as they lie in a pose.

A shape lies alike on every board (but for a tilt), so it is laid once and kept.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import ceil

import numpy as np
import shapely
from shapely import MultiLineString, Polygon, union_all
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop, sawn_length, sawn_width
from layout.faults import covers
from layout.kept import Kept
from layout.outline import Outline
from layout.parts import Part, PartSide, Zone
from layout.poses import Pose, moved

__all__ = ["Laid", "laid", "laid_out", "shapes_of", "side_lines"]

_TINY = 1e-6
_FACES = (PartSide.FACE, PartSide.BACK)
_MOST = 24_000_000  # of shapes kept from one plan to the next [bytes]


@dataclass(frozen=True, eq=False, slots=True)
class Laid:
    """One shape in one pose, from the corner of the upright box round the sawn piece.

    Parameters
    ----------
    shape : shapely geometry
        Polygons, or lines for edges and ends [mm].
    upright : tuple of (x0, y0, x1, y1)
        Those of its pieces that are upright rectangles, or lines along or across the board [mm].
    others : tuple of shapely geometry
        The rest of it, polygons and lines, cut short along the grain [mm].
    key : hashable
        The same for shapes that cover the same ground.
    """

    shape: BaseGeometry
    upright: tuple[tuple[float, float, float, float], ...]
    others: tuple[BaseGeometry, ...]
    key: tuple[object, ...]


def laid(part: Part, pose: Pose, shop: Shop) -> dict[str, Laid]:
    """Every shape of a part that is not empty, by name, as it lies in a pose."""
    sawn_long, sawn_wide = sawn_length(part, shop.allowances), sawn_width(part, shop.allowances)
    plain = Pose(pose.face_from, pose.end_for_end, pose.tilt)
    key = (part.length, part.width, part.outline, part.zones, sawn_long, sawn_wide, plain)
    found = _known.get(key)
    return _known.put(key, _laid(*key)) if found is None else found


def _laid(
    length: float,
    width: float,
    outline: Outline | None,
    zones: tuple[Zone, ...],
    sawn_long: float,
    sawn_wide: float,
    pose: Pose,
) -> dict[str, Laid]:
    part = Part(
        "laid",
        length,
        width,
        1.0,
        outline=outline,
        zones=zones,
        length_allowance=max(sawn_long - length, 0.0),
        width_allowance=max(sawn_wide - width, 0.0),
    )
    shapes = {name: shape for name, shape in _shapes(part.shape, zones).items() if not shape.is_empty}
    once = {id(shape): shape for shape in shapes.values()}  # a face with nothing covered is the whole part
    found = {number: laid_out(shape, part, pose, Shop()) for number, shape in once.items()}
    return {name: found[id(shape)] for name, shape in shapes.items()}


def laid_out(shape: BaseGeometry, part: Part, pose: Pose, shop: Shop) -> Laid:
    """A shape of the part's frame as it lies in a pose."""
    shape = shapely.transform(shape, lambda points: moved(points, pose, part, shop))
    upright, others = [], []
    for piece in _simple(shape):
        x0, y0, x1, y1 = piece.bounds
        if piece.geom_type == "Polygon":
            square = piece.area >= (x1 - x0) * (y1 - y0) - _TINY
        else:
            square = x1 - x0 < _TINY or y1 - y0 < _TINY
        if square:
            upright.append((x0, y0, x1, y1))
        else:
            others.append(piece)
    rounded = tuple(tuple(round(value, 6) for value in box) for box in upright)
    key = (shape.geom_type, *rounded, *(shapely.normalize(piece).wkb for piece in others))
    return Laid(shape, tuple(upright), tuple(others), key)


def side_lines(part: Part) -> dict[PartSide, MultiLineString]:
    """Edges and ends of the finished part as lines of its own frame [mm].

    A stretch of a shaped part's outline belongs to the edge or end it faces: to
    an edge if it looks at least as much across the grain as along it.
    """
    return _lines(part.shape)


def _lines(outline: Outline) -> dict[PartSide, MultiLineString]:
    stretches: dict[PartSide, list[Outline]] = {}
    for (x0, y0), (x1, y1) in zip(outline, outline[1:] + outline[:1], strict=True):
        along, across = y1 - y0, x0 - x1
        if abs(across) >= abs(along):
            side = PartSide.NEAR_EDGE if across < 0 else PartSide.FAR_EDGE
        else:
            side = PartSide.NEAR_END if along < 0 else PartSide.FAR_END
        stretches.setdefault(side, []).append(((x0, y0), (x1, y1)))
    return {side: MultiLineString(lines) for side, lines in stretches.items()}


def shapes_of(part: Part) -> dict[str, BaseGeometry]:
    """Every shape the part may have demands for, by name, in its own frame; some are empty [mm]."""
    return _shapes(part.shape, part.zones)


@lru_cache(maxsize=512)
def _shapes(outline: Outline, zones: tuple[Zone, ...]) -> dict[str, BaseGeometry]:
    """Every shape a part may have demands for, by name, in its own frame [mm]."""
    whole = Polygon(outline)
    shapes: dict[str, BaseGeometry] = {"whole": whole}
    for number, zone in enumerate(zones):
        shapes[f"zone {number}"] = Polygon(zone.outline).intersection(whole)
    for side in _FACES:
        covered = union_all([Polygon(zone.outline) for zone in covers(zones, side)])
        shapes[f"open {side.value}"] = whole if covered.is_empty else whole.difference(covered)
        shapes[f"covered {side.value}"] = whole.intersection(covered)
    shapes.update({side.value: lines for side, lines in _lines(outline).items()})
    return shapes


def _simple(shape: BaseGeometry) -> list[BaseGeometry]:
    """Polygons and single lines of a shape; one that a line along the grain meets twice is cut up."""
    found: list[BaseGeometry] = []
    for part in shapely.get_parts(shape):
        x0, y0, x1, y1 = part.bounds
        square = part.area >= (x1 - x0) * (y1 - y0) - _TINY
        if square or part.geom_type == "LineString" or _meets_once(part):
            found.append(part)
            continue
        edges = np.linspace(x0, x1, ceil((x1 - x0) / 60.0) + 1)
        slabs = shapely.intersection(part, shapely.box(edges[:-1], y0 - 1, edges[1:], y1 + 1))
        found += [
            piece
            for piece in shapely.get_parts(shapely.get_parts(slabs))
            if piece.geom_type in ("Polygon", "LineString")
        ]
    return found


def _meets_once(part: BaseGeometry) -> bool:
    """Whether hardly any line along the grain leaves the shape and comes back into it."""
    if part.convex_hull.area <= part.area + _TINY:  # no line does
        return True
    x0, y0, x1, y1 = part.bounds
    ys = np.linspace(y0, y1, 42)[1:-1]
    lines = shapely.linestrings([[(x0 - 1, y), (x1 + 1, y)] for y in ys])
    crossed = shapely.intersection(lines, part)
    x_low, _, x_high, _ = shapely.bounds(crossed).T
    return bool(np.all(x_high - x_low <= shapely.length(crossed) + 2.0))


def _bytes(shapes: dict[str, Laid]) -> int:
    """What shapes take, as measured in their thousands: Python's part and the geometry library's."""
    several = {id(one): one for one in shapes.values()}.values()
    pieces = [piece for one in several for piece in (one.shape, *one.others)]
    return 500 + 400 * len(several) + 400 * len(pieces) + 30 * int(shapely.get_num_coordinates(pieces).sum())


_known: Kept[dict[str, Laid]] = Kept(_MOST, _bytes)
