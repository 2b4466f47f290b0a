"""Edits of a job: what stood there before, what stands there after, so that each can be taken back.

A change names one thing of the job (a mark, a board, a part, a placement, the
layout, the job's own settings) and holds it whole, before and after::

    before  after
    none    {...}    added
    {...}   {...}    changed
    {...}   none     taken away

A change whose "before" is no longer what stands in the job is refused: somebody
else, in another window, changed it first.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from math import isfinite
from typing import Any

from pydantic import TypeAdapter, ValidationError

from layout.parts import Part
from layout.placement import Layout, Placement
from ui.jobfile import BoardRecord, Job, JobError, KeptLayout, LoosePhoto, UnfinishedPart, with_known_rules
from vision.marks import Mark

__all__ = ["Change", "Edit", "What", "applied", "inverse", "written"]


Thing = Mark | Part | Layout | Placement | BoardRecord | UnfinishedPart | LoosePhoto | KeptLayout | Job


class What(StrEnum):
    """The kinds of thing an edit changes."""

    JOB = "job"
    BOARD = "board"
    MARK = "mark"
    PART = "part"
    UNFINISHED = "unfinished part"
    LOOSE = "loose photo"
    KEPT = "kept layout"
    LAYOUT = "layout"
    PLACEMENT = "placement"


@dataclass(frozen=True)
class Change:
    """One thing, before and after.

    Parameters
    ----------
    what : What
    id : str
        Board number, mark, part name or "part/copy" of a placement; "" for the job and the layout.
    before, after : dict or None
        The thing as in job.json; a board without its marks, the job without its lists.
    board : str
        The board a mark is on.
    at : int or None
        Position in the list for something added or taken away; None is the end.
    """

    what: What
    id: str = ""
    before: dict[str, Any] | None = None
    after: dict[str, Any] | None = None
    board: str = ""
    at: int | None = None


@dataclass(frozen=True)
class Edit:
    """Changes made and taken back together, with a name fit for the undo button."""

    label: str
    changes: tuple[Change, ...]


_MARK = TypeAdapter(Mark)
_PART = TypeAdapter(Part)
_LAYOUT = TypeAdapter(Layout)
_PLACEMENT = TypeAdapter(Placement)
_OWN = {"name", "currency", "units", "settings", "lens"}


def inverse(edit: Edit) -> Edit:
    """The edit that takes this one back."""
    turned = (replace(change, before=change.after, after=change.before) for change in reversed(edit.changes))
    return Edit(edit.label, tuple(turned))


def applied(job: Job, edit: Edit) -> Job:
    """The job after an edit; its revision is not touched.

    Raises
    ------
    JobError
        Something else stands where the edit found its "before", or the "after" can't be right.
    """
    for change in edit.changes:
        try:
            job = _APPLIERS[change.what](job, change)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            raise JobError(str(first.get("ctx", {}).get("error", first["msg"]))) from error
        except ValueError as error:
            raise JobError(str(error)) from error
    return job


def written(thing: Thing) -> dict[str, Any]:
    """One thing as it stands in a change."""
    dumped: Any
    if isinstance(thing, Job):
        return thing.model_dump(mode="json", include=_OWN)
    if isinstance(thing, BoardRecord):
        return thing.model_dump(mode="json", exclude={"marks"})
    if isinstance(thing, UnfinishedPart | LoosePhoto | KeptLayout):
        return thing.model_dump(mode="json")
    if isinstance(thing, Mark):
        dumped = _MARK.dump_python(thing, mode="json")
    elif isinstance(thing, Part):
        dumped = _PART.dump_python(thing, mode="json")
    elif isinstance(thing, Layout):
        dumped = _LAYOUT.dump_python(thing, mode="json")
    else:
        dumped = _PLACEMENT.dump_python(thing, mode="json")
    return dict(dumped)


def _job(job: Job, change: Change) -> Job:
    _same(written(job), change, "the job's settings", lambda raw: Job.model_validate(job.model_dump() | raw))
    return Job.model_validate(job.model_dump(exclude=_OWN) | (change.after or {}))


def _layout(job: Job, change: Change) -> Job:
    stands = None if job.layout is None else written(job.layout)
    _same(stands, change, "the layout", _LAYOUT.validate_python)
    layout = None if change.after is None else _storable(_LAYOUT.validate_python(change.after), "the layout")
    return job.model_copy(update={"layout": layout})


def _part(job: Job, change: Change) -> Job:
    def made(raw: dict[str, Any]) -> Part:
        return with_known_rules(_PART.validate_python(raw))

    parts = _list_after(job.parts, change, lambda part: part.name, "part", made)
    return job.model_copy(update={"parts": parts})


def _unfinished(job: Job, change: Change) -> Job:
    rows = _list_after(job.unfinished, change, lambda row: row.id, "row", UnfinishedPart.model_validate)
    return job.model_copy(update={"unfinished": rows})


def _loose(job: Job, change: Change) -> Job:
    photos = _list_after(job.loose, change, lambda one: one.photo, "photo", LoosePhoto.model_validate)
    return job.model_copy(update={"loose": photos})


def _kept(job: Job, change: Change) -> Job:
    kept = _list_after(job.kept, change, lambda one: one.name, "kept layout", KeptLayout.model_validate)
    return job.model_copy(update={"kept": kept})


def _board(job: Job, change: Change) -> Job:
    marks = {board.id: board.marks for board in job.boards}

    def made(raw: dict[str, Any]) -> BoardRecord:
        return BoardRecord.model_validate(raw).model_copy(update={"marks": marks.get(change.id, ())})

    return job.model_copy(
        update={"boards": _list_after(job.boards, change, lambda board: board.id, "board", made)}
    )


def _mark(job: Job, change: Change) -> Job:
    board = job.board(change.board)
    marks = _list_after(board.marks, change, lambda mark: mark.id, "mark", _MARK.validate_python)
    changed = board.model_copy(update={"marks": marks})
    boards = tuple(changed if other.id == board.id else other for other in job.boards)
    return job.model_copy(update={"boards": boards})


def _placement(job: Job, change: Change) -> Job:
    if job.layout is None:
        raise JobError("there is no layout any more; plan again")
    placements = _list_after(
        job.layout.placements,
        change,
        lambda item: f"{item.part}/{item.copy}",
        "part",
        _PLACEMENT.validate_python,
    )
    return job.model_copy(update={"layout": replace(job.layout, placements=placements)})


def _list_after(
    things: tuple[Any, ...],
    change: Change,
    name: Callable[[Any], str],
    noun: str,
    made: Callable[[dict[str, Any]], Any],
) -> tuple[Any, ...]:
    """The list with one thing added, changed or taken away."""
    names = [name(thing) for thing in things]
    place = names.index(change.id) if change.id in names else None
    _same(None if place is None else written(things[place]), change, f"{noun} {change.id!r}", made)
    rest = list(things)
    if place is not None:
        rest.pop(place)
        names.pop(place)
    if change.after is not None:
        thing = _storable(made(change.after), f"{noun} {change.id!r}")
        if name(thing) in names:
            raise JobError(f"two {noun}s are called {name(thing)!r}; give each a name of its own")
        at = place if place is not None else (len(rest) if change.at is None else change.at)
        rest.insert(at, thing)
    return tuple(rest)


def _storable(thing: Any, what: str) -> Any:
    """The thing itself; JSON has no word for NaN, infinity or half a letter, so none may reach the disk."""
    waiting: list[Any] = [written(thing)]
    while waiting:
        item = waiting.pop()
        if isinstance(item, float) and not isfinite(item):
            raise JobError(f"{what} holds a number without end ({item}); give a plain number")
        if isinstance(item, str) and not is_whole_text(item):
            raise JobError(f"{what} holds half a letter, which can't be kept; type it again")
        if isinstance(item, dict):
            waiting += [*item, *item.values()]
        elif isinstance(item, (list, tuple)):
            waiting += item
    return thing


def is_whole_text(text: str) -> bool:
    """Whether a text can be written as UTF-8; half of a surrogate pair, as a browser may send it, can't."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def _same(
    stands: dict[str, Any] | None,
    change: Change,
    what: str,
    made: Callable[[dict[str, Any]], Any] | None = None,
) -> None:
    if stands == change.before or (stands and made and stands == _as_now_written(change.before, made)):
        return
    if change.before is None:
        raise JobError(f"{what} is already there; give another name")
    if stands is None:
        raise JobError(f"{what} is gone: it was taken away in another window")
    raise JobError(f"{what} was changed in another window; look at it again before you change it")


def _as_now_written(
    before: dict[str, Any] | None, made: Callable[[dict[str, Any]], Any]
) -> dict[str, Any] | None:
    """What stood there, with the fields that have been added since an older program wrote it down."""
    try:
        return None if before is None else written(made(before))
    except ValueError:
        return None


_APPLIERS: dict[What, Callable[[Job, Change], Job]] = {
    What.JOB: _job,
    What.BOARD: _board,
    What.MARK: _mark,
    What.PART: _part,
    What.UNFINISHED: _unfinished,
    What.LOOSE: _loose,
    What.KEPT: _kept,
    What.LAYOUT: _layout,
    What.PLACEMENT: _placement,
}
