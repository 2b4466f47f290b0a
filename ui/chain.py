"""Parts onto boards, and the verifier's word on it: the second half of the job. Pure.

The command, the page and the tests all run these and `ui.survey`. Nothing here
knows a screen, a command line or a disk.
"""

from collections import deque
from collections.abc import Callable, Sequence

from layout.allowances import sawn_length
from layout.check import Violation, violations
from layout.errors import LayoutError
from layout.placement import Layout, Placement
from layout.repair.looks import Looks
from layout.solve.params import SolveParams
from layout.solve.plan import Progress, plan
from ui.jobfile import Job, JobError, boards_of
from vision.marks import confirmed_above

__all__ = ["accepted", "checked", "parts_too_long", "planned"]


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
    asked = (job.boards, job.parts, job.settings, job.layout)
    for known, found in tuple(_VERDICTS):
        if all(one is other for one, other in zip(known, asked, strict=True)):
            return found
    found = violations(boards_of(job), job.parts, job.settings, job.layout)
    _VERDICTS.append((asked, found))
    return found


# The page asks again whenever it is drawn. What is the very same thing in memory has the same
# verdict: nothing of a job ever changes in place.
_VERDICTS: deque[tuple[tuple[object, ...], tuple[Violation, ...]]] = deque(maxlen=3)
