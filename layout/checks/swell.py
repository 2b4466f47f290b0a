"""A shape made larger or smaller by an error that is not the same along the grain and across it."""

import shapely
from shapely.geometry.base import BaseGeometry

__all__ = ["swollen"]


def swollen(shape: BaseGeometry, along: float, across: float) -> BaseGeometry:
    """All that an ellipse of half axes (along, across) reaches from a shape; below 0, all it leaves whole.

    Neither may have another sign than the other [mm].
    """
    if abs(along - across) < 1e-9:
        return shape.buffer(along, quad_segs=32)
    least = 1e-4 if max(along, across) > 0 else -1e-4
    half = (along or least, across or least)
    unit = shapely.transform(shape, lambda points: points / [abs(half[0]), abs(half[1])])
    grown = unit.buffer(1.0 if half[0] > 0 else -1.0, quad_segs=32)
    return shapely.transform(grown, lambda points: points * [abs(half[0]), abs(half[1])])
