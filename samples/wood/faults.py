"""Faults as solids in the log: each says of any point how far it lies inside.

Fissures run with the fibres and lie in planes that hold the pith (checks,
splits, heart shakes) or in a year's border (ring shakes), so one that shows on
two faces of a board shows where the log says, not where somebody drew it.
"""

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from layout.stock import DefectKind
from samples.wood.knots import Knot, around
from samples.wood.log import Grown, Log
from samples.wood.noise import Floats, noise, octaves

__all__ = ["Branch", "Fault", "Pith", "Pocket", "Points", "RingShake", "Sapwood", "Sheet", "Stain"]


@dataclass(frozen=True)
class Points:
    """Points of a board and where they lie in the log; arrays of one shape.

    Parameters
    ----------
    x, u, v : array
        Log coordinates from the pith as it stands [mm].
    grown : Grown
        The same points as the tree grew them.
    log : Log
    """

    x: Floats
    u: Floats
    v: Floats
    grown: Grown
    log: Log

    def part(self, window: tuple[slice, slice]) -> "Points":
        """The points in a window of the grid."""
        g = self.grown
        cut = Grown(g.x[window], g.u[window], g.v[window], g.rho[window], g.theta[window])
        return replace(self, x=self.x[window], u=self.u[window], v=self.v[window], grown=cut)


class Fault(Protocol):
    """A solid in the log."""

    @property
    def id(self) -> str: ...

    @property
    def kind(self) -> DefectKind: ...

    def reach(self) -> tuple[float, float]:
        """Least and greatest x in the log that it can reach [mm]."""

    def inside(self, points: Points) -> Floats:
        """Signed distance, positive inside [mm]."""


@dataclass(frozen=True)
class Branch:
    """A knot of the log as a fault."""

    knot: Knot

    @property
    def id(self) -> str:
        return self.knot.id

    @property
    def kind(self) -> DefectKind:
        return DefectKind.PIN_KNOT if self.knot.pin else DefectKind.SOUND_KNOT

    def reach(self) -> tuple[float, float]:
        far = self.knot.x + self.knot.axis[0] * self.knot.end
        pad = 2.5 * self.knot.radius + 6 + (12 * self.knot.radius + 8 if self.knot.weep > 0 else 0)
        return min(self.knot.x, far) - pad, max(self.knot.x, far) + pad

    def inside(self, points: Points) -> Floats:
        return around(self.knot, points.x, points.u, points.v).inside(self.knot)

    def kind_among(self, points: Points) -> DefectKind:
        """The kind it shows over the points inside it: dead where its bark wraps it."""
        seen = around(self.knot, points.x, points.u, points.v)
        filled = seen.inside(self.knot) > 0
        dead = filled.any() and float(np.median(seen.along[filled])) > self.knot.alive
        return DefectKind.DEAD_KNOT if dead and not self.knot.pin else self.kind


@dataclass(frozen=True)
class Sapwood:
    """All the sapwood of the log."""

    id: str = "sapwood"
    kind: DefectKind = DefectKind.SAPWOOD

    def reach(self) -> tuple[float, float]:
        return -1e6, 1e6

    def inside(self, points: Points) -> Floats:
        return points.log.sap_edge(points.grown)


@dataclass(frozen=True)
class Pith:
    """The pith and the juvenile wood that cracks with it."""

    id: str = "pith"
    kind: DefectKind = DefectKind.PITH
    radius: float = 3.0

    def reach(self) -> tuple[float, float]:
        return -1e6, 1e6

    def inside(self, points: Points) -> Floats:
        r = np.sqrt(points.u**2 + points.v**2)
        return np.asarray(np.float32(self.radius) - r, np.float32)


@dataclass(frozen=True)
class Sheet:
    """A check, a split or a heart shake: a thin sheet in a plane that holds the pith.

    Parameters
    ----------
    id : str
    kind : DefectKind
    x0, x1 : float
        From where to where along the log [mm].
    theta : float
        Direction of its plane from the pith [rad].
    near, far : float
        From where to where outwards from the pith [mm].
    width : float
        Gap at its widest [mm].
    open_at : int
        -1: widest at x0 (split from that end), 1: widest at x1, 0: widest in the middle.
    """

    id: str
    kind: DefectKind
    x0: float
    x1: float
    theta: float
    near: float
    far: float
    width: float
    open_at: int = 0

    def reach(self) -> tuple[float, float]:
        return self.x0 - 2, self.x1 + 2

    def profile(self, x: Floats) -> Floats:
        """Share of the full gap and depth at x, 0 to 1; below 0 beyond the ends."""
        t = (x - np.float32(self.x0)) / np.float32(self.x1 - self.x0)
        if self.open_at < 0:
            left = 1 - t
        elif self.open_at > 0:
            left = t
        else:
            left = 1 - np.square(2 * t - 1)
        return np.asarray(np.sign(left) * np.sqrt(np.abs(left)), np.float32)

    def inside(self, points: Points) -> Floats:
        grown = points.grown
        cos, sin = np.float32(np.cos(self.theta)), np.float32(np.sin(self.theta))
        zero = np.zeros_like(grown.x)
        stray = np.float32(0.5) * octaves(grown.x, zero, 45.0, 1.0, hash_of(self.id), 3)
        side = grown.v * cos - grown.u * sin + stray
        # beside a knot the fibres are squeezed together: a gap runs out there rather than opening wide
        squeezed = np.abs((grown.v - points.v) * cos - (grown.u - points.u) * sin)
        out = grown.u * cos + grown.v * sin
        share = self.profile(grown.x)
        middle = np.float32((self.near + self.far) / 2)
        deep = np.float32((self.far - self.near) / 2)
        room = deep * (share if self.open_at == 0 else np.sign(share)) - np.abs(out - middle)
        ragged = 1 + np.float32(0.3) * noise(grown.x, zero, 9.0, 1.0, hash_of(self.id) + 5)
        half = np.float32(self.width / 2) * share * np.maximum(ragged, 0.4)
        half = np.where(share > 0, half * np.clip(np.float32(1.3) - squeezed / np.float32(5), 0.02, 1), half)
        return np.asarray(np.minimum(half - np.abs(side), room), np.float32)


@dataclass(frozen=True)
class RingShake:
    """A gap along the border of a year.

    Parameters
    ----------
    id : str
    x0, x1 : float
        From where to where along the log [mm].
    rho : float
        The growth distance that has come apart [mm].
    theta, arc : float
        Middle direction and half its extent round the log [rad].
    width : float
        Gap at its widest [mm].
    """

    id: str
    x0: float
    x1: float
    rho: float
    theta: float
    arc: float
    width: float
    kind: DefectKind = DefectKind.SHAKE

    def reach(self) -> tuple[float, float]:
        return self.x0 - 2, self.x1 + 2

    def inside(self, points: Points) -> Floats:
        grown = points.grown
        t = 1 - np.square(2 * (grown.x - np.float32(self.x0)) / np.float32(self.x1 - self.x0) - 1)
        turn = np.mod(grown.theta - np.float32(self.theta) + np.float32(np.pi), np.float32(2 * np.pi))
        room = t - np.square((turn - np.float32(np.pi)) / np.float32(self.arc))
        share = np.sign(room) * np.sqrt(np.abs(room))
        gap = np.abs(grown.rho - np.float32(self.rho))
        return np.asarray(np.float32(self.width / 2) * share - gap, np.float32)


@dataclass(frozen=True)
class Pocket:
    """A bark or resin pocket: a lens that lies in a year's ring.

    Parameters
    ----------
    id : str
    kind : DefectKind
    x, theta, rho : float
        Its middle [mm, rad, mm].
    long, wide, thick : float
        Half its size along the log, round it and outwards [mm].
    """

    id: str
    kind: DefectKind
    x: float
    theta: float
    rho: float
    long: float
    wide: float
    thick: float

    def reach(self) -> tuple[float, float]:
        return self.x - self.long - 4, self.x + self.long + 4

    def inside(self, points: Points) -> Floats:
        grown = points.grown
        turn = np.mod(grown.theta - np.float32(self.theta) + np.float32(np.pi), np.float32(2 * np.pi))
        side = (turn - np.float32(np.pi)) * np.float32(self.rho)
        far = (
            np.square((grown.x - np.float32(self.x)) / np.float32(self.long))
            + np.square(side / np.float32(self.wide))
            + np.square((grown.rho - np.float32(self.rho)) / np.float32(self.thick))
        )
        rough = np.float32(0.18) * noise(grown.x, side, 6.0, 3.0, hash_of(self.id))
        return np.asarray((1 + rough - np.sqrt(far)) * np.float32(min(self.thick, self.wide)), np.float32)


@dataclass(frozen=True)
class Stain:
    """A discoloured place, ragged along the grain; sizes as for `Pocket`."""

    id: str
    x: float
    theta: float
    rho: float
    long: float
    wide: float
    thick: float
    blue: bool = False
    kind: DefectKind = DefectKind.STAIN

    def reach(self) -> tuple[float, float]:
        return self.x - 2.2 * self.long, self.x + 2.2 * self.long

    def inside(self, points: Points) -> Floats:
        grown = points.grown
        turn = np.mod(grown.theta - np.float32(self.theta) + np.float32(np.pi), np.float32(2 * np.pi))
        side = (turn - np.float32(np.pi)) * np.float32(self.rho)
        far = (
            np.square((grown.x - np.float32(self.x)) / np.float32(self.long))
            + np.square(side / np.float32(self.wide))
            + np.square((grown.rho - np.float32(self.rho)) / np.float32(self.thick))
        )
        ragged = octaves(grown.x, side, 70.0, 4.0, hash_of(self.id), 3)
        edge = 1 + np.float32(0.22) * np.clip(ragged, -2, 2) - np.sqrt(far)
        return np.asarray(edge * np.float32(min(self.thick, self.wide)), np.float32)


def hash_of(name: str) -> int:
    """A small number from a name, the same in every run."""
    value = 17
    for letter in name:
        value = (value * 131 + ord(letter)) % 99991
    return value
