"""What an edit on the drawing surface does to the job: marks, and the sides and zones of a part. Pure.

The surface speaks of a board's face as it is seen; the job speaks in the board
frame. The translation is here and nowhere else.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from layout.outline import Outline
from layout.parts import Part, PartSide, Visibility, Zone, ZoneRule
from layout.stock import DefectKind, Face, Turn, Where, Wish
from ui.changes import edit_between
from ui.edits import Edit
from ui.jobfile import BoardRecord, Job, JobError
from vision.marks import Mark, MarkState, Origin
from vision.pairs import paired

__all__ = ["BoardFace", "mark_edit", "part_edit", "replaced_board"]

Op = dict[str, Any]


@dataclass(frozen=True)
class BoardFace:
    """A face of a board as it is looked at."""

    board: str
    face: Face

    def flipped(self, record: BoardRecord, outline: Outline) -> Outline:
        """An outline of the board frame as seen, or as seen in the board frame: the same mirror both ways."""
        if self.face is Face.FRONT:
            return outline
        length, width = span(record)
        if record.turned is Turn.ROLLED:
            return tuple((x, width - y) for x, y in outline)
        return tuple((length - x, y) for x, y in outline)


def span(record: BoardRecord) -> tuple[float, float]:
    """Length and width of the board frame [mm]; what a picture of a face covers."""
    board = record.board()
    return board.length, board.width


def replaced_board(job: Job, record: BoardRecord) -> Job:
    """The job with one board's record changed."""
    boards = tuple(record if other.id == record.id else other for other in job.boards)
    return job.model_copy(update={"boards": boards})


def mark_edit(job: Job, place: BoardFace, op: Op) -> Edit:
    """The edit for an op of the marks view.

    Raises
    ------
    JobError
        The mark is gone, or a value can't be.
    """
    record = job.board(place.board)
    try:
        label, marks = _MARK_OPS[str(op.get("op"))](record, place, op)
    except KeyError as error:
        raise JobError(f"this edit is not known here: {op.get('op')!r} ({error})") from error
    except (ValueError, TypeError) as error:
        raise JobError(str(error)) from error
    after = replaced_board(job, record.model_copy(update={"marks": marks}))
    return edit_between(job, after, label)


def _judged(record: BoardRecord, place: BoardFace, op: Op) -> tuple[str, tuple[Mark, ...]]:
    state, ids = MarkState(op["state"]), set(op["ids"])
    word = {"confirmed": "keep", "dismissed": "dismiss", "pending": "set back"}[state.value]
    kinds = [mark.kind.value for mark in record.marks if mark.id in ids]
    if not kinds:
        raise JobError("this mark is gone: it was taken away in another window")
    label = f"{word} {kinds[0]}" if len(kinds) == 1 else f"{word} {len(kinds)} marks"
    return f"{label} on board {place.board}", tuple(
        replace(mark, state=state) if mark.id in ids else mark for mark in record.marks
    )


def _changed(record: BoardRecord, place: BoardFace, op: Op) -> tuple[str, tuple[Mark, ...]]:
    old = _mark_of(record, str(op["id"]))
    given = dict(op["to"])
    changes: dict[str, Any] = {}
    if "kind" in given:
        changes["kind"] = DefectKind(given["kind"])
    if "wish" in given:
        changes["wish"] = Wish(given["wish"])
    if "through" in given:
        changes["where"] = Where.THROUGH if given["through"] else Where(place.face.value)
        changes["depth"] = None
    if "depth" in given:
        changes["depth"] = None if given["depth"] is None else float(given["depth"])
        if changes["depth"] is not None and not changes["depth"] > 0:
            raise JobError("the depth must be a number above 0, in mm")
    new = replace(old, **changes)
    return f"change {old.kind} on board {place.board}", tuple(
        new if mark.id == old.id else mark for mark in record.marks
    )


def _drawn(record: BoardRecord, place: BoardFace, op: Op) -> tuple[str, tuple[Mark, ...]]:
    given = op["mark"]
    seen = tuple((float(x), float(y)) for x, y in given["points"])
    mark = Mark(
        id=str(given["id"])[:60],
        kind=DefectKind(given["kind"]),
        outline=place.flipped(record, seen),
        where=Where(place.face.value),
        origin=Origin.DRAWN,
        state=MarkState.CONFIRMED,
        wish=Wish(given.get("wish", Wish.MAY_HIDE)),
    )
    return f"draw {mark.kind} on board {place.board}", (*record.marks, mark)


def _erased(record: BoardRecord, place: BoardFace, op: Op) -> tuple[str, tuple[Mark, ...]]:
    old = _mark_of(record, str(op["id"]))
    return f"erase {old.kind} on board {place.board}", tuple(
        mark for mark in record.marks if mark.id != old.id
    )


def _joined(record: BoardRecord, place: BoardFace, op: Op) -> tuple[str, tuple[Mark, ...]]:
    """Two marks of one fault, one on each face, become one through fault."""
    first, second = (_mark_of(record, str(id)) for id in op["ids"])
    pairs = paired([first], [second], record.thickness).pairs
    if not pairs:
        raise JobError("these two marks are no longer one over the other")
    one = replace(pairs[0].through, id=first.id, where=Where.THROUGH, state=MarkState.CONFIRMED, depth=None)
    marks = tuple(one if mark.id == first.id else mark for mark in record.marks if mark.id != second.id)
    return f"join {first.kind} through board {place.board}", marks


def _mark_of(record: BoardRecord, id: str) -> Mark:
    for mark in record.marks:
        if mark.id == id:
            return mark
    raise JobError("this mark is gone: it was taken away in another window")


_MARK_OPS: dict[str, Callable[[BoardRecord, BoardFace, Op], tuple[str, tuple[Mark, ...]]]] = {
    "state": _judged,
    "change": _changed,
    "draw": _drawn,
    "fault": _drawn,
    "erase": _erased,
    "join": _joined,
}


def part_edit(job: Job, name: str, op: Op) -> Edit:
    """The edit for an op of the part view.

    Raises
    ------
    JobError
        The part is gone, or a value can't be.
    """
    found = [part for part in job.parts if part.name == name]
    if not found:
        raise JobError(f"part {name!r} is gone: it was taken away in another window")
    try:
        label, after = _part_after(found[0], op)
    except (KeyError, ValueError, TypeError) as error:
        raise JobError(str(error)) from error
    parts = tuple(after if part.name == name else part for part in job.parts)
    return edit_between(job, job.model_copy(update={"parts": parts}), label)


def _part_after(part: Part, op: Op) -> tuple[str, Part]:
    if op.get("op") == "side":
        side, seen = PartSide(op["side"]), Visibility(op["seen"])
        return f"{part.name}: {side} {seen}", replace(part, sides=part.sides | {side: seen})
    if op.get("op") == "zone":
        given = op["zone"]
        points = tuple((float(x), float(y)) for x, y in given["points"])
        zone = Zone(str(given["name"])[:60], points, ZoneRule(given.get("rule", "sound")))
        return f"{part.name}: add {zone.name}", replace(part, zones=(*part.zones, zone))
    if op.get("op") == "zone_rule":
        rule = ZoneRule(op["rule"])
        zones = tuple(replace(zone, rule=rule) if zone.name == op["name"] else zone for zone in part.zones)
        return f"{part.name}: {op['name']} {rule.value}", replace(part, zones=zones)
    if op.get("op") == "zone_off":
        zones = tuple(zone for zone in part.zones if zone.name != op["name"])
        return f"{part.name}: remove {op['name']}", replace(part, zones=zones)
    raise JobError(f"this edit is not known here: {op.get('op')!r}")
