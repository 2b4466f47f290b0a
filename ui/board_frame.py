"""The frame that a board's faces and marks are drawn in: from a face as seen and back, and made wider.

It is as wide as the widest reading, but for a crooked waney board, whose edges wander to one side by
more than its widest place leaves room for: then it is wider, and the reading stays what it was.
"""

from dataclasses import replace

import numpy as np

from layout.outline import Outline, normal_outline
from layout.stock import Face, Turn, Where
from ui.face_records import FaceRecord, Place, places_of, with_places
from ui.jobfile import BoardRecord, JobError
from vision.waney_faces import OtherFace, Same, narrower

__all__ = [
    "as_read_on",
    "drawn_across",
    "in_board_frame",
    "least_frame",
    "lies_over",
    "other_face",
    "point_in_board_frame",
    "reframed",
    "turned_otherwise",
    "x_seen",
]


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


def point_in_board_frame(seen: tuple[float, float], board: BoardRecord, face: Face) -> tuple[float, float]:
    """A point as seen, in the board's frame; and the other way round."""
    x, y = seen
    if face is Face.FRONT:
        return x, y
    return (x, board.framed - y) if board.turned is Turn.ROLLED else (board.length - x, y)


def as_read_on(record: BoardRecord, face: Face) -> BoardRecord:
    """The board with the widths that were read on a face: bark slopes, so a waney board has two of each.

    Raises
    ------
    JobError
        The back of a waney board of which only the front's widths were read.
    """
    if not record.waney or face is Face.FRONT:
        return record.model_copy(update={"back_widths": (), "frame_width": record.framed})
    if record.back_widths:
        read = {"widths": record.back_widths, "back_widths": (), "frame_width": record.framed}
        return record.model_copy(update=read)
    if record.front is not None and record.front.photo is not None:
        raise JobError(
            f"board {record.id}, back: bark slopes, so a waney board's back is wider or narrower than its "
            "front; read the back's own widths too, at both ends and at its widest place between them"
        )
    return record


def other_face(record: BoardRecord, face: Face) -> OtherFace | None:
    """A waney board's other face as seen from this one, and what was read of both; None without a picture."""
    outline = _other_outline(record, face)
    if outline is None:
        return None
    sign = 1.0 if face is Face.BACK else -1.0  # read of the back against the front
    there = {
        one.name.casefold(): one.at_mm for several in places_of(record.face(face.other)) for one in several
    }
    same = tuple(
        Same(one.name, one.at_px, point_in_board_frame(at_mm, record, face), photo)
        for photo, several in enumerate(places_of(record.face(face)))
        for one in several
        if (at_mm := there.get(one.name.casefold())) is not None
    )
    return OtherFace(
        outline_mm=outline,
        out_mm=tuple((x_seen(x, record, face), sign * out) for x, out in record.back_edge),
        on_lower=face is Face.BACK and record.turned is Turn.ROLLED,
        same=same,
    )


def _other_outline(record: BoardRecord, face: Face) -> Outline | None:
    """The outline of a waney board's other face as seen from this one; None where it has no picture yet."""
    other = record.face(face.other)
    if not record.waney or other is None or other.picture is None or other.outline_mm is None:
        return None
    return in_board_frame(other.outline_mm, record, face)


def lies_over(record: BoardRecord, face: Face) -> bool:
    """Whether a face of a waney board is the narrower one, and so laid over the other."""
    known, other = record.face(face), _other_outline(record, face)
    if other is None or known is None or known.picture is None or known.outline_mm is None:
        return False
    mine = in_board_frame(known.outline_mm, record, face)
    return narrower(np.array(mine), np.array(other), record.length)


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
        face.value: _face_moved(known, move) for face in Face if (known := record.face(face)) is not None
    }
    return record.model_copy(update={"frame_width": kept, "marks": marks, **faces})


def turned_otherwise(record: BoardRecord) -> BoardRecord:
    """The board said to be turned over the other way: all that was seen on its back is turned end for end."""
    other = Turn.TUMBLED if record.turned is Turn.ROLLED else Turn.ROLLED
    size = np.array([record.length, record.framed])

    def outline(ring: Outline) -> Outline:
        return normal_outline(((float(x), float(y)) for x, y in size - np.array(ring)), "outline")

    def place(one: Place) -> Place:
        if one.at_mm is None:
            return one
        return one.model_copy(update={"at_mm": (size[0] - one.at_mm[0], size[1] - one.at_mm[1])})

    marks = tuple(
        replace(mark, outline=outline(mark.outline)) if mark.where is Where.BACK else mark
        for mark in record.marks
    )
    back = record.back
    if back is not None:
        ring = back.outline_mm if back.outline_mm is None else outline(back.outline_mm)
        back = with_places(back, place).model_copy(update={"outline_mm": ring})
    return record.model_copy(update={"turned": other, "marks": marks, "back": back})


def _face_moved(known: FaceRecord, across: float) -> FaceRecord:
    def moved(one: Place) -> Place:
        return one.model_copy(update={"at_mm": (one.at_mm[0], one.at_mm[1] + across)}) if one.at_mm else one

    outline = _moved(known.outline_mm, across) if known.outline_mm is not None else None
    return with_places(known, moved).model_copy(update={"outline_mm": outline})


def _moved(outline: Outline, across: float) -> Outline:
    return tuple((x, y + across) for x, y in outline)
