"""The steps of the job as plain functions: photo to true scale, marks, layout, check.

The command, the page and the tests all run these. Nothing here knows a screen,
a command line or a disk.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import hypot

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from layout.allowances import sawn_length
from layout.check import Violation, violations
from layout.errors import LayoutError
from layout.placement import Layout, Placement
from layout.repair.looks import Looks
from layout.solve.params import SolveParams
from layout.solve.plan import Progress, plan
from layout.stock import Face, Turn, Where
from ui.edits import Change, Edit, What, written
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError, boards_of
from ui.pictures import jpeg
from vision.errors import VisionError
from vision.marks import Mark, MarkState, Origin, confirmed_above
from vision.outline import MissedOutline, find_outline
from vision.photo import Photo, read_photo
from vision.private import private_copy
from vision.rectify import true_scale
from vision.suggest.every import DOUBTFUL_PER_METRE, suggest_marks

__all__ = [
    "SurveyedFace",
    "accepted",
    "checked",
    "corners_in",
    "kept_photo",
    "parts_too_long",
    "photo_from",
    "planned",
    "surveyed_board",
    "surveyed_face",
    "with_layout",
    "with_suggestions",
]

Corners = tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float]]
Keep = Callable[[str, bytes, str], str]

_FINEST, _COARSEST = 4.0, 1.0  # px per mm of a true-scale picture


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
    """

    picture: NDArray[np.uint8]
    px_per_mm: float
    error_mm: float
    corners_px: Corners
    marks: tuple[Mark, ...]
    confidence: float | None
    notes: tuple[str, ...]

    def record(self, photo: str, picture: str) -> FaceRecord:
        """The face as it stands in the job."""
        return FaceRecord(
            photo=photo,
            corners_px=self.corners_px,
            picture=picture,
            px_per_mm=self.px_per_mm,
            error_mm=round(self.error_mm, 2),
        )


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
    length_mm: float,
    width_mm: float,
    *,
    corners_px: Corners | None = None,
    face: Face = Face.FRONT,
    turned: Turn = Turn.ROLLED,
    doubtful_per_metre: float = DOUBTFUL_PER_METRE,
) -> SurveyedFace:
    """A photographed face brought to true scale, with suggested marks.

    Parameters
    ----------
    photo : Photo
    name : str
        What the photo is called, for messages.
    length_mm, width_mm : float
        What the tape said.
    corners_px : four (x, y) or None
        Corners in the photo, board order; None finds them.
    face, turned
        Which face it is, and how the board was turned over.
    doubtful_per_metre : float
        How many wrong suggestions a metre may carry; see `vision.suggest.every`.

    Raises
    ------
    JobError
        No board found, or readings or corners that can't be.
    """
    for what, reading in (("length", length_mm), ("width", width_mm)):
        if not 0 < reading <= 20_000:
            raise JobError(f"the taped {what} is {reading:g} mm; give a number above 0 and at most 20000")
    corners, confidence = (corners_px, None) if corners_px is not None else corners_in(photo, name)
    scale = _scale(corners, length_mm)
    try:
        straight = true_scale(photo, corners, length_mm, width_mm, px_per_mm=scale)
        marks = suggest_marks(
            straight.picture, straight.px_per_mm, face, turned, doubtful_per_metre=doubtful_per_metre
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
        notes=straight.notes,
    )


def surveyed_board(
    record: BoardRecord, photos: Sequence[tuple[Face, str, bytes]], keep: Keep
) -> tuple[BoardRecord, dict[Face, SurveyedFace]]:
    """A board with its photographed faces at true scale and their suggestions among its marks.

    Parameters
    ----------
    record : BoardRecord
        Tape readings; corners already set on a face are used.
    photos : sequence of (face, name, bytes)
    keep : callable
        Stores (folder, bytes, suffix) and returns the path inside the job.
    """
    faces: dict[Face, SurveyedFace] = {}
    for face, name, data in photos:
        known = record.face(face)
        faces[face] = surveyed_face(
            photo_from(data, name),
            name,
            record.length,
            record.width,
            corners_px=known.corners_px if known else None,
            face=face,
            turned=record.turned,
        )
    for face, name, data in photos:
        surveyed = faces[face]
        stored = surveyed.record(
            keep("photos", kept_photo(data, name), ".jpg"), keep("pictures", jpeg(surveyed.picture), ".jpg")
        )
        known = record.face(face)
        if known is not None:
            stored = stored.model_copy(update={"outline_mm": known.outline_mm})
        record = record.model_copy(update={face.value: stored})
        record = with_suggestions(record, face, surveyed.marks)
    return record, faces


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
    fresh = []
    for mark in marks:
        if any(_same_place(Polygon(mark.outline), known) for known in settled):
            continue
        number = 0
        name = mark.id
        while name in taken:
            number += 1
            name = f"{mark.id}.{number}"
        taken.add(name)
        fresh.append(replace(mark, id=name))
    return record.model_copy(update={"marks": (*kept, *fresh)})


def accepted(job: Job, score: float) -> Job:
    """The job with every pending suggestion of at least this score confirmed."""
    boards = tuple(
        board.model_copy(update={"marks": confirmed_above(board.marks, score)}) for board in job.boards
    )
    return job.model_copy(update={"boards": boards})


def planned(
    job: Job,
    *,
    seconds: float = 10.0,
    iterations: int | None = None,
    seed: int = 0,
    locked: Sequence[Placement] | None = None,
    looks: Sequence[Looks] = (),
    on_progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Layout:
    """A layout for the job, checked by the verifier.

    Parameters
    ----------
    job : Job
    seconds, iterations, seed
        When to stop, and where chance starts.
    locked : sequence of Placement or None
        Placements no plan may move; None takes the locked ones of the job's own layout.
    looks : sequence of Looks
        Colour and grain of the faces, for repairs to find their match (`ui.outputs.face_looks`).

    Raises
    ------
    JobError
        Nothing to plan, or something the engine can't work with.
    """
    if not job.parts:
        raise JobError("the cutting list is empty; add parts first")
    if not any(not board.forbidden for board in job.boards):
        raise JobError("there is no board to cut; add boards first")
    if locked is None:
        held = job.layout.placements if job.layout else ()
        locked = [placement for placement in held if placement.locked or placement.cut]
    try:
        return plan(
            boards_of(job),
            job.parts,
            job.settings,
            SolveParams(
                seconds=seconds,
                iterations=iterations,
                seed=seed,
                glue_ups=job.layout.glue_ups if job.layout else (),
                looks=tuple(looks),
            ),
            locked=tuple(locked),
            on_progress=on_progress,
            should_stop=should_stop,
        )
    except (LayoutError, ValueError) as error:
        raise JobError(str(error)) from error


def parts_too_long(job: Job) -> tuple[str, ...]:
    """A sentence for each part that is longer, as sawn, than every board that may be cut."""
    lengths = [record.board().length for record in job.boards if not record.forbidden]
    longest = max(lengths, default=0.0)
    allowances = job.settings.allowances
    return tuple(
        f"part {part.name!r} is {part.length:g} mm long, sawn {sawn_length(part, allowances):g} mm; "
        f"the longest board has {longest:g} mm: get a longer board or make the part of two"
        for part in job.parts
        if lengths and sawn_length(part, allowances) > longest
    )


def checked(job: Job) -> tuple[Violation, ...]:
    """What the verifier finds wrong with the job's layout.

    Raises
    ------
    JobError
        There is no layout.
    """
    if job.layout is None:
        raise JobError("this job has no layout yet; plan first")
    return violations(boards_of(job), job.parts, job.settings, job.layout)


def with_layout(job: Job, layout: Layout | None, label: str = "plan") -> Edit:
    """The edit that puts a layout in the place of the job's present one."""
    before = None if job.layout is None else written(job.layout)
    after = None if layout is None else written(layout)
    return Edit(label, (Change(What.LAYOUT, "", before, after),))


def _corners(found: NDArray[np.float64]) -> Corners:
    first, second, third, fourth = ((float(x), float(y)) for x, y in found)
    return first, second, third, fourth


def _scale(corners: Corners, length_mm: float) -> float:
    """As fine as the photo is, within reason [px per mm]."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = corners
    longest = max(hypot(bx - ax, by - ay), hypot(cx - dx, cy - dy))
    return round(min(_FINEST, max(_COARSEST, longest / length_mm)), 2)


def _same_place(one: Polygon, other: Polygon) -> bool:
    """Whether two outlines mean the same fault: most of the smaller lies in the other."""
    return bool(one.intersection(other).area > 0.5 * min(one.area, other.area))
