"""Clear maps of staves of any width, from the maps of the narrowest stave alone.

A stave of width w lies on the ground of all narrowest staves from its own near
edge on to w less the least further across::

    y    |==== least ====|
    ..     |==== least ====|
    y + w - least    |==== least ====|
         |========= w ===============|

So, in one and the same pose, it may lie where all of these may: one map for each
pose, and every further width costs a few additions. An edge that is seen counts
only for the narrowest stave on that edge. A defect that may not lie in a glued
edge is kept out of the middle too; that is careful, never hopeful.
"""

from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from layout.cells import Frame
from layout.clear import ClearMap
from layout.demands import demands
from layout.ground import Ground
from layout.kept import Kept
from layout.parts import Part
from layout.poses import Pose, box_size, poses
from layout.solve.family import Kind
from layout.solve.memory import known_map, likeness
from layout.stock import Face

__all__ = ["stave_map"]

_TINY = 1e-6
_PLANINGS = 3  # tried, as in other maps
_MOST = 60_000_000  # of bases kept from one plan to the next [bytes]


@dataclass(frozen=True)
class _Base:
    """What the narrowest stave may do in one pose.

    Parameters
    ----------
    seen : array of bool, shape (columns, rows)
        Where it may lie on the edge of the panel.
    barred : array of int, shape (columns, rows + 1)
        How many of the rows before are barred to it inside the panel.
    at_far_side : bool
        Whether the panel's edge is on the stave's side away from the datum edge.
    """

    seen: NDArray[np.bool_]
    barred: NDArray[np.int32]
    at_far_side: bool


def stave_map(ground: Ground, kind: Kind) -> ClearMap:
    """The clear map of a kind of stave."""
    part = kind.part
    length, width = box_size(part, ground.board, ground.shop)
    room_x, room_y = ground.length - length, ground.width - width
    lying = poses(part, ground.board, ground.shop, 1) if room_x >= -_TINY and room_y >= -_TINY else ()
    if not lying:
        return ClearMap(ground, length, width, np.zeros((1, 1), dtype=np.bool_))
    if lying[0].tilt:
        return known_map(ground, part)
    rows = floor(room_y / ground.row + _TINY) + 1
    more = (part.width - kind.slim.width) / ground.row
    ok = np.zeros((floor(room_x / ground.column + _TINY) + 1, rows), dtype=np.bool_)
    for base in _known(ground, kind):
        ok |= _widened(base, more, rows)
    return ClearMap(ground, length, width, ok, harmed=lambda: known_map(ground, part).harm)


def _widened(base: _Base, more: float, rows: int) -> NDArray[np.bool_]:
    """Where a stave so many rows wider than the narrowest may lie."""
    last = base.seen.shape[1]
    begin = np.arange(rows)
    end = np.minimum(begin + ceil(more - _TINY) + 1, last)
    found: NDArray[np.bool_] = base.barred[:, end] == base.barred[:, begin]
    if not base.at_far_side:
        return found & base.seen[:, :rows]
    for edge in {floor(more + _TINY), ceil(more - _TINY)}:
        found &= base.seen[:, np.minimum(begin + edge, last - 1)]
    return found


def _known(ground: Ground, kind: Kind) -> tuple[_Base, ...]:
    key = (
        ground.board,
        ground.shop,
        ground.column,
        ground.row,
        likeness(kind.slim),
        likeness(kind.inside),
        kind.far,
    )
    found = _bases.get(key)
    return _bases.put(key, tuple(_made(ground, kind))) if found is None else found


def _made(ground: Ground, kind: Kind) -> list[_Base]:
    """The narrowest stave in every pose that makes a difference."""
    bases: list[_Base] = []
    known: set[bytes] = set()
    for pose in poses(kind.slim, ground.board, ground.shop, _PLANINGS):
        seen, inside = _allowed(ground, kind.slim, pose), _allowed(ground, kind.inside, pose)
        far = (pose.end_for_end != (pose.face_from is Face.BACK)) != kind.far
        likeness_ = seen.tobytes() + inside.tobytes() + bytes([far])
        if likeness_ in known or not seen.any():
            continue
        known.add(likeness_)
        barred = np.zeros((inside.shape[0], inside.shape[1] + 1), dtype=np.int32)
        np.cumsum(~inside, axis=1, out=barred[:, 1:])
        bases.append(_Base(seen, barred, far))
    return bases


def _allowed(ground: Ground, part: Part, pose: Pose) -> NDArray[np.bool_]:
    length, width = box_size(part, ground.board, ground.shop)
    room_x, room_y = max(ground.length - length, 0.0), max(ground.width - width, 0.0)
    shape = (floor(room_x / ground.column + _TINY) + 1, floor(room_y / ground.row + _TINY) + 1)
    frame = Frame(ground, shape, room_x, length, width)
    found: NDArray[np.bool_] = ~frame.barred(demands(ground.faults, part, ground.shop, pose))
    return found


def _bytes(bases: tuple[_Base, ...]) -> int:
    return 2_000 + sum(base.seen.nbytes + base.barred.nbytes for base in bases)


_bases: Kept[tuple[_Base, ...]] = Kept(_MOST, _bytes)
