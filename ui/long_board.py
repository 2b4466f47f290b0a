"""A face too long for one photograph: overlapping photographs of it brought to true scale as one picture.

Each photograph is squared by the board's own long edges and joined to the one
before by the grain in their overlap; the taped length ties the ends::

    photo 1  |=============|
    photo 2            |=============|
    photo 3                      |============|
             datum end            taped length
"""

from collections.abc import Sequence
from math import hypot, sqrt

import numpy as np

from layout.outline import Outline, normal_outline, rectangle
from layout.stock import Face
from ui.board_frame import as_read_on, drawn_across, in_board_frame, least_frame, other_face, x_seen
from ui.face_records import Tick, places_of
from ui.jobfile import BoardRecord, JobError, LensProfile
from ui.lenses import lens_known
from ui.survey import scale_of
from ui.surveyed import Corners, SurveyedFace
from vision.errors import VisionError
from vision.frame import Frame
from vision.join import ChalkMark, JoinedBoard, Piece
from vision.lens import LensPrior
from vision.marks import Mark
from vision.outline import MissedOutline
from vision.photo import Photo
from vision.photos_joined import PartSeen, joined_photos
from vision.piece_outline import find_piece_outline
from vision.suggest.every import DOUBTFUL_PER_METRE, suggest_marks
from vision.ticks import line_near
from vision.waney_joined import WaneyJoined, waney_joined
from vision.waney_photos import WaneyPart

__all__ = ["surveyed_long_face"]

_FINEST = 3.0  # px per mm; a whole long board is kept in memory
_SURE = 1.96  # standard deviations that hold 95 % of a normal error


def surveyed_long_face(
    photos: Sequence[tuple[Photo, str]],
    record: BoardRecord,
    face: Face = Face.FRONT,
    *,
    profile: LensProfile | None = None,
    others: Sequence[LensPrior] = (),
    doubtful_per_metre: float = DOUBTFUL_PER_METRE,
) -> SurveyedFace:
    """One face at true scale from overlapping photographs of it, with suggested marks.

    Parameters
    ----------
    photos : sequence of (Photo, str)
        From left to right as the face is seen, on the front from the datum end on;
        each with its name for messages.
    record : BoardRecord
        What the tape said; corners and ticks set on the face and its further photos are used.
    face : Face
    profile, others, doubtful_per_metre
        As `ui.survey.surveyed_face` takes them.

    Raises
    ------
    JobError
        No board found in a photo, pieces that can't make up the board, or too few widths of a waney one.
    """
    name = photos[0][1]
    if record.waney:
        return _waney_face(photos, record, face, profile, others, doubtful_per_metre)
    quads, sure = _quads(photos, record, face)
    try:
        lens, count = lens_known(photos[0][0], profile, others)
        parts = [
            _part(photo, quad, _width_at(record, face, number, len(photos)))
            for number, ((photo, _), quad) in enumerate(zip(photos, quads, strict=True))
        ]
        made = joined_photos(
            parts,
            record.length,
            lens=lens,
            thickness_mm=record.thickness,
            shown_mm=record.width,
            chalk=lambda frames: _chalk([part.photo for part in parts], frames, record, face),
        )
        board = made.board
        marks = suggest_marks(
            board.picture, board.px_per_mm, face, record.turned, doubtful_per_metre=doubtful_per_metre
        )
    except (VisionError, ValueError) as error:
        raise JobError(f"{name} and the photos after it: {error}") from error
    along = _error_along(made.pieces, board)
    stations = np.linspace(0.0, record.length, 21)
    across = [_across_at(float(x), made.pieces, board) for x in stations]
    return SurveyedFace(
        picture=board.picture,
        px_per_mm=board.px_per_mm,
        error_mm=hypot(along, max(across)),
        error_along=tuple((float(x), along, off) for x, off in zip(stations, across, strict=True)),
        corners_px=quads[0],
        marks=marks,
        confidence=sure,
        notes=_notes(board, record),
        size_px=(photos[0][0].width_px, photos[0][0].height_px),
        outline_seen=_outline(record, face),
        lens=None,
        lens_from=count,
        further_corners=tuple(quads[1:]),
        joins=board.joins,
    )


def _waney_face(
    photos: Sequence[tuple[Photo, str]],
    record: BoardRecord,
    face: Face,
    profile: LensProfile | None,
    others: Sequence[LensPrior],
    doubtful_per_metre: float,
) -> SurveyedFace:
    """A waney face: its photographs are weighed together, by widths and lines read along it."""
    name, board = photos[0][1], record
    record = as_read_on(board, face)
    if len(record.widths) <= len(photos):
        raise JobError(
            f"{name}: the edges of a waney board say nothing of its scale; for {len(photos)} photos of it "
            f"read its width at {len(photos) + 1} places or more, evenly spaced from end to end"
        )
    quads, sure = _quads(photos, record, face)
    try:
        lens, count = lens_known(photos[0][0], profile, others)
        made = waney_joined(
            _waney_parts(photos, quads, record, face),
            record.length,
            [(x_seen(x, record, face), width) for x, width in record.widths],
            shown_mm=least_frame(board, face),
            px_per_mm=_coarsest(photos, quads, record, face),
            lens=lens,
            lies_mm=drawn_across(board, face),
            other=other_face(board, face),
            thickness_mm=board.thickness,
        )
        marks = suggest_marks(
            made.picture, made.px_per_mm, face, record.turned, doubtful_per_metre=doubtful_per_metre
        )
        outline = normal_outline(made.outline_mm, "outline")
    except (VisionError, ValueError) as error:
        raise JobError(f"{name} and the photos after it: {error}") from error
    same = tuple(
        (one.name, (round(float(x), 2), round(float(y), 2)))
        for number, several in enumerate(places_of(board.face(face)))
        for one in several
        for x, y in [made.frames[number].to_mm(one.at_px)]
    )
    return _waney_answer(made, photos, quads, sure, marks, (outline, same), count)


def _waney_answer(
    made: WaneyJoined,
    photos: Sequence[tuple[Photo, str]],
    quads: Sequence[Corners],
    sure: float | None,
    marks: tuple[Mark, ...],
    lies: tuple[Outline, tuple[tuple[str, tuple[float, float]], ...]],
    lens_from: int,
) -> SurveyedFace:
    """A joined waney board as a surveyed face; its outline and the places of both faces as they lie."""
    outline, same_seen = lies
    return SurveyedFace(
        picture=made.picture,
        px_per_mm=made.px_per_mm,
        error_mm=made.error_mm,
        error_along=made.error_along,
        corners_px=quads[0],
        marks=marks,
        confidence=sure,
        notes=made.notes,
        size_px=(photos[0][0].width_px, photos[0][0].height_px),
        outline_seen=outline,
        lens=None,
        lens_from=lens_from,
        further_corners=tuple(quads[1:]),
        joins=made.joins,
        frame_width=made.width_mm,
        apart_mm=made.apart_mm,
        same_seen=same_seen,
    )


def _waney_parts(
    photos: Sequence[tuple[Photo, str]], quads: Sequence[Corners], record: BoardRecord, face: Face
) -> list[WaneyPart]:
    """Every photograph with its corners and the lines read in it, counted from the left end as seen."""
    read = _ticks(record, face)
    read += [()] * (len(photos) - len(read))
    return [
        WaneyPart(photo, quad, tuple((tick.at_px, x_seen(tick.reading, record, face)) for tick in several))
        for (photo, _), quad, several in zip(photos, quads, read, strict=True)
    ]


def _ticks(record: BoardRecord, face: Face) -> list[tuple[Tick, ...]]:
    """The ticks of every photograph of a face."""
    known = record.face(face)
    return [known.ticks, *(one.ticks for one in known.further)] if known else []


def _coarsest(
    photos: Sequence[tuple[Photo, str]], quads: Sequence[Corners], record: BoardRecord, face: Face
) -> float:
    """The scale of the picture: as fine as the coarsest of the photographs [px per mm]."""
    return min(
        _part(photo, quad, _width_at(record, face, number, len(photos))).px_per_mm
        for number, ((photo, _), quad) in enumerate(zip(photos, quads, strict=True))
    )


def _quads(
    photos: Sequence[tuple[Photo, str]], record: BoardRecord, face: Face
) -> tuple[list[Corners], float | None]:
    """The corners of every piece, as set or as found, and how sure the least sure of those found is."""
    known = record.face(face)
    set_by_hand = [known.corners_px, *(one.corners_px for one in known.further)] if known else []
    quads: list[Corners] = []
    sure = None
    for number, (photo, name) in enumerate(photos):
        given = set_by_hand[number] if number < len(set_by_hand) else None
        if given is None:
            wide = _width_at(record, face, number, len(photos)) if record.widths else record.width
            found = find_piece_outline(
                photo.rgb, _open(number, len(photos)), straight=not record.waney, width_mm=wide
            )
            if isinstance(found, MissedOutline):
                raise JobError(f"{name}: {found.reason}")
            first, second, third, fourth = ((float(x), float(y)) for x, y in found.corners_px)
            given = (first, second, third, fourth)
            sure = found.confidence if sure is None else min(sure, found.confidence)
        quads.append(given)
    return quads, sure


def _open(number: int, many: int) -> tuple[bool, bool]:
    return number > 0, number < many - 1


def _width_at(record: BoardRecord, face: Face, number: int, many: int) -> float:
    """The taped width about the middle of a piece [mm]."""
    at = x_seen(record.length * (number + 0.5) / many, record, face)
    readings = sorted(record.widths)
    return float(np.interp(at, [x for x, _ in readings], [width for _, width in readings]))


def _part(photo: Photo, quad: Corners, width_mm: float) -> PartSeen:
    """A piece to be shown as fine as its photograph is, within what memory holds."""
    scale = min(_FINEST, scale_of(quad, width_mm * _slenderness(quad)))
    return PartSeen(photo, quad, width_mm, scale)


def _slenderness(quad: Corners) -> float:
    corners = np.asarray(quad)
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    return float((sides[0] + sides[2]) / (sides[1] + sides[3]))


def _chalk(
    photos: Sequence[Photo], frames: Sequence[Frame], record: BoardRecord, face: Face
) -> list[ChalkMark]:
    """The ticks of every piece, on the lines seen beside them; two of one reading are the same line."""
    marks = []
    for number, several in enumerate(_ticks(record, face)):
        frame = frames[number]
        for tick in several:
            line = line_near(photos[number].rgb, tick.at_px, frame, record.width)
            x, y = frame.to_mm(tick.at_px if line is None else line)
            reading = x_seen(tick.reading, record, face)
            marks.append(ChalkMark(number, float(x), f"{tick.reading:g}", reading, float(y) / record.width))
    return marks


def _error_along(pieces: Sequence[Piece], board: JoinedBoard) -> float:
    """The error of joining; across a weak join each side is only as sure as its pieces' own lengths [mm]."""
    off = board.error_mm
    loose = [(piece.spread * piece.length_mm) ** 2 for piece in pieces]
    for number, join in enumerate(board.joins, start=1):
        if join.weak:
            off = max(off, _SURE * (sqrt(sum(loose[:number])) + sqrt(sum(loose[number:]))))
    return off


def _across_at(x: float, pieces: Sequence[Piece], board: JoinedBoard) -> float:
    """The error across the grain at a place along the board: the worst of the pieces it is seen in [mm]."""
    there = [
        piece.across_mm
        for number, piece in enumerate(pieces)
        if 0.0 <= float(board.places.within(number, x)) <= piece.length_mm
    ]
    return max(there or [piece.across_mm for piece in pieces])


def _notes(board: JoinedBoard, record: BoardRecord) -> tuple[str, ...]:
    apart = abs(board.untied_mm - record.length)
    if apart > max(0.03 * record.length, 4 * board.error_mm):
        return (
            *board.notes,
            f"the photos together show {board.untied_mm:.0f} mm of board and the tape says "
            f"{record.length:g} mm; read the tape again, or photograph the part that is missing",
        )
    return board.notes


def _outline(record: BoardRecord, face: Face) -> Outline:
    """As taped: the picture's own edges are the pieces', squared by that same width."""
    if len(record.widths) == 1:
        return rectangle(0.0, 0.0, record.length, record.width)
    return in_board_frame(record.taped_outline(), record, face)
