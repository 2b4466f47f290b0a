"""What goes out of a job: marked-up pictures, sheets and tables, as file names and bytes."""

from collections.abc import Callable
from contextlib import suppress

from layout.repair.looks import Looks
from layout.stock import Face
from ui.drawing.sheets import FacePicture, Paper, sheets
from ui.jobfile import Job, JobError, boards_of
from ui.pictures import picture_from
from vision.errors import VisionError
from vision.looks import looks_of

__all__ = ["face_looks", "face_pictures", "sheet_files"]

Read = Callable[[str], bytes]


def face_pictures(
    job: Job, read: Read, only: frozenset[str] | None = None
) -> dict[tuple[str, Face], FacePicture]:
    """The true-scale pictures of a job's boards.

    Parameters
    ----------
    job : Job
    read : callable
        The bytes of one of the job's files.
    only : frozenset of str or None
        Numbers of the boards wanted; None is all.
    """
    found = {}
    for record in job.boards:
        if only is not None and record.id not in only:
            continue
        for face in Face:
            known = record.face(face)
            if known is not None and known.picture and known.px_per_mm:
                rgb = picture_from(read(known.picture))
                found[record.id, face] = FacePicture(rgb, known.px_per_mm)
    return found


def face_looks(job: Job, read: Read) -> tuple[Looks, ...]:
    """Colour and grain of every face with a picture, where the shop makes repairs."""
    if not job.settings.repairs.allowed:
        return ()
    boards = {board.id: board for board in boards_of(job)}
    found = []
    for (name, face), picture in face_pictures(job, read).items():
        # A face too small to be measured is left to the eye.
        with suppress(VisionError):
            found.append(looks_of(picture.rgb, picture.px_per_mm, boards[name], face))
    return tuple(found)


def sheet_files(job: Job, read: Read, paper: Paper = "A4", *, upright: bool = False) -> dict[str, bytes]:
    """Every file of a job's layout, by name; `upright` adds pictures of the boards standing, for a phone.

    Raises
    ------
    JobError
        There is no layout.
    """
    if job.layout is None:
        raise JobError("this job has no layout yet; plan first")
    return sheets(
        boards_of(job),
        job.parts,
        job.settings,
        job.layout,
        pictures=face_pictures(job, read, frozenset(job.layout.boards_used)),
        marks={record.id: record.marks for record in job.boards},
        title=job.name,
        units=job.units,
        paper=paper,
        currency=job.currency,
        upright=upright,
    )
