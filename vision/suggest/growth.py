"""The wood round a knot whose grain turns aside: part of the fault wherever grain counts."""

from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from layout.outline import Outline, bounds_of, normal_outline
from layout.stock import DefectKind
from vision.suggest.found import polygon_of

__all__ = ["KNOTS", "DisturbedGrain", "grown"]

KNOTS = (DefectKind.SOUND_KNOT, DefectKind.DEAD_KNOT, DefectKind.PIN_KNOT)


@dataclass(frozen=True)
class DisturbedGrain:
    """How far grain is disturbed beyond a knot, in diameters of the knot on each side.

    Common practice, no source: one diameter along the grain, a quarter across.
    """

    along: float = 1.0
    across: float = 0.25

    def __post_init__(self) -> None:
        for name, value in (("along", self.along), ("across", self.across)):
            if not (np.isfinite(value) and 0.0 <= value <= 5.0):
                raise ValueError(f"disturbed grain {name} is {value}; give 0 to 5 diameters of the knot")


def grown(outline: Outline, disturbed: DisturbedGrain, length: float, width: float) -> Outline:
    """A knot's outline stretched over the grain it disturbs, but not beyond the board.

    Parameters
    ----------
    outline : Outline
        In the board frame, x along the grain [mm].
    disturbed : DisturbedGrain
    length, width : float
        Of the board [mm].
    """
    x0, y0, x1, y1 = bounds_of(outline)
    diameter = min(x1 - x0, y1 - y0)
    wide = 1 + 2 * disturbed.along * diameter / (x1 - x0)
    high = 1 + 2 * disturbed.across * diameter / (y1 - y0)
    shape = polygon_of(outline)
    assert shape is not None, "an outline encloses ground"
    middle = (x0 + x1) / 2, (y0 + y1) / 2
    hull = (
        np.asarray(shape.convex_hull.exterior.coords[:-1]) if isinstance(shape.convex_hull, Polygon) else None
    )
    points = hull if hull is not None else np.asarray(outline)
    ring = (points - middle) * (wide, high) + middle
    return normal_outline(
        ((min(max(x, 0.0), length), min(max(y, 0.0), width)) for x, y in ring), "disturbed grain"
    )
