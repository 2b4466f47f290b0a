"""The photographs of one face, first and further ones alike: their corners and the ticks read in them."""

from collections.abc import Sequence
from math import hypot

from layout.stock import Face
from ui import survey
from ui.face_records import FurtherPhoto, Place, Tick
from ui.files import JobFolder
from ui.jobfile import FaceRecord, Job, JobError
from ui.lengths import length_in_mm
from ui.surface_ops import replaced_board
from ui.surveyed import Corners
from ui.surveying import with_face
from vision.errors import VisionError
from vision.frame import Frame
from vision.outline import snapped
from vision.private import private_copy
from vision.ticks import line_near

__all__ = [
    "corners_of_photo",
    "photos_kept",
    "photos_of",
    "place_added",
    "place_named_anew",
    "snapped_in_photo",
    "tick_added",
    "tick_on_line",
    "tick_read_anew",
    "with_further",
    "without_photo",
]

_LONGEST_NAME = 20


def photos_of(known: FaceRecord) -> tuple[FurtherPhoto, ...]:
    """Every photograph of a face, from left to right as it is seen; none where there is none."""
    if known.photo is None:
        return ()
    first = FurtherPhoto(
        photo=known.photo, corners_px=known.corners_px, ticks=known.ticks, places=known.places
    )
    return (first, *known.further)


def photos_kept(folder: JobFolder, files: Sequence[tuple[str, bytes]]) -> tuple[FurtherPhoto, ...]:
    """Photographs stored in the job's folder, on no face yet.

    Raises
    ------
    JobError
        A file that is no picture; the message names it.
    """
    kept = []
    for name, data in files:
        try:
            copy = private_copy(data)
        except VisionError as error:
            raise JobError(f"{name}: {error}") from error
        kept.append(FurtherPhoto(photo=folder.keep("photos", copy, ".jpg")))
    return tuple(kept)


def with_further(job: Job, board: str, face: Face, fresh: Sequence[FurtherPhoto]) -> Job:
    """The job with more photographs of a face, after those it has.

    Raises
    ------
    JobError
        There is no first one, or one that the face has already.
    """
    *before, last = photos_of(_known(job, board, face))
    # The photo that was the last one is so no more: the board runs on beyond it.
    photos = (*before, last.model_copy(update={"corners_px": None}), *fresh)
    if len({one.photo for one in photos}) < len(photos):
        raise JobError("this face has that photo already; give one of the next piece of it")
    return _with_photos(job, board, face, photos)


def without_photo(job: Job, board: str, face: Face, number: int) -> Job:
    """The job without one further photograph; the first stays."""
    photos = photos_of(_known(job, board, face))
    _check_number(photos, number)
    if number == 0:
        raise JobError("the first photo stays; take out the further ones")
    rest = [*photos[:number], *photos[number + 1 :]]
    if number == len(rest):
        rest[-1] = rest[-1].model_copy(update={"corners_px": None})  # now it shows the board's end
    return _with_photos(job, board, face, tuple(rest))


def corners_of_photo(job: Job, board: str, face: Face, number: int, corners: Corners) -> Job:
    """The job with the corners moved in one of the photographs.

    Raises
    ------
    JobError
        The corners don't go round a board, or there is no such photo.
    """
    _check_corners(corners)
    return _changed(job, board, face, number, corners_px=corners)


def snapped_in_photo(
    folder: JobFolder, job: Job, board: str, face: Face, number: int, corners: Corners
) -> Corners:
    """Corners moved onto the edges found near them; where the board runs on, only onto the long edges."""
    _check_corners(corners)
    photos = photos_of(_known(job, board, face))
    _check_number(photos, number)
    path = photos[number].photo
    found = snapped(
        survey.photo_from(folder.read(path), path).rgb,
        corners,
        open_ends=(number > 0, number < len(photos) - 1),
        straight=not job.board(board).waney,
    )
    first, second, third, fourth = ((float(x), float(y)) for x, y in found.corners_px)
    return first, second, third, fourth


def tick_on_line(
    folder: JobFolder, job: Job, board: str, face: Face, number: int, at_px: tuple[float, float]
) -> tuple[float, float]:
    """The place on the pencil or chalk line seen beside a tapped one; the tap itself where none is."""
    photos = photos_of(_known(job, board, face))
    _check_number(photos, number)
    corners, width = photos[number].corners_px, job.board(board).width
    if corners is None:
        return at_px
    sides = [
        hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)
    ]
    length = width * (sides[0] + sides[2]) / (sides[1] + sides[3])  # of a piece nobody tapes its own
    try:
        frame = Frame.from_corners(corners, length, width)
    except VisionError:
        return at_px  # the corners are not set yet
    path = photos[number].photo
    found = line_near(survey.photo_from(folder.read(path), path).rgb, at_px, frame, width)
    return at_px if found is None else (round(float(found[0]), 2), round(float(found[1]), 2))


def tick_added(
    job: Job, board: str, face: Face, number: int, at_px: tuple[float, float], reading: str
) -> Job:
    """The job with a tick at a place in a photograph and what the tape says there, as typed.

    Raises
    ------
    JobError
        A reading that can't be.
    """
    photos = photos_of(_known(job, board, face))
    _check_number(photos, number)
    tick = Tick(at_px=at_px, reading=_reading(job, board, reading))
    return _changed(job, board, face, number, ticks=(*photos[number].ticks, tick))


def tick_read_anew(job: Job, board: str, face: Face, number: int, tick: int, reading: str) -> Job:
    """The job with a tick's reading changed; an empty one takes the tick away."""
    photos = photos_of(_known(job, board, face))
    _check_number(photos, number)
    ticks = list(photos[number].ticks)
    if not 0 <= tick < len(ticks):
        raise JobError("this tick is not there any more")
    if reading.strip():
        ticks[tick] = ticks[tick].model_copy(update={"reading": _reading(job, board, reading)})
    else:
        del ticks[tick]
    return _changed(job, board, face, number, ticks=tuple(ticks))


def place_added(job: Job, board: str, face: Face, number: int, at_px: tuple[float, float], name: str) -> Job:
    """The job with a place that shows on both faces marked in a photograph of one.

    Raises
    ------
    JobError
        No name, or one that this face has already.
    """
    photos = photos_of(_known(job, board, face))
    _check_number(photos, number)
    place = Place(name=_name(photos, name), at_px=at_px)
    return _changed(job, board, face, number, places=(*photos[number].places, place))


def place_named_anew(job: Job, board: str, face: Face, number: int, place: int, name: str) -> Job:
    """The job with a place of both faces called otherwise; an empty name takes it away."""
    photos = photos_of(_known(job, board, face))
    _check_number(photos, number)
    places = list(photos[number].places)
    if not 0 <= place < len(places):
        raise JobError("this place is not there any more")
    one = places.pop(place)
    if name.strip() and name.strip().casefold() != one.name.casefold():
        places.insert(place, one.model_copy(update={"name": _name(photos, name)}))
    elif name.strip():
        places.insert(place, one.model_copy(update={"name": name.strip()}))
    return _changed(job, board, face, number, places=tuple(places))


def _name(photos: Sequence[FurtherPhoto], text: str) -> str:
    name = text.strip()
    if not 0 < len(name) <= _LONGEST_NAME or not name[0].isalpha():
        raise JobError(f"place: {name[:40]!r} is no name; give a letter or a word, as A or nail")
    if any(one.name.casefold() == name.casefold() for photo in photos for one in photo.places):
        raise JobError(f"place: {name} is marked on this face already; give the next one another name")
    return name


def _reading(job: Job, board: str, text: str) -> float:
    length = job.board(board).length
    try:
        value = 0.0 if text.strip() in ("0", "0.0") else length_in_mm(text, job.units)
    except ValueError as error:
        raise JobError(f"tick: {error}") from error
    if not 0 <= value <= length:
        raise JobError(f"tick: {text.strip()!r} is not on the board; read it from the datum end")
    return value


def _changed(job: Job, board: str, face: Face, number: int, **update: object) -> Job:
    photos = list(photos_of(_known(job, board, face)))
    _check_number(photos, number)
    photos[number] = photos[number].model_copy(update=update)
    return _with_photos(job, board, face, tuple(photos))


def _with_photos(job: Job, board: str, face: Face, photos: tuple[FurtherPhoto, ...]) -> Job:
    """The job with other photographs of a face; its true-scale picture is no longer true and goes."""
    known = _known(job, board, face)
    fresh = FaceRecord(
        photo=photos[0].photo,
        corners_px=photos[0].corners_px,
        ticks=photos[0].ticks,
        places=photos[0].places,
        outline_mm=None if known.outline_found else known.outline_mm,
        further=photos[1:],
    )
    return replaced_board(job, with_face(job.board(board), face, fresh))


def _known(job: Job, board: str, face: Face) -> FaceRecord:
    known = job.board(board).face(face)
    if known is None or known.photo is None:
        raise JobError(f"board {board} has no photo of its {face.value}")
    return known


def _check_corners(corners: Corners) -> None:
    """Refuse corners that cross over or run together."""
    turns = []
    for index in range(4):
        (ax, ay), (bx, by), (cx, cy) = (corners[(index + step) % 4] for step in range(3))
        turns.append((bx - ax) * (cy - by) - (by - ay) * (cx - bx))
    if not all(turn > 25 for turn in turns):
        raise JobError(
            "the four corners must go round the board once, without crossing over; undo the last move"
        )


def _check_number(photos: Sequence[FurtherPhoto], number: int) -> None:
    if not 0 <= number < len(photos):
        raise JobError("this photo is not there any more")
