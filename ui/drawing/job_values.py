"""What the sheets of one job are drawn from, as one value."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Shop
from layout.parts import Part
from layout.placement import Layout
from layout.stock import Board, Face
from ui.drawing.board_view import BoardView
from ui.lengths import Units
from vision.marks import Mark

__all__ = ["FacePicture", "Paper", "SheetJob"]

Paper = Literal["A4", "Letter"]


@dataclass(frozen=True, eq=False)
class FacePicture:
    """A true-scale picture of one face as it is seen, covering exactly the board's length and width.

    Parameters
    ----------
    rgb : array of uint8 [height, width, 3]
    px_per_mm : float
    """

    rgb: NDArray[np.uint8]
    px_per_mm: float


@dataclass(frozen=True, eq=False)
class SheetJob:
    """A job as the sheets see it.

    Parameters
    ----------
    boards, parts, shop, layout
        All boards of the job and the whole cutting list, in their orders.
    pictures : mapping of (board id, Face) to FacePicture
    marks : mapping of board id to sequence of Mark
    title, currency : str
    units : "mm" or "inch"
    paper : "A4" or "Letter"
    """

    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop
    layout: Layout
    pictures: Mapping[tuple[str, Face], FacePicture] = field(default_factory=dict)
    marks: Mapping[str, Sequence[Mark]] = field(default_factory=dict)
    title: str = ""
    currency: str = ""
    units: Units = "mm"
    paper: Paper = "A4"
    _known: dict[str, BoardView] = field(default_factory=dict, init=False, repr=False)

    @property
    def used(self) -> tuple[Board, ...]:
        """The boards that are sawn, in the job's order."""
        return tuple(board for board in self.boards if board.id in self.layout.boards_used)

    def view(self, board: Board, face: Face, along: int = 120) -> BoardView:
        """A face of a board, to be drawn with `along` text heights to its length."""
        made = BoardView(board, self.parts, self.shop, self.layout, face, self.units, along)
        known = self._known.setdefault(board.id, made)
        if known is not made:
            # what lies on a board is the same from both sides: worked out once
            made.__dict__["pieces"], made.__dict__["fates"] = known.pieces, known.fates
        return made

    def marking_face(self, board: Board) -> Face:
        """The face to chalk the layout on: the one on which more show faces lie, the front if even."""
        back = sum(each.face_from is Face.BACK for each in self.layout.on(board.id))
        return Face.BACK if 2 * back > len(self.layout.on(board.id)) else Face.FRONT

    def money(self, amount: float) -> str:
        """An amount with its currency."""
        return f"{amount:.2f} {self.currency}".strip()
