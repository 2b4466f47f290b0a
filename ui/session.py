"""A job being worked on: the job, what can be undone and redone, and who has been answered. Pure.

Every step is one line of edits.jsonl, so the whole session can be replayed
from disk: a refreshed page, a second window and a server that was killed all
find the same job with the same undo.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum

from ui.edits import Edit, applied, inverse
from ui.jobfile import Job, JobError

__all__ = ["Action", "Ask", "Session", "Step", "remembered", "stepped"]


class Action(StrEnum):
    """What a step does."""

    EDIT = "edit"
    UNDO = "undo"
    REDO = "redo"
    REFUSED = "refused"  # changes nothing; kept so that the window that asked is not asked to send it again


@dataclass(frozen=True)
class Step:
    """One step, and which window asked for it.

    Parameters
    ----------
    action : Action
    edit : Edit or None
        For `Action.EDIT` only.
    client : str
        The window that asked; "" for the program itself.
    seq : int
        Its running number in that window.
    note : str
        Why it was refused.
    """

    action: Action
    edit: Edit | None = None
    client: str = ""
    seq: int = 0
    note: str = ""


@dataclass(frozen=True)
class Ask:
    """What a window asks, made a step only when the steps before it are done.

    Parameters
    ----------
    client, seq
        As of a `Step`.
    edit : callable
        Given the job as it then is, the edit; a JobError refuses. None with `action` undo or redo.
    action : Action
    """

    client: str
    seq: int
    edit: Callable[[Job], Edit] | None = None
    action: Action = Action.EDIT

    def step(self, session: "Session") -> Step:
        """The step it has become."""
        made = self._edit_of(session.job)
        if made is not None and not made.changes:
            return Step(Action.REFUSED, None, self.client, self.seq)
        return Step(self.action, made, self.client, self.seq)

    def _edit_of(self, job: Job) -> Edit | None:
        """The edit; a message of a window that makes no sense is refused like any other."""
        try:
            return self.edit(job) if self.edit is not None else None
        except JobError:
            raise
        except (LookupError, ValueError, TypeError, AttributeError, ArithmeticError) as error:
            raise JobError(f"this edit makes no sense here ({type(error).__name__}); try again") from error


@dataclass(frozen=True)
class Session:
    """The job and the way it came about."""

    job: Job
    done: tuple[Edit, ...] = ()
    undone: tuple[Edit, ...] = ()
    answered: dict[str, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def stepped(session: Session, step: Step) -> Session:
    """The session after one step.

    Raises
    ------
    JobError
        The edit does not fit the job as it is now, or there is nothing to undo or redo.
    """
    job = session.job
    if step.action is Action.EDIT and step.edit is not None:
        job = applied(job, step.edit)
    elif step.action is Action.UNDO:
        if not session.done:
            raise JobError("there is nothing to undo")
        job = applied(job, inverse(session.done[-1]))
    elif step.action is Action.REDO:
        if not session.undone:
            raise JobError("there is nothing to redo")
        job = applied(job, session.undone[-1])
    job = job.model_copy(update={"revision": job.revision + 1})
    return replace(remembered(session, step), job=job)


def remembered(session: Session, step: Step) -> Session:
    """The session's undo, redo and answers after a step, its job untouched."""
    done, undone = session.done, session.undone
    if step.action is Action.EDIT and step.edit is not None:
        done, undone = (*done, step.edit), ()
    elif step.action is Action.UNDO and done:
        done, undone = done[:-1], (*undone, done[-1])
    elif step.action is Action.REDO and undone:
        done, undone = (*done, undone[-1]), undone[:-1]
    answered = session.answered
    if step.client:
        answered = answered | {step.client: max(step.seq, answered.get(step.client, 0))}
    return replace(session, done=done, undone=undone, answered=answered)
