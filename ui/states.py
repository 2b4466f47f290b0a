"""How far each board of a job has come, and what is to be done next."""

from dataclasses import dataclass

from layout.stock import Face
from ui.jobfile import BoardRecord, Job
from ui.wording import named
from vision.marks import MarkState

__all__ = ["STAGES", "BoardState", "board_state", "next_thing", "waiting_on"]

STAGES = ("photographed", "true to scale", "marked", "planned", "cut")


@dataclass(frozen=True)
class BoardState:
    """One board's way through the job.

    Parameters
    ----------
    reached : tuple of bool
        In the order of `STAGES`.
    waiting : int
        Suggestions nobody has judged.
    error_mm : float or None
        The worse face's [mm].
    """

    board: str
    reached: tuple[bool, ...]
    waiting: int
    error_mm: float | None


def waiting_on(record: BoardRecord) -> int:
    """Suggestions on a board that nobody has judged."""
    return sum(mark.state is MarkState.PENDING for mark in record.marks)


def board_state(job: Job, record: BoardRecord) -> BoardState:
    """How far one board has come."""
    faces = [face for face in (record.front, record.back) if face is not None]
    waiting = waiting_on(record)
    placed = job.layout.on(record.id) if job.layout else ()
    photographed = any(face.photo for face in faces)
    scaled = any(face.picture for face in faces)
    errors = [face.error_mm for face in faces if face.error_mm is not None]
    reached = (
        photographed,
        scaled,
        scaled and waiting == 0,
        bool(placed),
        bool(placed) and all(item.cut for item in placed),
    )
    return BoardState(record.id, reached, waiting, max(errors, default=None))


def next_thing(job: Job) -> tuple[str, str]:
    """The step to go to next and why, in a sentence."""
    if not job.parts:
        return "list", "Say which parts you need."
    if not job.boards or job.loose:
        return "boards", "Photograph your boards and read them with the tape."
    for record in job.boards:
        for face in Face:
            known = record.face(face)
            if known is not None and known.photo and not known.picture:
                return "boards", f"Set the corners of board {record.id}, {face.value}."
    unjudged = [record.id for record in job.boards if waiting_on(record)]
    if unjudged:
        return "marks", f"Judge the suggestions on board {named(unjudged)}."
    if job.layout is None or not job.layout.placements:
        return "layout", "Lay the parts out."
    return "sheets", "Take the sheets to the saw."
