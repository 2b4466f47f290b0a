"""A face brought to true scale, and how it goes into its board's record. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from layout.outline import Outline
from layout.stock import Face, Where
from ui.board_frame import in_board_frame, point_in_board_frame, reframed
from ui.face_records import FaceRecord, Place, with_places
from ui.jobfile import BoardRecord
from vision.join import Join
from vision.lens import LensPrior
from vision.marks import Mark, MarkState, Origin
from vision.reference import Agreement

__all__ = ["Corners", "SurveyedFace", "surveyed_record", "with_suggestions", "with_surveyed"]

Corners = tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, eq=False)
class SurveyedFace:
    """One face at true scale, with what was suggested on it.

    Parameters
    ----------
    picture : ndarray of uint8, [height, width, 3]
    px_per_mm, error_mm : float
    corners_px : four (x, y)
        In the photo.
    marks : tuple of Mark
        Suggestions, pending.
    confidence : float or None
        Trust in the outline, where it was found and not given.
    notes : tuple of str
        What the maker should know.
    size_px : (int, int)
        Width and height of the photo.
    outline_seen : Outline
        The board's outline in the picture [mm].
    lens : LensPrior or None
        What the photo, alone, says of its lens.
    lens_from : int
        Other photos that helped with the lens.
    error_along : tuple of (x, along, across)
        The error at stations from the datum end as seen [mm].
    rough : Agreement or None
        What a sheet of paper in the photo says of the tape readings.
    further_corners : tuple of four (x, y)
        In the face's further photos.
    joins : tuple of Join
        How those were joined.
    frame_width : float or None
        What the picture covers across [mm]; None for the widest reading.
    apart_mm : float
        By how much a waney face may lie apart of the other one, across.
    same_seen : tuple of (name, (x, y))
        Places of both faces where they lie in the picture [mm].
    """

    picture: NDArray[np.uint8]
    px_per_mm: float
    error_mm: float
    corners_px: Corners
    marks: tuple[Mark, ...]
    confidence: float | None
    notes: tuple[str, ...]
    size_px: tuple[int, int]
    outline_seen: Outline
    lens: LensPrior | None
    lens_from: int
    error_along: tuple[tuple[float, float, float], ...] = ()
    rough: Agreement | None = None
    further_corners: tuple[Corners, ...] = ()
    joins: tuple[Join, ...] = ()
    frame_width: float | None = None
    apart_mm: float = 0.0
    same_seen: tuple[tuple[str, tuple[float, float]], ...] = ()

    def record(self, photo: str, picture: str) -> FaceRecord:
        """The face as it stands in the job."""
        return FaceRecord(
            photo=photo,
            corners_px=self.corners_px,
            picture=picture,
            px_per_mm=self.px_per_mm,
            error_mm=round(self.error_mm, 2),
            size_px=self.size_px,
            lens=self.lens,
            lens_from=self.lens_from,
            error_along=tuple((round(x, 1), round(a, 2), round(b, 2)) for x, a, b in self.error_along),
            apart_mm=round(self.apart_mm, 2) or None,
            notes=self.notes,
        )


def with_surveyed(
    board: BoardRecord, face: Face, found: SurveyedFace, photo: str, picture: str
) -> BoardRecord:
    """A board with one face surveyed, its suggestions among the marks, all in the frame that it needs."""
    board = reframed(board, found.frame_width or board.width)
    stored = surveyed_record(board, face, found, photo, picture)
    return with_suggestions(board.model_copy(update={face.value: stored}), face, found.marks)


def surveyed_record(
    board: BoardRecord, face: Face, found: SurveyedFace, photo: str, picture: str
) -> FaceRecord:
    """A surveyed face as it stands in the job; an outline drawn by hand stays, one found is taken anew."""
    known = board.face(face)
    stored = found.record(photo, picture)
    if known is not None:
        corners = found.further_corners or (None,) * len(known.further)
        pieces = zip(known.further, corners, strict=True)
        further = tuple(one.model_copy(update={"corners_px": quad}) for one, quad in pieces)
        update = {"ticks": known.ticks, "further": further, "places": known.places}
        stored = _with_places(stored.model_copy(update=update), board, face, dict(found.same_seen))
    if known is not None and known.outline_mm is not None and not known.outline_found:
        return stored.model_copy(update={"outline_mm": known.outline_mm})
    return stored.model_copy(
        update={"outline_mm": in_board_frame(found.outline_seen, board, face), "outline_found": True}
    )


def _with_places(
    stored: FaceRecord, board: BoardRecord, face: Face, seen: dict[str, tuple[float, float]]
) -> FaceRecord:
    """A face whose places of both faces are said in the board frame."""

    def laid(one: Place) -> Place:
        if one.name not in seen:
            return one
        return one.model_copy(update={"at_mm": point_in_board_frame(seen[one.name], board, face)})

    return with_places(stored, laid)


def with_suggestions(record: BoardRecord, face: Face, marks: Sequence[Mark]) -> BoardRecord:
    """A board whose pending suggestions of one face are replaced by new ones.

    The maker's word stays: what he drew, kept or dismissed is not suggested to him again.
    """
    kept = [
        mark
        for mark in record.marks
        if not (
            mark.origin is Origin.SUGGESTED
            and mark.state is MarkState.PENDING
            and mark.where.value == face.value
        )
    ]
    taken = {mark.id for mark in kept}
    settled = [Polygon(mark.outline) for mark in kept if mark.where.value in (face.value, Where.THROUGH)]
    wood, fresh = Polygon(record.outline(face)), []
    for mark in marks:
        place = Polygon(mark.outline)
        if any(_same_place(place, known) for known in settled) or not _same_place(place, wood):
            continue  # judged already, or bark beside a waney edge
        names = (mark.id, *(f"{mark.id}.{number}" for number in range(1, len(taken) + 2)))
        name = next(one for one in names if one not in taken)
        taken.add(name)
        fresh.append(replace(mark, id=name))
    return record.model_copy(update={"marks": (*kept, *fresh)})


def _same_place(one: Polygon, other: Polygon) -> bool:
    """Whether two outlines mean the same fault: most of the smaller lies in the other."""
    return bool(one.intersection(other).area > 0.5 * min(one.area, other.area))
