"""The cuts of a board as steps at the saw: what setting, which side the kerf is on, what comes free.

The steps follow the wood: beginning with the whole board, each cut parts the
lump it lies in, so the setting is the size of the measured piece and the reading
is where its line lies on the uncut board.
"""

from dataclasses import dataclass, field

from layout.placement import Cut, CutKind
from ui.drawing.board_view import BoardView
from ui.drawing.pieces import Piece
from ui.drawing.scene import Box

__all__ = ["SawStep", "saw_steps"]

_CLOSE = 0.15  # mm; a lump this near to a piece's size is the piece


@dataclass(frozen=True)
class SawStep:
    """One cut.

    Parameters
    ----------
    cut : Cut
    reading : float
        Of the line, from the datum end (crosscut) or the datum edge (rip) [mm].
    setting : float or None
        Stop or fence: the size of the measured piece, to be set from a sawn end
        or edge [mm]; None where the cut only trims, and the line is sawn to by eye.
    from_raw : bool
        The setting is measured from an end or edge of the board as it came.
    frees : tuple of str
        Marks of the pieces that are to size after it.
    """

    cut: Cut
    reading: float
    setting: float | None
    from_raw: bool
    frees: tuple[str, ...]

    @property
    def kerf_side(self) -> str:
        """On which side of the line the blade runs: towards the datum or away from it."""
        return "far side" if self.cut.kept_before else "datum side"


@dataclass
class _Lumps:
    boxes: list[Box] = field(default_factory=list)

    def of(self, cut: Cut, kerf: float) -> Box:
        """The lump a cut goes through."""
        middle, along = cut.at + kerf / 2, (cut.start + cut.end) / 2
        x, y = (middle, along) if cut.kind is CutKind.CROSSCUT else (along, middle)
        for box in self.boxes:
            if box[0] - kerf <= x <= box[2] + kerf and box[1] - kerf <= y <= box[3] + kerf:
                return box
        raise ValueError(f"cut {cut.order} on board {cut.board} goes through no wood that is left")


def saw_steps(view: BoardView) -> tuple[SawStep, ...]:
    """Every cut of a board as a step at the saw, in order."""
    board, kerf = view.board, view.shop.allowances.kerf
    lumps = _Lumps([(0.0, 0.0, board.length, board.width)])
    free: set[str] = set()
    steps = []
    for cut in view.cuts:
        lump = lumps.of(cut, kerf)
        before, after = _parted(lump, cut, kerf)
        lumps.boxes.remove(lump)
        lumps.boxes += [box for box in (before, after) if box[0] < box[2] and box[1] < box[3]]
        frees = _freed(view.pieces, lumps.boxes, free)
        free.update(frees)
        steps.append(_step(view, cut, lump, before, frees))
    return tuple(steps)


def _parted(lump: Box, cut: Cut, kerf: float) -> tuple[Box, Box]:
    x0, y0, x1, y1 = lump
    if cut.kind is CutKind.CROSSCUT:
        return (x0, y0, cut.at, y1), (cut.at + kerf, y0, x1, y1)
    return (x0, y0, x1, cut.at), (x0, cut.at + kerf, x1, y1)


def _freed(pieces: tuple[Piece, ...], lumps: list[Box], free: set[str]) -> tuple[str, ...]:
    return tuple(
        piece.mark
        for piece in pieces
        if piece.mark not in free
        and any(
            all(abs(one - other) <= _CLOSE for one, other in zip(piece.box, lump, strict=True))
            for lump in lumps
        )
    )


def _step(view: BoardView, cut: Cut, lump: Box, kept: Box, frees: tuple[str, ...]) -> SawStep:
    reading = view.reading(cut)
    if not cut.kept_before:
        return SawStep(cut, reading, None, False, frees)
    low, high = (0, 2) if cut.kind is CutKind.CROSSCUT else (1, 3)
    size = view.tape.nearest(kept[high] - kept[low])
    for piece in view.pieces:
        if piece.mark in frees and abs(piece.box[high] - piece.box[low] - (kept[high] - kept[low])) <= _CLOSE:
            size = view.sawn_size(piece)[0 if low == 0 else 1]
    from_raw = lump[low] <= 1e-9  # that side of the lump is the board's own end or edge
    return SawStep(cut, reading, size, from_raw, frees)
