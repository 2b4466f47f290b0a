"""A layout: where each part lies on which board, as plain values.

From part frame to board frame
------------------------------
`Placement.x, y` is the corner of the SAWN piece nearest the board's origin
(before any tilt). With sawn size L x W, and a point (u, v) of the sawn piece in
the part frame (face side towards you)::

    board face that becomes    end for end    point in the board frame
    the part's face side
    ------------------------   -----------    ------------------------
    front                      no             (x + u,     y + v)
    front                      yes            (x + L - u, y + W - v)
    back                       no             (x + u,     y + W - v)
    back                       yes            (x + L - u, y + v)

A tilt then turns the piece about the middle of the sawn rectangle, positive
from x towards y.

Planing: the board loses `from_front` at its front face and the rest of
(board thickness - part thickness) at its back face.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import cos, isfinite, radians, sin

from layout.allowances import Allowances, Sawing, sawn_length, sawn_width
from layout.glue import GlueUp, Repair
from layout.outline import Outline, normal_outline, rectangle
from layout.parts import Part
from layout.stock import Face

__all__ = [
    "Bound",
    "Cut",
    "CutKind",
    "Layout",
    "Offcut",
    "Placement",
    "Unplaced",
    "on_board",
    "sawn_on_board",
]


@dataclass(frozen=True)
class Placement:
    """One copy of a part on a board.

    Parameters
    ----------
    part : str
        Name of the part.
    copy : int
        1 for the first of its quantity.
    board : str
    x, y : float
        Corner of the sawn piece nearest the origin, before tilt, in the board frame [mm].
    face_from : Face
        The board face that becomes the part's face side.
    end_for_end : bool
    tilt : float
        [degrees]
    from_front : float
        Planed off the board's front face [mm].
    locked : bool
        Put there by the maker, or already cut: no plan moves it.
    cut : bool
        Already sawn out.
    """

    part: str
    copy: int
    board: str
    x: float
    y: float
    face_from: Face = Face.FRONT
    end_for_end: bool = False
    tilt: float = 0.0
    from_front: float = 0.0
    locked: bool = False
    cut: bool = False

    def __post_init__(self) -> None:
        for what in ("x", "y", "tilt", "from_front"):
            value = getattr(self, what)
            if not isfinite(value):
                raise ValueError(f"placement of {self.part}: {what} is {value}; give a finite number")
        if self.copy < 1:
            raise ValueError(f"placement of {self.part}: copy is {self.copy}; the first is 1")


class CutKind(StrEnum):
    """Across the grain or along it."""

    CROSSCUT = "crosscut"
    RIP = "rip"


@dataclass(frozen=True)
class Cut:
    """One straight saw cut, as the slot the blade makes.

    Parameters
    ----------
    board : str
    order : int
        1 is sawn first on its board.
    kind : CutKind
        A crosscut runs along y, a rip along x.
    at : float
        Side of the slot nearest the origin: x of a crosscut, y of a rip [mm];
        the slot reaches to at + kerf.
    start, end : float
        Extent of the piece being sawn, along the cut [mm].
    stage : int
        1 for cuts through the whole board.
    kept_before : bool
        Whether the measured piece lies on the origin's side of the slot.
    """

    board: str
    order: int
    kind: CutKind
    at: float
    start: float
    end: float
    stage: int
    kept_before: bool = True


@dataclass(frozen=True)
class Offcut:
    """A rectangle of a board left over and big enough to keep, in the board frame [mm]."""

    board: str
    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True)
class Unplaced:
    """A copy of a part that found no place, and why, in one sentence fit to show."""

    part: str
    copy: int
    reason: str


@dataclass(frozen=True)
class Bound:
    """A proof of how good a layout can be: no layout of this class costs less.

    Parameters
    ----------
    cost : float
        Money no layout of the class can undercut.
    sawing : Sawing
        The class the bound holds for; it is never printed beside a layout of another class.
    proved : bool
        The layout meets its bound: it is the cheapest there is.
    method : str
        How it was proved, in a few words.
    """

    cost: float
    sawing: Sawing
    proved: bool
    method: str


@dataclass(frozen=True)
class Layout:
    """Everything a plan answers; its cost is money for boards and for repairs."""

    placements: tuple[Placement, ...] = ()
    cuts: tuple[Cut, ...] = ()
    offcuts: tuple[Offcut, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    cost: float = 0.0
    sawing: Sawing = Sawing.CROSSCUT_FIRST
    bound: Bound | None = None
    seed: int = 0
    repairs: tuple[Repair, ...] = ()
    glue_ups: tuple[GlueUp, ...] = ()

    @property
    def boards_used(self) -> tuple[str, ...]:
        """Boards with at least one part, in the order they first appear."""
        return tuple(dict.fromkeys(placement.board for placement in self.placements))

    def on(self, board: str) -> tuple[Placement, ...]:
        """The placements on one board."""
        return tuple(item for item in self.placements if item.board == board)


def on_board(outline: Outline, placement: Placement, part: Part, allowances: Allowances) -> Outline:
    """An outline of the finished part's frame (shape, zone), in the board frame [mm]."""
    length, width = sawn_length(part, allowances), sawn_width(part, allowances)
    left, top = (length - part.length) / 2, (width - part.width) / 2
    return _moved([(left + u, top + v) for u, v in outline], placement, length, width)


def sawn_on_board(placement: Placement, part: Part, allowances: Allowances) -> Outline:
    """The sawn piece, a rectangle (turned by the tilt), in the board frame [mm]."""
    length, width = sawn_length(part, allowances), sawn_width(part, allowances)
    return _moved(list(rectangle(0.0, 0.0, length, width)), placement, length, width)


def _moved(points: list[tuple[float, float]], placement: Placement, length: float, width: float) -> Outline:
    mirrored = placement.face_from is Face.BACK
    flip_x = placement.end_for_end
    flip_y = placement.end_for_end != mirrored
    middle_x, middle_y = placement.x + length / 2, placement.y + width / 2
    turn = radians(placement.tilt)
    moved = []
    for u, v in points:
        dx = (length - u if flip_x else u) - length / 2
        dy = (width - v if flip_y else v) - width / 2
        moved.append((middle_x + dx * cos(turn) - dy * sin(turn), middle_y + dx * sin(turn) + dy * cos(turn)))
    return normal_outline(moved, f"{placement.part} on board {placement.board}")
