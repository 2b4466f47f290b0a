"""The edit that leads from one state of a job to another, thing by thing."""

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from layout.parts import Part
from layout.placement import Placement
from ui.edits import Change, Edit, What, written
from ui.jobfile import BoardRecord, Job
from vision.marks import Mark

__all__ = ["edit_between"]


def edit_between(old: Job, new: Job, label: str) -> Edit:
    """The edit that makes the new job of the old one; without changes if they are the same.

    Parameters
    ----------
    old, new : Job
        Things kept must stand in the same order in both.
    label : str
        What the undo button calls it.
    """
    changes: list[Change] = []
    if written(old) != written(new):
        changes.append(Change(What.JOB, "", written(old), written(new)))
    changes += _between(What.PART, old.parts, new.parts, _part_name)
    changes += _between(What.UNFINISHED, old.unfinished, new.unfinished, lambda row: row.id)
    changes += _between(What.LOOSE, old.loose, new.loose, lambda one: one.photo)
    changes += _between(What.KEPT, old.kept, new.kept, lambda one: one.name)
    changes += _boards(old, new)
    changes += _layout(old, new)
    return Edit(label, tuple(changes))


def _boards(old: Job, new: Job) -> list[Change]:
    stood = {board.id: board for board in old.boards}
    stay = {board.id: board for board in new.boards if board.id in stood}
    changes: list[Change] = []
    for id, board in stood.items():  # a board that goes loses its marks first, so that undo brings them back
        left = stay[id].marks if id in stay else ()
        if board.marks is not left:
            changes += _between(What.MARK, board.marks, left, _mark_name, id)
    changes += _between(What.BOARD, old.boards, new.boards, _board_name)
    for board in new.boards:
        if board.id not in stood:
            changes += _between(What.MARK, (), board.marks, _mark_name, board.id)
    return changes


def _layout(old: Job, new: Job) -> list[Change]:
    if old.layout == new.layout:
        return []
    before, after = (None if job.layout is None else written(job.layout) for job in (old, new))
    if old.layout and new.layout and before and after:
        same = {key: value for key, value in before.items() if key != "placements"}
        if same == {key: value for key, value in after.items() if key != "placements"}:
            return _between(What.PLACEMENT, old.layout.placements, new.layout.placements, _placement_name)
    return [Change(What.LAYOUT, "", before, after)]


def _between(
    what: What,
    old: Sequence[Any],
    new: Sequence[Any],
    name: Callable[[Any], str],
    board: str = "",
) -> list[Change]:
    stood, stands = _named(old, name), _named(new, name)
    changes = [
        Change(what, id, written(thing), None, board, at)
        for id, (at, thing) in reversed(stood.items())
        if id not in stands
    ]
    for id, (at, thing) in stands.items():
        if id not in stood:
            changes.append(Change(what, id, None, written(thing), board, at))
        elif stood[id][1] is not thing and written(stood[id][1]) != written(thing):
            changes.append(Change(what, id, written(stood[id][1]), written(thing), board))
    return changes


def _named(things: Iterable[Any], name: Callable[[Any], str]) -> dict[str, tuple[int, Any]]:
    return {name(thing): (at, thing) for at, thing in enumerate(things)}


def _part_name(part: Part) -> str:
    return part.name


def _board_name(board: BoardRecord) -> str:
    return board.id


def _mark_name(mark: Mark) -> str:
    return mark.id


def _placement_name(placement: Placement) -> str:
    return f"{placement.part}/{placement.copy}"
