"""Photographs of a job become boards at true scale: stored, their corners found, their faces surveyed.

The slow part (finding, straightening, suggesting) runs on what stood on disk
when it began; its answer is taken only if the photo, the corners and the tape
readings are still the same.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from layout.stock import Face, Turn
from ui import survey
from ui.board_frame import lies_over
from ui.changes import edit_between
from ui.files import JobFolder
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError, LoosePhoto
from ui.lengths import Units, evenly_spaced, length_in_mm
from ui.lenses import lenses_of
from ui.long_board import surveyed_long_face
from ui.moves import layouts_moved
from ui.phones import profile_for
from ui.pictures import jpeg, picture_from
from ui.ready import SCREEN_PX, ready_picture
from ui.surface_ops import replaced_board
from ui.surveyed import SurveyedFace, with_surveyed
from vision.errors import VisionError
from vision.photo import Photo
from vision.private import private_copy
from vision.reverse import Registration

__all__ = [
    "MOST_DOUBTFUL",
    "Readings",
    "photo_on_board",
    "photos_taken_in",
    "readings_from",
    "survey_face",
    "truer_by",
    "turn_doubted",
    "widths_from",
    "with_face",
]

_ENOUGH = 8  # photos, after which more hardly tell more of the lens
MOST_DOUBTFUL = 4.0
"""Wrong suggestions a metre of board may carry at the far end of the slider [1/m]."""


@dataclass(frozen=True)
class Readings:
    """What the tape said of a new board [mm]."""

    number: str
    length: float
    widths: tuple[tuple[float, float], ...]
    thickness: float
    species: str


def photos_taken_in(folder: JobFolder, files: Sequence[tuple[str, bytes]]) -> list[str]:
    """Store photographs in the job, loose; a sentence for each file that is no picture."""
    problems = []
    taken: list[LoosePhoto] = []
    for name, data in files:
        try:
            copy = private_copy(data)  # decodes it once: a cut-off file is refused here and not later
        except VisionError as error:
            problems.append(f"{name}: {error}")
            continue
        path = folder.keep("photos", copy, ".jpg")
        ready_picture(folder, path, SCREEN_PX)  # the page asks for it next, and shall not wait
        taken.append(LoosePhoto(photo=path, name=name))

    def change(job: Job) -> Job:
        there = {one.photo for one in job.loose} | {
            path
            for board in job.boards
            for face in (board.front, board.back)
            if face
            for path in (face.photo, *(one.photo for one in face.further))
        }
        fresh = {one.photo: one for one in taken if one.photo not in there}
        return job.model_copy(update={"loose": (*job.loose, *fresh.values())})

    if taken:
        _saved(folder, f"take in {len(taken)} photos", change)
    return problems


def readings_from(
    number: str, length: str, widths: str, thickness: str, species: str, units: Units
) -> Readings:
    """Tape readings as typed.

    Raises
    ------
    JobError
        The first that can't be right, by its name.
    """
    found = {}
    for what, text in (("length", length), ("thickness", thickness)):
        found[what] = _reading(what, text, units)
    if not number.strip():
        raise JobError("number: give the number chalked on the board")
    return Readings(
        number.strip(),
        found["length"],
        widths_from(widths, found["length"], units),
        found["thickness"],
        species,
    )


def widths_from(text: str, length_mm: float, units: Units) -> tuple[tuple[float, float], ...]:
    """Width readings, evenly spaced from the datum end: "148" or "148 / 150 / 151".

    Raises
    ------
    JobError
        A reading that can't be right.
    """
    words = [word for word in text.replace(";", "/").split("/" if units == "mm" else ";") if word.strip()]
    readings = [_reading("width", word, units) for word in words]
    if not readings:
        raise JobError("width: is empty; read it with the tape")
    return evenly_spaced(readings, length_mm)


def photo_on_board(job: Job, photo: str, readings: Readings | str, face: Face) -> Job:
    """The job with a loose photo put on a board: a new one with these readings, or one that is there.

    Raises
    ------
    JobError
        The photo or the board is gone, or the number is taken.
    """
    if photo not in {one.photo for one in job.loose}:
        raise JobError("this photo is on a board already")
    rest = tuple(one for one in job.loose if one.photo != photo)
    job = job.model_copy(update={"loose": rest})
    fresh = FaceRecord(photo=photo)
    if isinstance(readings, str):
        return replaced_board(job, with_face(job.board(readings), face, fresh))
    if readings.number in {board.id for board in job.boards}:
        raise JobError(f"number: there is a board {readings.number} already")
    record = BoardRecord(
        id=readings.number,
        length=readings.length,
        widths=readings.widths,
        thickness=readings.thickness,
        species=readings.species,
        sheet_line=job.boards[-1].sheet_line if job.boards else None,  # the same print, most likely
    )
    return job.model_copy(update={"boards": (*job.boards, with_face(record, face, fresh))})


def with_face(record: BoardRecord, face: Face, value: FaceRecord | None) -> BoardRecord:
    """A board with the record of one face replaced."""
    return record.model_copy(update={face.value: value})


def survey_face(folder: JobFolder, board: str, face: Face) -> SurveyedFace:
    """Bring one face to true scale, suggest its marks, and keep both.

    Raises
    ------
    JobError
        No board found in the photo, readings that can't be, or a change made meanwhile.
    """
    before = folder.job()
    record = before.board(board)
    path = _photo_of(before, board, face)
    photo = _photo(folder, path)
    found = _surveyed(folder, before, board, face, photo)
    picture = folder.keep("pictures", jpeg(found.picture), ".jpg")
    offered = _turn_offered(folder, with_surveyed(record, face, found, path, picture))

    def change(job: Job) -> Job:
        now = job.board(board)
        face_now = now.face(face)
        if face_now is None or face_now.photo != path or _basis(now, face) != _basis(record, face):
            raise JobError(f"board {board} was changed while it was surveyed; do it again")
        done = with_surveyed(now, face, found, path, picture).model_copy(update={"turn_offered": offered})
        return layouts_moved(replaced_board(job, done), board, (done.framed - now.framed) / 2)

    _saved(folder, f"survey board {board}, {face.value}", change)
    _other_in_frame(folder, board, face, record.framed)
    return found


def _other_in_frame(folder: JobFolder, board: str, face: Face, framed_mm: float) -> None:
    """Survey the other face once more where its picture is too narrow now, or it lies over this one."""
    record = folder.job().board(board)
    other = record.face(face.other)
    if not record.waney or other is None or other.picture is None:
        return
    if record.framed > framed_mm or lies_over(record, face.other):
        survey_face(folder, board, face.other)


def _surveyed(folder: JobFolder, job: Job, board: str, face: Face, photo: Photo) -> SurveyedFace:
    """A face from its photo, or from several if it is too long for one."""
    record, name = job.board(board), f"board {board}, {face.value}"
    known = record.face(face)
    profile, others = profile_for(job, photo), lenses_of(job, photo, (board, face))
    if known is None or not known.further:
        return survey.surveyed_face(
            photo,
            name,
            record,
            face,
            profile=profile,
            others=others,
            doubtful_per_metre=MOST_DOUBTFUL,  # the slider of the marks step shows fewer
        )
    photos = [photo, *(_photo(folder, one.photo) for one in known.further)]
    return surveyed_long_face(
        [(one, f"{name}, photo {number}") for number, one in enumerate(photos, start=1)],
        record,
        face,
        profile=profile,
        others=others,
        doubtful_per_metre=MOST_DOUBTFUL,
    )


def turn_doubted(folder: JobFolder, board: str) -> tuple[str, ...]:
    """What the pictures of both faces say against how they were taken; not what the record offers."""
    found = _registration(folder, folder.job().board(board))
    return (f"Board {board}: {found.message}",) if found and found.message and not found.better else ()


def _turn_offered(folder: JobFolder, record: BoardRecord) -> Turn | None:
    """The other turn, where the pictures of both faces speak for it."""
    found = _registration(folder, record)
    return found.better if found and not found.same_face else None


def _registration(folder: JobFolder, record: BoardRecord) -> Registration | None:
    front, back = record.front, record.back
    if not (front and back and front.picture and back.picture):
        return None
    pictures = [picture_from(folder.read(face.picture or "")) for face in (front, back)]
    return survey.turn_seen(record, pictures[0], pictures[1])


def truer_by(job: Job) -> int:
    """How many faces would be truer if they were surveyed again, more photos telling of the lens now."""
    if job.lens is not None:
        return 0
    told = [
        known
        for record in job.boards
        for face in Face
        if (known := record.face(face)) is not None and known.lens is not None and known.picture
    ]
    return sum(known.lens_from + 2 < len(told) and known.lens_from < _ENOUGH for known in told)


def _basis(record: BoardRecord, face: Face) -> tuple[object, ...]:
    known = record.face(face)
    taken = (known.corners_px, known.ticks, known.further, known.places) if known else None
    read = (record.length, record.widths, record.back_widths, record.back_edge)
    return *read, record.turned, record.waney, taken


def _photo_of(job: Job, board: str, face: Face) -> str:
    known = job.board(board).face(face)
    if known is None or known.photo is None:
        raise JobError(f"board {board} has no photo of its {face.value}")
    return known.photo


@lru_cache(maxsize=2)
def _photo(folder: JobFolder, path: str) -> Photo:
    return survey.photo_from(folder.read(path), path)


def _reading(what: str, text: str, units: Units) -> float:
    try:
        value = length_in_mm(text, units)
    except ValueError as error:
        raise JobError(f"{what}: {error}") from error
    if not 0 < value <= 20_000:
        raise JobError(f"{what}: {text.strip()!r} can't be; give more than 0 and at most 20 m")
    return value


def _saved(folder: JobFolder, label: str, change: Callable[[Job], Job]) -> None:
    from ui.session import Ask

    session = folder.take(lambda _: (Ask("", 0, lambda job: edit_between(job, change(job), label)),))
    if session.notes:
        raise JobError(session.notes[-1])
