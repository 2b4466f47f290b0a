"""Photo to true scale, and what is suggested on it: the first half of the job. Pure."""

from collections.abc import Callable, Sequence
from math import hypot

import numpy as np
from numpy.typing import NDArray

from layout.outline import normal_outline
from layout.stock import Face
from ui.board_frame import (
    as_read_on,
    drawn_across,
    in_board_frame,
    least_frame,
    lies_over,
    other_face,
    x_seen,
)
from ui.jobfile import BoardRecord, JobError, LensProfile
from ui.lenses import lens_known, lens_seen, sheets_in
from ui.pictures import jpeg, reduced_to
from ui.rough import checked_with, paper_checked
from ui.surveyed import Corners, SurveyedFace, with_surveyed
from vision.errors import VisionError
from vision.evidence import Sheet
from vision.frame import Frame
from vision.lens import LensPrior
from vision.outline import MissedOutline, find_outline
from vision.photo import Photo, read_photo
from vision.private import private_copy
from vision.rectify import TrueScale, true_scale
from vision.reverse import Registration, registered
from vision.suggest.every import DOUBTFUL_PER_METRE, suggest_marks

__all__ = [
    "Keep",
    "corners_in",
    "kept_photo",
    "photo_from",
    "scale_of",
    "surveyed_board",
    "surveyed_face",
    "turn_seen",
]

Keep = Callable[[str, bytes, str], str]

_SMALLEST = 10.0  # mm; a slip of the key, not a board
_WANEY_WIDTHS = 2
_FINEST, _COARSEST = 4.0, 1.0  # px per mm of a true-scale picture


def photo_from(data: bytes, name: str) -> Photo:
    """A photograph from a file's bytes.

    Raises
    ------
    JobError
        Not a picture, cut off, or too big; the message names the file.
    """
    try:
        return read_photo(data)
    except VisionError as error:
        raise JobError(f"{name}: {error}") from error


def kept_photo(data: bytes, name: str) -> bytes:
    """A photograph as the job keeps it: a JPEG that says nothing of place, time or person.

    Raises
    ------
    JobError
        As `photo_from`.
    """
    try:
        return private_copy(data)
    except VisionError as error:
        raise JobError(f"{name}: {error}") from error


def corners_in(photo: Photo, name: str) -> tuple[Corners, float]:
    """The board's corners as found in a photograph [px], and how sure that is.

    Raises
    ------
    JobError
        No board stands out.
    """
    found = find_outline(photo.rgb)
    if isinstance(found, MissedOutline):
        raise JobError(f"{name}: {found.reason}")
    return _corners(found.corners_px), found.confidence


def surveyed_face(
    photo: Photo,
    name: str,
    record: BoardRecord,
    face: Face = Face.FRONT,
    *,
    profile: LensProfile | None = None,
    others: Sequence[LensPrior] = (),
    doubtful_per_metre: float = DOUBTFUL_PER_METRE,
    check: tuple[str, Corners] | None = None,
) -> SurveyedFace:
    """A photographed face brought to true scale, with suggested marks.

    Parameters
    ----------
    photo : Photo
    name : str
        What the photo is called, for messages.
    record : BoardRecord
        What the tape said; corners already set on the face are used, others found.
    face : Face
    profile : LensProfile or None
        The phone's lens, if it is known.
    others : sequence of LensPrior
        What other photographs by the same phone said of its lens, each alone.
    doubtful_per_metre : float
        How many wrong suggestions a metre may carry; see `vision.suggest.every`.
    check : (str, corners) or None
        A thing of known size by its name in `ui.rough.THINGS` and its corners in the
        photo, to hold against the tape; None to look for a sheet of paper.

    Raises
    ------
    JobError
        No board found, or readings or corners that can't be.
    """
    board, record = record, as_read_on(record, face)
    if min(record.length, record.width) < _SMALLEST:
        size = f"{record.length:g} x {record.width:g} mm"
        raise JobError(f"{name}: a board of {size} is too small to be measured")
    if record.waney and len(record.widths) < _WANEY_WIDTHS:
        raise JobError(
            f"{name}: the edges of a waney board say nothing of its scale; read its width at both ends and "
            "at its widest place between them"
        )
    known = record.face(face)
    given = known.corners_px if known else None
    corners, confidence = (given, None) if given is not None else corners_in(photo, name)
    alone = known.lens if known and given is not None else None
    try:
        sheets = sheets_in(photo, record)
        seen = alone or lens_seen(photo, corners, record, sheets, face)
        lens, count = lens_known(photo, profile, others)
        ticks = [(tick.at_px, x_seen(tick.reading, record, face)) for tick in (known.ticks if known else ())]
        straight = _straightened(photo, corners, (board, record), face, lens, sheets, ticks)
        marks = suggest_marks(
            straight.picture, straight.px_per_mm, face, record.turned, doubtful_per_metre=doubtful_per_metre
        )
        outline = normal_outline(straight.outline_mm, "outline")
        rough = (
            checked_with(straight.frame, check[1], check[0], record, straight.error_mm)
            if check
            else paper_checked(photo, straight.frame, record, straight.error_mm)
        )
    except (VisionError, ValueError) as error:
        raise JobError(f"{name}: {error}") from error
    return SurveyedFace(
        picture=straight.picture,
        px_per_mm=straight.px_per_mm,
        error_mm=straight.error_mm,
        corners_px=corners,
        marks=marks,
        confidence=confidence,
        notes=(*straight.notes, *([rough.message] if rough is not None and not rough else [])),
        size_px=(photo.width_px, photo.height_px),
        outline_seen=outline,
        lens=seen,
        lens_from=count,
        error_along=straight.error_along,
        rough=rough,
        frame_width=straight.width_mm,
        apart_mm=straight.apart_mm,
        same_seen=tuple(
            (one.name, _at(straight.frame, one.at_px)) for one in (known.places if known else ())
        ),
    )


def _straightened(
    photo: Photo,
    corners: Corners,
    records: tuple[BoardRecord, BoardRecord],
    face: Face,
    lens: LensPrior | None,
    sheets: Sequence[Sheet],
    ticks: Sequence[tuple[tuple[float, float], float]],
) -> TrueScale:
    board, record = records  # as it is kept, and as it was read on this face
    return true_scale(
        photo,
        corners,
        record.length,
        record.width,
        px_per_mm=scale_of(corners, record.length),
        lens=lens,
        widths_mm=[(x_seen(x, record, face), width) for x, width in record.widths],
        ticks=ticks,
        sheets=sheets,
        waney=record.waney,
        shown_mm=least_frame(board, face),
        lies_mm=drawn_across(board, face),
        other=other_face(board, face),
        thickness_mm=record.thickness,
    )


def surveyed_board(
    record: BoardRecord,
    photos: Sequence[tuple[Face, str, bytes]],
    keep: Keep,
    *,
    profile_of: Callable[[Photo], LensProfile | None] | None = None,
    others: Sequence[LensPrior] = (),
    check: tuple[str, Corners] | None = None,
) -> tuple[BoardRecord, dict[Face, SurveyedFace]]:
    """A board with its photographed faces at true scale and their suggestions among its marks.

    Parameters
    ----------
    record : BoardRecord
        Tape readings; corners already set on a face are used.
    photos : sequence of (face, name, bytes)
    keep : callable
        Stores (folder, bytes, suffix) and returns the path inside the job.
    profile_of : callable or None
        The lens that a photograph was taken with, if it is known (`ui.phones`).
    others
        As `surveyed_face` takes them.
    check
        The same, for the first photo.
    """
    faces: dict[Face, SurveyedFace] = {}
    for number, (face, name, data) in enumerate((*photos, *photos)):
        over = number == len(photos) and lies_over(record, face)  # it was laid before the other was there
        if face in faces and not over and faces[face].frame_width in (None, record.framed):
            continue  # only where the other face asked for a wider frame it is surveyed once more
        photo = photo_from(data, name)
        faces[face] = surveyed_face(
            photo,
            name,
            record,
            face,
            profile=profile_of(photo) if profile_of else None,
            others=others,
            check=check if number % len(photos) == 0 else None,
        )
        path = keep("photos", kept_photo(data, name), ".jpg")
        picture = keep("pictures", jpeg(faces[face].picture), ".jpg")
        record = with_surveyed(record, face, faces[face], path, picture)
    if len(faces) == len(Face):
        seen = turn_seen(record, *(faces[face].picture for face in Face))
        record = record.model_copy(update={"turn_offered": None if seen.same_face else seen.better})
    return record, faces


def turn_seen(record: BoardRecord, front: NDArray[np.uint8], back: NDArray[np.uint8]) -> Registration:
    """What the pictures of both faces, and a waney board's outlines, say of how it was turned over.

    Raises
    ------
    JobError
        A face is not at true scale.
    """
    scales = [known.px_per_mm if (known := record.face(face)) else None for face in Face]
    if scales[0] is None or scales[1] is None:
        raise JobError(f"board {record.id}: bring both faces to true scale first")
    waney = record.waney
    return registered(
        front,
        reduced_to(back, scales[1] / scales[0]),
        scales[0],
        turned=record.turned,
        front_outline=record.outline(Face.FRONT) if waney else None,
        back_outline=in_board_frame(record.outline(Face.BACK), record, Face.BACK) if waney else None,
        waney_mm=record.thickness if waney else None,
    )


def _at(frame: Frame, at_px: tuple[float, float]) -> tuple[float, float]:
    x, y = frame.to_mm(at_px)
    return round(float(x), 2), round(float(y), 2)


def _corners(found: NDArray[np.float64]) -> Corners:
    first, second, third, fourth = ((float(x), float(y)) for x, y in found)
    return first, second, third, fourth


def scale_of(corners: Corners, length_mm: float) -> float:
    """As fine as the photo is, within reason [px per mm]."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = corners
    longest = max(hypot(bx - ax, by - ay), hypot(cx - dx, cy - dy))
    return round(min(_FINEST, max(_COARSEST, longest / length_mm)), 2)
