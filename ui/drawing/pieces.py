"""The pieces sawn from one board, each with the mark that is chalked on it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import cos, radians, sin

from layout.allowances import Allowances, Shop, sawn_length, sawn_width
from layout.outline import Outline, Point, bounds_of
from layout.panels import sawn_parts
from layout.parts import Part, PartSide, Visibility
from layout.placement import Layout, Placement, on_board, sawn_on_board
from layout.stock import Board, Face

__all__ = ["Piece", "chalk_marks", "copy_marks", "listed", "pieces_on", "point_on_board"]

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # without I and O, which read as 1 and 0


@dataclass(frozen=True)
class Piece:
    """One copy of a part on its board.

    Parameters
    ----------
    mark : str
        What is chalked on it, for example "B2": the second copy of the list's second line.
    part : Part
    placement : Placement
    sawn, finished : Outline
        In the board frame [mm].
    """

    mark: str
    part: Part
    placement: Placement
    sawn: Outline
    finished: Outline

    @property
    def copy(self) -> int:
        """1 for the first of its quantity."""
        return self.placement.copy

    def side_towards(self, face: Face) -> PartSide:
        """The side of the part that is looked at on this board face."""
        return PartSide.FACE if self.placement.face_from is face else PartSide.BACK

    def seen(self, face: Face) -> Visibility:
        """How the side looked at on this board face will be seen."""
        return self.part.visibility(self.side_towards(face))

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """Extent of the sawn piece in the board frame [mm]."""
        return bounds_of(self.sawn)


def chalk_marks(parts: Sequence[Part]) -> dict[str, str]:
    """A letter for each line of the cutting list, in its order: A to Z without I and O, then AA, AB ..."""
    return {part.name: _letter(index) for index, part in enumerate(parts)}


def _letter(index: int) -> str:
    before, last = divmod(index, len(_LETTERS))
    return (_letter(before - 1) if before else "") + _LETTERS[last]


def listed(parts: Sequence[Part], shop: Shop, layout: Layout) -> dict[str, Part]:
    """Every name a placement may go by: the cutting list's own, and staves and layers of what is glued up."""
    found = {part.name: part for part in parts}
    found.update({part.name: part for part in sawn_parts(parts, shop, layout.glue_ups)})
    return found


def copy_marks(parts: Sequence[Part], layout: Layout) -> Callable[[str, int], str]:
    """What is chalked on a copy: "B2", or "A1.3" for stave or layer 3 of panel A1.

    Returns
    -------
    callable
        From the name a placement goes by and its copy.
    """
    letters = chalk_marks(parts)
    glued = {
        (stave.part, stave.copy): f"{letters[item.part]}{item.copy}.{number}"
        for item in layout.glue_ups
        for number, stave in enumerate(item.staves, start=1)
        if stave.part not in letters
    }
    return lambda name, copy: glued.get((name, copy)) or f"{letters.get(name, '?')}{copy}"


def pieces_on(board: Board, parts: Sequence[Part], shop: Shop, layout: Layout) -> tuple[Piece, ...]:
    """The pieces sawn from a board, from the datum end on."""
    by_name, mark = listed(parts, shop, layout), copy_marks(parts, layout)
    found = []
    for placement in layout.on(board.id):
        part = by_name[placement.part]
        sawn = sawn_on_board(placement, part, shop.allowances)
        finished = on_board(part.shape, placement, part, shop.allowances)
        found.append(Piece(mark(part.name, placement.copy), part, placement, sawn, finished))
    return tuple(sorted(found, key=lambda piece: (piece.box[0], piece.box[1], piece.mark)))


def point_on_board(point: Point, placement: Placement, part: Part, allowances: Allowances) -> Point:
    """A point of the finished part's frame in the board frame [mm] (see `layout.placement`)."""
    long, wide = sawn_length(part, allowances), sawn_width(part, allowances)
    u, v = point[0] + (long - part.length) / 2, point[1] + (wide - part.width) / 2
    dx = (long - u if placement.end_for_end else u) - long / 2
    mirrored = placement.end_for_end != (placement.face_from is Face.BACK)
    dy = (wide - v if mirrored else v) - wide / 2
    turn = radians(placement.tilt)
    middle_x, middle_y = placement.x + long / 2, placement.y + wide / 2
    return middle_x + dx * cos(turn) - dy * sin(turn), middle_y + dx * sin(turn) + dy * cos(turn)
