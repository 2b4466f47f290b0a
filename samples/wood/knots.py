"""Knots: branches as cones from the pith, and the grain that flows round them.

A branch leaves the pith at an angle, thickens, lives as far as `alive` from the
pith (the knot is intergrown, sound), is dead and wrapped in its own bark as far
as `end`, and beyond that the tree has closed over it and the wood is clear::

    pith                    alive          end     bark
     o========---------------|##############|        |
       sound, widening         dead, bark     clear, grain still disturbed
"""

from dataclasses import dataclass

import numpy as np

from samples.wood.noise import Floats

__all__ = ["Around", "Knot", "around"]

_LONG = 2.3  # how much further the grain is disturbed along itself than across


@dataclass(frozen=True)
class Knot:
    """One branch.

    Parameters
    ----------
    id : str
    x : float
        Where it leaves the pith, along the log [mm].
    turn : float
        Its direction round the log [rad].
    tilt : float
        How far it leans from square across towards the top of the log [rad].
    radius : float
        Of the branch at and beyond `alive` [mm].
    alive, end : float
        Distances along the branch from the pith [mm]; end >= alive.
    pin : bool
        A small shoot rather than a branch.
    tone : float
        Shade against the usual of its species.
    pale : float
        How far its colour is that of the wood round it, 0 to 1.
    weep : float
        Strength of the colour it has left along the grain.
    hole : bool
        Its dead stretch has fallen out.
    """

    id: str
    x: float
    turn: float
    tilt: float
    radius: float
    alive: float
    end: float
    pin: bool = False
    tone: float = 0.0
    pale: float = 0.0
    weep: float = 0.0
    hole: bool = False

    @property
    def axis(self) -> tuple[float, float, float]:
        """Unit vector along the branch, in log coordinates."""
        across = float(np.cos(self.tilt))
        return (
            float(np.sin(self.tilt)),
            across * float(np.cos(self.turn)),
            across * float(np.sin(self.turn)),
        )


@dataclass(frozen=True)
class Around:
    """Points seen from a branch; all arrays of one shape [mm].

    Parameters
    ----------
    along : array
        Distance along the branch from the pith.
    off : array
        Distance from its axis.
    lift, side : array
        The two parts of `off`: along the grain, and across it.
    radius, stem : array
        Of the branch there: as it is, and if it were round.
    e_side : tuple of float
        Direction of `side` in (u, v).
    """

    along: Floats
    off: Floats
    lift: Floats
    side: Floats
    radius: Floats
    stem: Floats
    e_side: tuple[float, float]

    def inside(self, knot: Knot) -> Floats:
        """Signed distance to the knot's surface, positive inside [mm]."""
        reach = np.minimum(self.along + 0.5, np.float32(knot.end) - self.along)
        return np.asarray(np.minimum(self.radius - self.off, reach), dtype=np.float32)

    def shift_across(self, knot: Knot) -> Floats:
        """How far the fibres have been pushed aside, as flow round a cylinder [mm]."""
        r2 = np.square(self.stem)
        reach = np.square(self.lift / np.float32(_LONG)) + np.square(self.side)
        pushed = self.side * r2 / np.maximum(reach, r2)
        fade = np.exp(-np.maximum(np.sqrt(reach) - self.stem, 0) / (self.stem * 3 + 1))
        pushed = np.float32(0.9) * pushed * fade * self.closing(knot) * self.nearness()
        return np.asarray(pushed, dtype=np.float32)

    def bulge(self, knot: Knot) -> Floats:
        """How far the rings have been lifted by the branch [mm]."""
        wide = np.sqrt(np.square(self.lift / np.float32(1.7)) + np.square(self.side))
        beyond = np.maximum(wide - self.stem, 0)
        height = np.float32(1.1) * self.stem * np.exp(-beyond / (self.stem * np.float32(0.9) + 1))
        return np.asarray(height * self.closing(knot) * self.nearness(), dtype=np.float32)

    def reach(self) -> Floats:
        """Distance from the axis beyond which the grain is not disturbed at all [mm]."""
        return np.asarray(np.float32(7) * self.stem + 8, dtype=np.float32)

    def nearness(self) -> Floats:
        """1 at the axis, falling smoothly to 0 at `reach`."""
        return np.asarray(np.square(np.maximum(1 - np.square(self.off / self.reach()), 0)), np.float32)

    def closing(self, knot: Knot) -> Floats:
        """1 beside the branch, fading over its closed end and before the pith."""
        late = np.maximum(self.along - np.float32(knot.end), 0) / np.float32(8 * knot.radius + 8)
        early = np.clip(self.along / np.float32(2 * knot.radius + 2) + 0.3, 0, 1)
        return np.asarray(np.square(np.maximum(1 - np.square(late), 0)) * early, dtype=np.float32)


def around(knot: Knot, x: Floats, u: Floats, v: Floats) -> Around:
    """Points seen from a branch: x along the log, (u, v) from the pith [mm]."""
    ax, au, av = (np.float32(value) for value in knot.axis)
    wx = x - np.float32(knot.x)
    along = wx * ax + u * au + v * av
    px, pu, pv = wx - along * ax, u - along * au, v - along * av
    e_side = (-float(np.sin(knot.turn)), float(np.cos(knot.turn)))
    side = pu * np.float32(e_side[0]) + pv * np.float32(e_side[1])
    off = np.sqrt(px * px + pu * pu + pv * pv)
    lift = px / np.float32(np.cos(knot.tilt))
    grown = np.clip(along / np.float32(max(knot.alive, 1.0)), 0.02, 1.0)
    stem = np.asarray(np.float32(knot.radius) * np.power(grown, np.float32(0.75)), np.float32)
    # no branch is quite round
    angle = np.arctan2(side, lift)
    form = np.ones_like(angle)
    for waves, height in ((2, 0.05), (3, 0.04), (5, 0.03), (8, 0.015)):
        form += np.float32(height) * np.cos(waves * angle + np.float32(1.7 * waves + 0.31 * knot.x))
    return Around(along, off, lift, side, np.asarray(stem * form, np.float32), stem, e_side)
