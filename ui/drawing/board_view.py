"""One face of a board as it is looked at: the frame of its picture, its text size, its tape."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from layout.allowances import Allowances, Shop, sawn_length, sawn_width
from layout.outline import Outline, Point
from layout.parts import Part
from layout.placement import Cut, CutKind, Layout, Offcut
from layout.stock import Board, Face, Turn
from ui.drawing.fates import DefectFate, fates
from ui.drawing.measures import Tape, tape_step
from ui.drawing.pieces import Piece, pieces_on
from ui.drawing.scene import Box
from ui.lengths import Units

__all__ = ["BoardView", "board_tape"]


_UPRIGHT = 17  # most text heights across a board that stands upright: half a phone's width is left for it
_CLOSE = 0.15  # mm; a line this near to a piece's side is its side


@dataclass(frozen=True)
class BoardView:
    """A face of a board, everything that lies on it, and how board millimetres become picture millimetres.

    Parameters
    ----------
    board : Board
    parts : tuple of Part
        The whole cutting list, in its order.
    shop : Shop
    layout : Layout
    face : Face
    units : Units
    along : int
        Text heights to the length of the picture: 120 gives 2 mm type where it is printed 240 mm wide.
    upright : bool
        The board stands on its far end, datum end on top, as a phone held upright shows it.
    """

    board: Board
    parts: tuple[Part, ...]
    shop: Shop
    layout: Layout
    face: Face
    units: Units = "mm"
    along: int = 120
    upright: bool = False

    def seen(self, point: Point) -> Point:
        """A point of the board frame in the picture of this face [mm]."""
        x, y = point if self.face is Face.FRONT else self.board.back_seen(*point)
        if not self.upright:
            return x, y
        return (self.board.width - y, x) if self.datum_end_left else (y, self.board.length - x)

    @property
    def wide(self) -> float:
        """Of the board in the picture [mm]."""
        return self.board.width if self.upright else self.board.length

    @property
    def high(self) -> float:
        """Of the board in the picture [mm]."""
        return self.board.length if self.upright else self.board.width

    def level(self, kind: CutKind) -> bool:
        """Whether a chain of cuts of this kind runs level in the picture (its cuts run upright)."""
        return (kind is CutKind.CROSSCUT) != self.upright

    def seen_outline(self, outline: Iterable[Point]) -> Outline:
        """An outline of the board frame in the picture of this face [mm]."""
        return tuple(self.seen(point) for point in outline)

    def seen_box(self, box: Box) -> Box:
        """An upright box of the board frame in the picture of this face [mm]."""
        (ax, ay), (bx, by) = self.seen((box[0], box[1])), self.seen((box[2], box[3]))
        return min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)

    @property
    def datum_end_left(self) -> bool:
        """Whether the datum end lies at the left of the picture, as the board lies flat."""
        return self.face is Face.FRONT or self.board.turned is Turn.ROLLED

    @property
    def datum_edge_top(self) -> bool:
        """Whether the datum edge lies at the top of the picture, as the board lies flat."""
        return self.face is Face.FRONT or self.board.turned is Turn.TUMBLED

    @property
    def unit(self) -> float:
        """Height of the type [mm of board]."""
        flat = max(self.board.length, 2.2 * self.board.width) * 1.1 / self.along
        return max(flat, self.board.width / _UPRIGHT) if self.upright else flat

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        return pieces_on(self.board, self.parts, self.shop, self.layout)

    @cached_property
    def cuts(self) -> tuple[Cut, ...]:
        """The cuts of this board in their order."""
        own = [cut for cut in self.layout.cuts if cut.board == self.board.id]
        return tuple(sorted(own, key=lambda cut: cut.order))

    @cached_property
    def offcuts(self) -> tuple[Offcut, ...]:
        return tuple(item for item in self.layout.offcuts if item.board == self.board.id)

    @cached_property
    def fates(self) -> tuple[DefectFate, ...]:
        return fates(self.board, self.parts, self.shop, self.layout)

    def sawn_size(self, piece: Piece) -> tuple[float, float]:
        """Length and width a piece is sawn to [mm]."""
        part, allowances = piece.part, self.shop.allowances
        long = self.tape.sawn(sawn_length(part, allowances), part.length)
        return long, self.tape.sawn(sawn_width(part, allowances), part.width)

    @cached_property
    def tape(self) -> Tape:
        return board_tape(self.pieces, self.shop.allowances, self.units)

    def reading(self, cut: Cut) -> float:
        """Where the line of a cut is marked, from the datum end or edge, as the tape is read [mm].

        The line is the side of the slot next to the measured piece; the kerf lies beyond it.
        """
        return self._readings[cut.order]

    @cached_property
    def _readings(self) -> dict[int, float]:
        """The nearest reading of each line, moved on where a piece would come out below its finished size."""
        found: dict[int, float] = {}
        for cut in sorted(self.cuts, key=lambda each: each.at):
            found[cut.order] = self.tape.nearest(self.line(cut))
            if cut.kept_before:
                ends = [self._begin(cut, piece, found) + size for piece, size in self._measured(cut)]
                found[cut.order] = max([found[cut.order], *(self.tape.at_least(end) for end in ends)])
        return found

    def _measured(self, cut: Cut) -> list[tuple[Piece, float]]:
        """The pieces that end at a cut's line, each with the finished size the cut gives it."""
        low, high = (0, 2) if cut.kind is CutKind.CROSSCUT else (1, 3)
        found = []
        for piece in self.pieces:
            over = min(piece.box[3 - low], cut.end) - max(piece.box[1 - low], cut.start)
            if abs(piece.box[high] - cut.at) <= _CLOSE and over > 0:
                found.append((piece, piece.part.length if low == 0 else piece.part.width))
        return found

    def _begin(self, cut: Cut, piece: Piece, found: dict[int, float]) -> float:
        """Where a piece begins when the cuts before it are made as they are read [mm]."""
        kerf, low = self.shop.allowances.kerf, 0 if cut.kind is CutKind.CROSSCUT else 1
        for other in self.cuts:
            crosses = other.start < piece.box[3 - low] and other.end > piece.box[1 - low]
            near = abs(other.at + kerf - piece.box[low]) <= _CLOSE
            if other.kind is cut.kind and near and crosses and other.order in found:
                return found[other.order] + (kerf if other.kept_before else 0.0)
        return self.tape.nearest(piece.box[low])

    def line(self, cut: Cut) -> float:
        """Where the line of a cut truly is [mm]."""
        return cut.at if cut.kept_before else cut.at + self.shop.allowances.kerf

    def slot(self, cut: Cut) -> Box:
        """The wood the blade takes, in the board frame [mm]."""
        kerf = self.shop.allowances.kerf
        if cut.kind is CutKind.CROSSCUT:
            return cut.at, cut.start, cut.at + kerf, cut.end
        return cut.start, cut.at, cut.end, cut.at + kerf


def board_tape(pieces: Iterable[Piece], allowances: Allowances, units: Units) -> Tape:
    """The tape for a board: as coarse as the sawing allowances of its pieces permit."""
    extra = [sawn_length(each.part, allowances) - each.part.length for each in pieces]
    extra += [sawn_width(each.part, allowances) - each.part.width for each in pieces]
    return tape_step(units, extra)
