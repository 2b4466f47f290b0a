"""A board sawn from a log as a box, and the truth about it.

Board frame as in `layout.stock`: x along, y across, z from the front face into
the wood [mm]. The box lies in the log so that board (0, 0, 0) is at
(x0, u0, v0) and y points in the direction `turn` round the log axis; a small
`slope` turns the box in its own plane, so that the grain runs at an angle.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from layout.stock import Face, Turn
from samples.wood.faults import Branch, Fault, Pith, Points, Sapwood
from samples.wood.log import Log
from samples.wood.noise import Floats

__all__ = ["SawnBoard", "saw"]


@dataclass(frozen=True)
class SawnBoard:
    """One board.

    Parameters
    ----------
    id : str
    log : Log
    length, width, thickness : float
        The box [mm]; a waney board fills it only in part.
    x0, u0, v0 : float
        Board (0, 0, 0) in the log [mm].
    turn : float
        Direction of board y round the log axis [rad].
    slope : float
        Angle of the grain to x, positive from x towards y [rad].
    extra : tuple of Fault
        Faults beyond the log's own knots, sapwood and pith.
    planed : bool
        Planed, else as sawn: duller, with the saw's marks.
    turned : Turn
        How it is turned over for the picture of its back.
    """

    id: str
    log: Log
    length: float
    width: float
    thickness: float
    x0: float
    u0: float
    v0: float
    turn: float
    slope: float = 0.0
    extra: tuple[Fault, ...] = ()
    planed: bool = True
    turned: Turn = Turn.ROLLED

    @property
    def across(self) -> tuple[float, float]:
        """Direction of board y in (u, v)."""
        return float(np.cos(self.turn)), float(np.sin(self.turn))

    @property
    def down(self) -> tuple[float, float]:
        """Direction of board z in (u, v)."""
        return -float(np.sin(self.turn)), float(np.cos(self.turn))

    def in_log(self, x: Floats, y: Floats, z: Floats | float) -> tuple[Floats, Floats, Floats]:
        """Log coordinates of board points [mm]; arrays broadcast to one shape."""
        cos, sin = np.float32(np.cos(self.slope)), np.float32(np.sin(self.slope))
        shape = np.broadcast_shapes(x.shape, y.shape, np.shape(z))
        along = np.float32(self.x0) + x * cos + y * sin
        over = y * cos - x * sin
        (yu, yv), (zu, zv) = self.across, self.down
        deep = np.asarray(z, np.float32)
        u = np.float32(self.u0) + over * np.float32(yu) + deep * np.float32(zu)
        v = np.float32(self.v0) + over * np.float32(yv) + deep * np.float32(zv)
        return (
            np.array(np.broadcast_to(along, shape)),
            np.array(np.broadcast_to(u, shape)),
            np.array(np.broadcast_to(v, shape)),
        )

    def points(self, x: Floats, y: Floats, z: Floats | float) -> Points:
        """Board points with what the log says of them [mm]."""
        along, u, v = self.in_log(x, y, z)
        pith_u, pith_v = self.log.pith(along[:1] if self.slope == 0.0 and along.ndim == 2 else along)
        return Points(along, u - pith_u, v - pith_v, self.log.grown(along, u, v), self.log)

    def depth_of(self, face: Face) -> float:
        """Z of a face [mm]."""
        return 0.0 if face is Face.FRONT else self.thickness

    @cached_property
    def waney(self) -> bool:
        """Whether any bark edge is left on it."""
        x = np.arange(0, self.length + 1, 10, dtype=np.float32)[None, :]
        y = np.linspace(0, self.width, 41, dtype=np.float32)[:, None]
        return any(
            bool((self.log.bark_edge(self.points(x, y, z).grown) < 0).any()) for z in (0.0, self.thickness)
        )

    @cached_property
    def faults(self) -> tuple[Fault, ...]:
        """All that could be wrong with it, whether or not it shows."""
        inside: list[Fault] = [Sapwood(), Pith()] if self.log.species.sap_shows else [Pith()]
        inside.extend(Branch(knot) for knot in self.log.knots)
        x_far = self.x0 + self.length
        within = [f for f in inside if f.reach()[1] > self.x0 and f.reach()[0] < x_far]
        return (*within, *self.extra)


def saw(board: SawnBoard) -> SawnBoard:
    """The board with its box drawn in to the wood that is there (waney boards)."""
    if not board.waney:
        return board
    x = np.arange(0, board.length + 1, 8, dtype=np.float32)[None, :]
    y = np.arange(0, board.width + 0.01, 0.5, dtype=np.float32)[:, None]
    wood = np.zeros(y.shape[0], np.bool_)
    for z in (0.0, board.thickness):
        wood |= (board.log.bark_edge(board.points(x, y, z).grown) > 0).any(axis=1)
    filled = np.flatnonzero(wood)
    if len(filled) == 0:
        raise ValueError(f"board {board.id}: the box lies outside the log; move it nearer the pith")
    low, high = float(y[filled[0], 0]), float(y[filled[-1], 0])
    du, dv = board.across
    moved = replace(board, u0=board.u0 + low * du, v0=board.v0 + low * dv, width=high - low)
    moved.__dict__.pop("waney", None)
    return moved
