"""The ways a part can lie on a board, and what of each defect is left in it then.

A pose says which board face becomes the part's face side, whether the part lies
end for end, how it is tilted, and how much is planed off the board's front.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, cos, degrees, radians, sin, tan

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Shop, sawn_length, sawn_width
from layout.outline import Point
from layout.parts import Part
from layout.placement import Placement
from layout.stock import Board, Defect, Face, Where

__all__ = ["Left", "Pose", "as_placement", "box_size", "left_of", "moved", "poses"]

_MOST_PLANINGS = 6
_EPS = 1e-6


@dataclass(frozen=True)
class Pose:
    """One way to lie.

    Parameters
    ----------
    face_from : Face
        Board face that becomes the part's face side.
    end_for_end : bool
    tilt : float
        [degrees]
    from_front : float
        Planed off the board's front face [mm].
    """

    face_from: Face = Face.FRONT
    end_for_end: bool = False
    tilt: float = 0.0
    from_front: float = 0.0


@dataclass(frozen=True)
class Left:
    """What planing leaves of a defect: whether it shows on the planed front and back, or inside at all."""

    front: bool
    back: bool
    inside: bool


def left_of(defect: Defect, board: Board, thickness: float, from_front: float) -> Left:
    """What is left of a defect in a part of this thickness (meaning: `layout.rules`) [mm]."""
    if defect.where is Where.THROUGH:
        return Left(True, True, True)
    on_front = defect.where is Where.FRONT
    if defect.depth is None:
        return Left(on_front, not on_front, True)
    planed = from_front if on_front else board.thickness - thickness - from_front
    inside = defect.depth > planed + _EPS
    through = inside and defect.depth >= planed + thickness - _EPS
    return Left((inside and on_front) or through, (inside and not on_front) or through, inside)


def poses(part: Part, board: Board, shop: Shop, planings: int = _MOST_PLANINGS) -> tuple[Pose, ...]:
    """Every pose worth trying; none if the board is too thin or its grain runs too steeply.

    Parameters
    ----------
    part, board, shop
    planings : int
        Most ways to share the planing between the faces: evenly, least and most
        at the front, then as the depths of the board's defects suggest.
    """
    tilt = _tilt(part, board, shop)
    if tilt is None:
        return ()
    turns = (False, True) if part.turn_end_for_end else (False,)
    return tuple(
        Pose(face, turned, tilt, from_front)
        for from_front in _planings(part, board, shop)[:planings]
        for face in _faces(part, board)
        for turned in turns
    )


def moved(
    points: Sequence[Point] | NDArray[np.float64], pose: Pose, part: Part, shop: Shop
) -> NDArray[np.float64]:
    """Points of the finished part's frame as they lie from the corner of the upright box round the piece.

    Returns
    -------
    array, shape (n, 2), (x, y)
        [mm]
    """
    length, width = sawn_length(part, shop.allowances), sawn_width(part, shop.allowances)
    ground = np.asarray(points, dtype=np.float64)
    dx = ground[:, 0] - part.length / 2
    dy = ground[:, 1] - part.width / 2
    if pose.end_for_end:
        dx = -dx
    if pose.end_for_end != (pose.face_from is Face.BACK):
        dy = -dy
    turn = radians(pose.tilt)
    box_length, box_width = _box(length, width, pose.tilt)
    return np.stack(
        (box_length / 2 + dx * cos(turn) - dy * sin(turn), box_width / 2 + dx * sin(turn) + dy * cos(turn)),
        axis=1,
    )


def box_size(part: Part, board: Board, shop: Shop) -> tuple[float, float]:
    """Length and width of the upright rectangle round the sawn piece on this board [mm]."""
    tilt = _tilt(part, board, shop) or 0.0
    return _box(sawn_length(part, shop.allowances), sawn_width(part, shop.allowances), tilt)


def as_placement(
    part: Part, copy: int, board: Board, shop: Shop, x: float, y: float, pose: Pose
) -> Placement:
    """The placement whose upright box has its corner nearest the origin at (x, y) [mm]."""
    length, width = sawn_length(part, shop.allowances), sawn_width(part, shop.allowances)
    box_length, box_width = _box(length, width, pose.tilt)
    return Placement(
        part.name,
        copy,
        board.id,
        x + (box_length - length) / 2,
        y + (box_width - width) / 2,
        face_from=pose.face_from,
        end_for_end=pose.end_for_end,
        tilt=pose.tilt,
        from_front=pose.from_front,
    )


def _box(length: float, width: float, tilt: float) -> tuple[float, float]:
    if tilt == 0.0:
        return length, width
    turn = abs(radians(tilt))
    return length * cos(turn) + width * sin(turn), length * sin(turn) + width * cos(turn)


def _faces(part: Part, board: Board) -> tuple[Face, ...]:
    """Board faces that may become the face side: heart up or down, where asked and known."""
    if part.heart_up is None or board.heart is None:
        return Face.FRONT, Face.BACK
    return (board.heart if part.heart_up else board.heart.other,)


def _tilt(part: Part, board: Board, shop: Shop) -> float | None:
    """The smallest tilt that keeps the grain within its slope [degrees]."""
    most = shop.max_slope if part.max_slope is None else part.max_slope
    if abs(tan(radians(board.grain))) <= most:
        return 0.0
    # A hair inside the limit, so that rounding never puts the grain outside it.
    allowed = max(degrees(atan(most)) - 1e-4, 0.0)
    return board.grain - allowed if board.grain > 0 else board.grain + allowed


def _planings(part: Part, board: Board, shop: Shop) -> list[float]:
    """Amounts planed off the front that differ in what they leave of the defects [mm]."""
    spare = board.thickness - part.thickness
    least, most = shop.allowances.skim, spare - shop.allowances.skim
    if most < least - _EPS:
        return []
    most = max(most, least)
    middle = min(max(spare / 2, least), most)
    wanted = [middle, least, most]
    for defect in board.defects:
        if defect.depth is None:
            continue
        reaches = (defect.depth, defect.depth - part.thickness - 0.1)
        wanted += reaches if defect.where is Where.FRONT else [spare - reach for reach in reaches]
    found: dict[tuple[Left, ...], float] = {}
    for value in wanted:
        if least - _EPS <= value <= most + _EPS:
            value = min(max(value, least), most)
            what_is_left = tuple(left_of(item, board, part.thickness, value) for item in board.defects)
            found.setdefault(what_is_left, value)
    return list(found.values())[:_MOST_PLANINGS]
