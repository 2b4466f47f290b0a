"""The frame that a board's faces and marks are drawn in: from a face as seen and back, and made wider.

It is as wide as the widest reading, but for a crooked waney board, whose edges wander to one side by
more than its widest place leaves room for: then it is wider, and the reading stays what it was.
"""

from dataclasses import replace

from layout.outline import Outline, normal_outline
from layout.stock import Face, Turn
from ui.jobfile import BoardRecord

__all__ = ["drawn_across", "in_board_frame", "least_frame", "reframed", "x_seen"]


def x_seen(x: float, record: BoardRecord, face: Face) -> float:
    """A reading from the datum end where the face is seen: a tumbled back is seen from the other end."""
    return record.length - x if face is Face.BACK and record.turned is Turn.TUMBLED else x


def in_board_frame(seen: Outline, board: BoardRecord, face: Face) -> Outline:
    """An outline as seen, in the board's frame; and the other way round."""
    if face is Face.FRONT:
        return seen
    if board.turned is Turn.ROLLED:
        return normal_outline(((x, board.framed - y) for x, y in seen), "outline")
    return normal_outline(((board.length - x, y) for x, y in seen), "outline")


def drawn_across(record: BoardRecord, face: Face) -> tuple[float, float] | None:
    """Between which places across the board the face lies as the maker has drawn its outline."""
    drawn = known.outline_mm if (known := record.face(face)) and not known.outline_found else None
    across = [y for _, y in in_board_frame(drawn, record, face)] if drawn else []
    return (min(across), max(across)) if across else None


def least_frame(record: BoardRecord, face: Face) -> float:
    """The least width of the picture of a waney face: what is drawn already keeps its place [mm]."""
    other = record.face(face.other)
    there = (other is not None and other.picture is not None) or drawn_across(record, face) is not None
    return record.framed if there else record.width


def reframed(record: BoardRecord, width: float) -> BoardRecord:
    """The board in a frame of that width [mm]: marks and outlines stay on the wood in its middle."""
    move = (width - record.framed) / 2
    kept = None if width == record.width else width
    if not move:
        return record.model_copy(update={"frame_width": kept})
    marks = tuple(replace(mark, outline=_moved(mark.outline, move)) for mark in record.marks)
    faces = {
        face.value: known.model_copy(update={"outline_mm": _moved(known.outline_mm, move)})
        for face in Face
        if (known := record.face(face)) is not None and known.outline_mm is not None
    }
    return record.model_copy(update={"frame_width": kept, "marks": marks, **faces})


def _moved(outline: Outline, across: float) -> Outline:
    return tuple((x, y + across) for x, y in outline)
