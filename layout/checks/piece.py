"""A placed part as wood: its sawn piece, finished shape and sides on the board.

Written a second time on purpose, from the drawing in `layout.placement` and with
shapely's own transforms, so that a slip in one is caught by the other.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

from shapely import affinity
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop
from layout.parts import Part, PartSide
from layout.placement import Placement
from layout.stock import Board, Face

__all__ = ["Piece"]

Shape = TypeVar("Shape", bound=BaseGeometry)


@dataclass(frozen=True)
class Piece:
    """One placement with the part and board it names."""

    placement: Placement
    part: Part
    board: Board
    shop: Shop

    @property
    def name(self) -> str:
        """Part, copy and board in a few words."""
        return f"{self.part.name} {self.placement.copy} on board {self.board.id}"

    @property
    def length(self) -> float:
        """Sawn length [mm]."""
        own = self.part.length_allowance
        return self.part.length + (self.shop.allowances.length if own is None else own)

    @property
    def width(self) -> float:
        """Sawn width [mm]."""
        own = self.part.width_allowance
        return self.part.width + (self.shop.allowances.width if own is None else own)

    @property
    def off_front(self) -> float:
        """Planed off the front face of the board [mm]."""
        return self.placement.from_front

    @property
    def off_back(self) -> float:
        """Planed off the back face of the board [mm]."""
        return self.board.thickness - self.part.thickness - self.placement.from_front

    @cached_property
    def sawn(self) -> Polygon:
        """The sawn piece in the board frame [mm]."""
        return self._turned(Polygon([(0, 0), (self.length, 0), (self.length, self.width), (0, self.width)]))

    @cached_property
    def finished(self) -> Polygon:
        """The finished part's outline in the board frame [mm]."""
        return self.placed(Polygon(self.part.shape))

    @cached_property
    def sides(self) -> dict[PartSide, BaseGeometry]:
        """The edges and ends of the finished part as lines in the board frame [mm].

        A stretch of a shaped part's outline belongs to the edge or end it faces:
        an edge if it looks more across the grain than along it.
        """
        ring = list(self.part.shape)
        stretches: dict[PartSide, list[LineString]] = {}
        for (x0, y0), (x1, y1) in zip(ring, ring[1:] + ring[:1], strict=True):
            outward_x, outward_y = y1 - y0, x0 - x1
            if abs(outward_y) >= abs(outward_x):
                side = PartSide.NEAR_EDGE if outward_y < 0 else PartSide.FAR_EDGE
            else:
                side = PartSide.NEAR_END if outward_x < 0 else PartSide.FAR_END
            stretches.setdefault(side, []).append(LineString([(x0, y0), (x1, y1)]))
        return {side: self.placed(MultiLineString(lines)) for side, lines in stretches.items()}

    def board_face(self, side: PartSide) -> Face:
        """The board face that becomes the part's face or back."""
        return self.placement.face_from if side is PartSide.FACE else self.placement.face_from.other

    def placed(self, shape: Shape) -> Shape:
        """Anything drawn in the finished part's frame, in the board frame."""
        left = (self.length - self.part.length) / 2
        top = (self.width - self.part.width) / 2
        return self._turned(affinity.translate(shape, left, top))

    def unplaced(self, shape: Shape) -> Shape:
        """Anything of the board frame, in the finished part's frame."""
        middle = (self.length / 2, self.width / 2)
        shape = affinity.translate(shape, -self.placement.x, -self.placement.y)
        shape = affinity.rotate(shape, -self.placement.tilt, origin=middle)
        if self.placement.end_for_end:
            shape = affinity.rotate(shape, 180, origin=middle)
        if self.placement.face_from is Face.BACK:
            shape = affinity.scale(shape, xfact=1, yfact=-1, origin=middle)
        left = (self.length - self.part.length) / 2
        return affinity.translate(shape, -left, -(self.width - self.part.width) / 2)

    def _turned(self, shape: Shape) -> Shape:
        middle = (self.length / 2, self.width / 2)
        if self.placement.face_from is Face.BACK:
            shape = affinity.scale(shape, xfact=1, yfact=-1, origin=middle)
        if self.placement.end_for_end:
            shape = affinity.rotate(shape, 180, origin=middle)
        shape = affinity.rotate(shape, self.placement.tilt, origin=middle)
        return affinity.translate(shape, self.placement.x, self.placement.y)
