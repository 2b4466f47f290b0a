"""What a maker's hand on a layout does: move, turn over, lock, mark as cut; refused where it can't be.

A move is taken only if the verifier finds nothing wrong with the layout after
it: so no layout on disk is ever one that the verifier rejects.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from layout.check import violations
from layout.errors import LayoutError
from layout.panels import sawn_parts
from layout.placement import Layout, Placement, Unplaced
from layout.solve.result import with_cuts
from layout.stock import Face, Turn
from ui.changes import edit_between
from ui.edits import Edit
from ui.jobfile import Job, JobError, boards_of
from ui.surface_ops import BoardFace, Op

__all__ = ["layout_edit", "layouts_moved", "recut"]


def layout_edit(job: Job, place: BoardFace, op: Op) -> Edit:
    """The edit for an op of the layout view.

    Raises
    ------
    JobError
        The verifier's reason why it can't be.
    """
    layout = _layout(job)
    kind, id = str(op.get("op")), str(op.get("id"))
    held = _placement(layout, id)
    if kind == "take_off":
        rest = tuple(item for item in layout.placements if item is not held)
        off = Unplaced(held.part, held.copy, "You took it off the board.")
        after = replace(layout, placements=rest, unplaced=(*layout.unplaced, off))
        return edit_between(job, _with(job, recut(job, after)), f"take off {_name(held)}")
    if kind not in _MOVES:
        raise JobError(f"this edit is not known here: {kind!r}")
    if held.cut and kind != "cut":
        raise JobError(f"{_name(held)} is already cut; it can't be moved")
    label, moved = _MOVES[kind](job, place, held, op)
    after = replace(layout, placements=tuple(moved if item is held else item for item in layout.placements))
    if kind in ("lock", "cut"):
        return edit_between(job, _with(job, after), label)
    after = recut(job, after)
    _refuse_if_wrong(job, after, moved)
    return edit_between(job, _with(job, after), label)


def recut(job: Job, layout: Layout) -> Layout:
    """The layout with cuts, offcuts and cost of its placements as they now lie.

    Raises
    ------
    JobError
        It can't be sawn.
    """
    try:
        return replace(with_cuts(layout, boards_of(job), job.parts, job.settings), bound=None)
    except (LayoutError, ValueError) as error:
        raise JobError(str(error)) from error


def layouts_moved(job: Job, board: str, across: float) -> Job:
    """The job with every layout, those put aside too, moved across one board with its wood [mm].

    What can't be sawn as it then lies keeps its cuts: the verifier says so, and it is to be planned again.
    """

    def moved(layout: Layout) -> Layout:
        lie = [replace(one, y=one.y + across) if one.board == board else one for one in layout.placements]
        after = replace(layout, placements=tuple(lie))
        try:
            return recut(job, after)
        except JobError:
            return after

    if not across:
        return job
    kept = tuple(one.model_copy(update={"layout": moved(one.layout)}) for one in job.kept)
    return job.model_copy(update={"layout": job.layout and moved(job.layout), "kept": kept})


def _refuse_if_wrong(job: Job, layout: Layout, moved: Placement) -> None:
    found = violations(boards_of(job), job.parts, job.settings, layout)
    own = [one for one in found if (one.part, one.copy) == (moved.part, moved.copy)]
    for one in (*own, *found):
        raise JobError(f"{_name(moved)} can't lie there: {one.message}")


def _moved(job: Job, place: BoardFace, held: Placement, op: Op) -> tuple[str, Placement]:
    dx, dy = float(op["dx"]), float(op["dy"])
    if held.locked:
        raise JobError(f"{_name(held)} is locked; unlock it first")
    turned = next(board.turned for board in job.boards if board.id == place.board)
    if place.face is Face.BACK:
        dx, dy = (dx, -dy) if turned is Turn.ROLLED else (-dx, dy)
    new = replace(held, x=round(held.x + dx, 2), y=round(held.y + dy, 2), locked=True)
    return f"move {_name(held)}", new


def _turned_over(job: Job, _: BoardFace, held: Placement, __: Op) -> tuple[str, Placement]:
    thickness = {board.id: board.thickness for board in job.boards}[held.board]
    glue_ups = _layout(job).glue_ups
    part = {part.name: part for part in sawn_parts(job.parts, job.settings, glue_ups)}[held.part]
    surplus = thickness - part.thickness
    new = replace(held, face_from=held.face_from.other, from_front=surplus - held.from_front, locked=True)
    return f"turn over {_name(held)}", new


def _end_for_end(_: Job, __: BoardFace, held: Placement, ___: Op) -> tuple[str, Placement]:
    return f"turn {_name(held)} end for end", replace(held, end_for_end=not held.end_for_end, locked=True)


def _locked(_: Job, __: BoardFace, held: Placement, op: Op) -> tuple[str, Placement]:
    on = bool(op["on"])
    return f"{'lock' if on else 'unlock'} {_name(held)}", replace(held, locked=on)


def _cut(_: Job, __: BoardFace, held: Placement, op: Op) -> tuple[str, Placement]:
    on = bool(op["on"])
    return f"{'cut' if on else 'not cut'}: {_name(held)}", replace(held, cut=on, locked=on or held.locked)


_MOVES: dict[str, Callable[[Job, BoardFace, Placement, dict[str, Any]], tuple[str, Placement]]] = {
    "move": _moved,
    "turn_over": _turned_over,
    "end_for_end": _end_for_end,
    "lock": _locked,
    "cut": _cut,
}


def _layout(job: Job) -> Layout:
    if job.layout is None:
        raise JobError("there is no layout any more; plan again")
    return job.layout


def _placement(layout: Layout, id: str) -> Placement:
    for item in layout.placements:
        if f"{item.part}/{item.copy}" == id:
            return item
    raise JobError("this part is not on the board any more; plan again")


def _with(job: Job, layout: Layout) -> Job:
    return job.model_copy(update={"layout": layout})


def _name(held: Placement) -> str:
    return f"{held.part} {held.copy}"
