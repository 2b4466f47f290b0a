"""Closed outlines as plain tuples of points: checked and put in one normal form.

An outline is a tuple of (x, y) points in millimetres, without a repeated last
point. Two outlines that enclose the same ground compare equal after
`normal_outline`: the ring runs with positive area (x to the right, y down, so
clockwise on screen) and starts at its smallest point.
"""

from collections.abc import Iterable
from math import isfinite

from shapely.geometry import Polygon
from shapely.validation import explain_validity

__all__ = ["Outline", "Point", "area_of", "bounds_of", "normal_outline", "rectangle"]

Point = tuple[float, float]
Outline = tuple[Point, ...]

_FARTHEST = 1e6  # mm; no board is a kilometre long, and the geometry's arithmetic stays exact enough
_LEAST_AREA = 1e-6  # mm2; anything smaller is a slip of rounding


def normal_outline(points: Iterable[Iterable[float]], what: str = "outline") -> Outline:
    """The outline in normal form, or a ValueError that says what is wrong with it.

    Parameters
    ----------
    points : iterable of (x, y)
        Corners in order, either way round; a repeated last point is dropped [mm].
    what : str
        Name of the outline, used in the message.

    Raises
    ------
    ValueError
        Fewer than three corners, a corner that is not a finite number pair or a
        kilometre off, no area, or an outline that crosses itself.
    """
    ring: list[Point] = []
    for point in points:
        pair = tuple(float(value) for value in point)
        if len(pair) != 2 or not all(isfinite(value) for value in pair):
            raise ValueError(f"{what}: {pair} is not a point; give two finite numbers in mm")
        if max(abs(value) for value in pair) > _FARTHEST:
            raise ValueError(f"{what}: ({pair[0]:g}, {pair[1]:g}) is too far off; give numbers in mm")
        if not ring or pair != ring[-1]:
            ring.append((pair[0], pair[1]))
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()
    if len(ring) < 3:
        raise ValueError(f"{what}: {len(ring)} corners; at least three are needed")
    polygon = Polygon(ring)
    if polygon.area < _LEAST_AREA:
        raise ValueError(f"{what}: encloses no area")
    if not polygon.is_valid:
        raise ValueError(f"{what}: {explain_validity(polygon)}; draw it without crossing itself")
    if _signed_area(ring) < 0.0:
        ring.reverse()
    first = ring.index(min(ring))
    return tuple(ring[first:] + ring[:first])


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Outline:
    """The normal outline of an upright rectangle [mm]."""
    return normal_outline(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), "rectangle")


def bounds_of(outline: Outline) -> tuple[float, float, float, float]:
    """(x0, y0, x1, y1) of an outline [mm]."""
    xs = [x for x, _ in outline]
    ys = [y for _, y in outline]
    return min(xs), min(ys), max(xs), max(ys)


def area_of(outline: Outline) -> float:
    """Area enclosed by an outline [mm2]."""
    return abs(_signed_area(list(outline)))


def _signed_area(ring: list[Point]) -> float:
    following = ring[1:] + ring[:1]
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(ring, following, strict=True)) / 2
