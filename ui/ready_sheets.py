"""A job's sheets made ready for the page, the last ones kept at hand."""

from functools import lru_cache
from threading import Lock

from layout.stock import Face
from ui.drawing.board_picture import board_picture
from ui.drawing.sheets import Paper
from ui.files import JobFolder
from ui.jobfile import Job, JobError, boards_of
from ui.outputs import face_pictures, sheet_files
from ui.pictures import jpeg

__all__ = ["MOST_BOARDS", "ready_sheets", "ready_upright"]

MOST_BOARDS = 120
"""Boards whose sheets the page draws: about 1.5 MB each, held in memory several times over."""

_ONE_AT_A_TIME = Lock()  # the page and the picture's own route may both ask for sheets not made yet


def ready_sheets(folder: JobFolder, revision: int, paper: Paper) -> dict[str, bytes]:
    """Every file of the layout, by name.

    Parameters
    ----------
    folder : JobFolder
    revision : int
        The job's, which names its state.
    paper : "A4" or "Letter"

    Raises
    ------
    JobError
        The job has changed meanwhile, has no layout, or one on more than `MOST_BOARDS`.
    """
    with _ONE_AT_A_TIME:
        return _sheets(folder, revision, paper)


@lru_cache(maxsize=3)
def _sheets(folder: JobFolder, revision: int, paper: Paper) -> dict[str, bytes]:
    job = _still(folder, revision)
    if job.layout is not None and len(job.layout.boards_used) > MOST_BOARDS:
        raise JobError(f"sheets of more than {MOST_BOARDS} boards are written by: clearface sheets")
    return sheet_files(job, folder.read, paper)


@lru_cache(maxsize=48)
def ready_upright(folder: JobFolder, revision: int, board: str, face: Face) -> bytes:
    """The marked-up picture of one face with the board standing, as a phone is held: a JPEG.

    Raises
    ------
    JobError
        The job has changed meanwhile, or has no such board in a layout.
    """
    job = _still(folder, revision)
    stock = {one.id: one for one in boards_of(job)}
    if job.layout is None or board not in stock:
        raise JobError(f"no board {board} in a layout of this job")
    found = face_pictures(job, folder.read, frozenset({board})).get((board, face))
    drawn = board_picture(
        stock[board],
        job.parts,
        job.settings,
        job.layout,
        face,
        found.rgb if found else None,
        found.px_per_mm if found else 1.0,
        job.board(board).marks,
        units=job.units,
        upright=True,
    )
    return jpeg(drawn, 88)


def _still(folder: JobFolder, revision: int) -> Job:
    job = folder.job()
    if job.revision != revision:
        raise JobError("the job has changed; load the page again")
    return job
