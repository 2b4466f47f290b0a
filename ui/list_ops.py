"""What typing in the cutting list does to the job. Pure.

A row that is no part yet (a name without a width) stays on disk as it was
typed, with its mistakes at their cells, and becomes a part when it can.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from layout.parts import Part, PartSide, Visibility
from layout.renamed import with_new_name
from ui.changes import edit_between
from ui.cutting_list import CellError, part_from_row, parts_from_rows, rows_of_text
from ui.edits import Edit
from ui.jobfile import Job, JobError, UnfinishedPart
from ui.lengths import Units, length_text

__all__ = ["ListState", "list_edit", "list_rows", "parts_added", "renamed"]

_CELLS = ("name", "quantity", "length", "width", "thickness")
_NEEDED = ("name", "length", "width", "thickness")
_SHORT = {Visibility.SHOW: "show", Visibility.SEEN_IN_USE: "seen", Visibility.CONCEALED: "concealed"}


@dataclass
class ListState:
    """What one window knows beyond the job: new names of rows it calls by their old ones, wrong cells."""

    aliases: dict[str, str] = field(default_factory=dict)
    wrong: dict[str, str] = field(default_factory=dict)

    def now(self, row: str) -> str:
        """The id a row has now."""
        seen = set()
        while row in self.aliases and row not in seen:
            seen.add(row)
            row = self.aliases[row]
        return row


def list_rows(job: Job) -> list[dict[str, Any]]:
    """The rows of the cutting list as the surface shows them."""
    rows: list[dict[str, Any]] = [
        {"id": part.name, "cells": _cells(part, job.units), "mistakes": {}, "seen": _seen(part)}
        for part in job.parts
    ]
    rows += [
        {"id": row.id, "cells": row.cells, "mistakes": _mistakes(row.cells, job.units), "seen": ""}
        for row in job.unfinished
    ]
    return rows


def list_edit(job: Job, op: dict[str, Any], state: ListState) -> Edit:
    """The edit for an op of the cutting list.

    Raises
    ------
    JobError
        A cell that can't be right; `state.wrong` then says which.
    """
    kind = op.get("op")
    if kind not in _OPS:
        raise JobError(f"this edit is not known here: {kind!r}")
    label, after = _OPS[kind](job, op, state)
    return edit_between(job, after, label)


def parts_added(job: Job, parts: tuple[Part, ...]) -> Job:
    """The job with parts added; one of a name that is there takes its place."""
    fresh = {part.name: part for part in parts}
    kept = tuple(fresh.pop(part.name, part) for part in job.parts)
    return job.model_copy(update={"parts": (*kept, *fresh.values())})


def renamed(job: Job, old: str, part: Part) -> Job:
    """The job with a part changed, and its new name wherever the old one stood."""
    parts = tuple(part if other.name == old else other for other in job.parts)
    if part.name == old:
        return job.model_copy(update={"parts": parts})
    parts = tuple(
        replace(other, same_board_as=part.name) if other.same_board_as == old else other for other in parts
    )
    before = next(other for other in job.parts if other.name == old)
    layout = None if job.layout is None else with_new_name(job.layout, before, part.name)
    kept = tuple(
        item.model_copy(update={"layout": with_new_name(item.layout, before, part.name)}) for item in job.kept
    )
    return job.model_copy(update={"parts": parts, "layout": layout, "kept": kept})


def _cell(job: Job, op: dict[str, Any], state: ListState) -> tuple[str, Job]:
    row, column, text = state.now(str(op["row"])), str(op["column"]), str(op["text"])[:200]
    spot = f"{op['row']}\n{column}"
    if column not in _CELLS:
        raise JobError(f"there is no column {column!r}")
    try:
        for part in job.parts:
            if part.name == row:
                label, after = _part_cell(job, part, column, text)
                break
        else:
            label, after = _unfinished_cell(job, row, column, text, state)
    except JobError as error:
        state.wrong[spot] = str(error)
        raise
    state.wrong.pop(spot, None)
    for part in after.parts:
        if column == "name" and part.name == text.strip() and row != part.name:
            state.aliases[row] = part.name
    return label, after


def _part_cell(job: Job, part: Part, column: str, text: str) -> tuple[str, Job]:
    cells = _cells(part, job.units) | {column: text}
    try:
        read = part_from_row(cells, job.units)
        changed = {column: getattr(read, column)}
        new = replace(part, **changed)
    except CellError as error:
        raise JobError(str(error)) from error
    except ValueError as error:
        raise JobError(str(error).removeprefix(f"part {part.name}: ")) from error
    if column == "name" and any(other.name == new.name for other in job.parts if other is not part):
        raise JobError(f"two parts are called {new.name!r}; give each a name of its own")
    return f"{part.name}: {column} {text.strip()}", renamed(job, part.name, new)


def _unfinished_cell(job: Job, row: str, column: str, text: str, state: ListState) -> tuple[str, Job]:
    known = {other.id: other for other in job.unfinished}
    cells = dict(known[row].cells) if row in known else {}
    cells[column] = text.strip()
    rest = tuple(other for other in job.unfinished if other.id != row)
    if not any(cells.values()):
        return "clear a row", job.model_copy(update={"unfinished": rest})
    taken = {part.name for part in job.parts}
    if (
        all(cells.get(name) for name in _NEEDED)
        and not _mistakes(cells, job.units)
        and cells["name"] not in taken
    ):
        part = part_from_row(cells, job.units)
        state.aliases[row] = part.name
        return f"add {part.name}", job.model_copy(update={"parts": (*job.parts, part), "unfinished": rest})
    changed = UnfinishedPart(id=row, cells=cells)
    rows = tuple(changed if other.id == row else other for other in job.unfinished)
    return f"type {column}", job.model_copy(update={"unfinished": rows if row in known else (*rows, changed)})


def _remove(job: Job, op: dict[str, Any], state: ListState) -> tuple[str, Job]:
    row = state.now(str(op["row"]))
    parts = tuple(part for part in job.parts if part.name != row)
    unfinished = tuple(other for other in job.unfinished if other.id != row)
    if len(parts) == len(job.parts) and len(unfinished) == len(job.unfinished):
        raise JobError("this row is gone: it was taken away in another window")
    after = job.model_copy(update={"parts": parts, "unfinished": unfinished})
    if job.layout is not None:
        layout = replace(
            job.layout,
            placements=tuple(item for item in job.layout.placements if item.part != row),
            unplaced=tuple(item for item in job.layout.unplaced if item.part != row),
        )
        after = after.model_copy(update={"layout": layout})
    return f"remove {row}" if len(parts) < len(job.parts) else "remove a row", after


def _paste(job: Job, op: dict[str, Any], _: ListState) -> tuple[str, Job]:
    rows = rows_of_text(str(op["text"])[:200_000], "pasted rows")
    found = parts_from_rows(rows, job.units)
    after = parts_added(job, found.parts)
    wrong = sorted({mistake.row for mistake in found.mistakes})
    unfinished = list(after.unfinished)
    for number in wrong:
        cells = {name: rows[number - 1].get(name, "") for name in _CELLS}
        unfinished.append(UnfinishedPart(id=f"pasted-{job.revision}-{number}", cells=cells))
    return f"paste {len(rows)} rows", after.model_copy(update={"unfinished": tuple(unfinished)})


_OPS: dict[Any, Callable[[Job, dict[str, Any], ListState], tuple[str, Job]]] = {
    "cell": _cell,
    "remove": _remove,
    "paste": _paste,
}


def _cells(part: Part, units: Units) -> dict[str, str]:
    return {
        "name": part.name,
        "quantity": str(part.quantity),
        "length": length_text(part.length, units),
        "width": length_text(part.width, units),
        "thickness": length_text(part.thickness, units),
    }


def _mistakes(cells: dict[str, str], units: Units) -> dict[str, str]:
    """What is wrong in each cell that has been filled."""
    found = {}
    filled = {"name": "part", "length": "1", "width": "1", "thickness": "1"}
    for column in _CELLS:
        text = cells.get(column, "").strip()
        if not text:
            continue
        try:
            part_from_row(filled | {column: text}, units)
        except CellError as error:
            found[column] = str(error)
    return found


def _seen(part: Part) -> str:
    """How a part's sides are seen, in a few words."""
    words = [
        f"face {_SHORT[part.visibility(PartSide.FACE)]}",
        f"back {_SHORT[part.visibility(PartSide.BACK)]}",
    ]
    for name, pair in (
        ("edges", (PartSide.NEAR_EDGE, PartSide.FAR_EDGE)),
        ("ends", (PartSide.NEAR_END, PartSide.FAR_END)),
    ):
        seen = sorted({_SHORT[part.visibility(side)] for side in pair})
        words.append(f"{name} {'/'.join(seen)}")
    if part.zones:
        words.append(f"{len(part.zones)} zones")
    return ", ".join(words)
