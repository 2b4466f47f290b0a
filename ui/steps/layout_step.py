"""The layout: planned with the best so far in view, changed by hand, proved, compared, and what to buy."""

from typing import Any

import streamlit as st

from layout.allowances import sawn_length, sawn_width
from layout.outline import Outline, rectangle
from layout.parts import PartSide
from layout.placement import Layout, Placement, on_board, sawn_on_board
from layout.stock import Board, Face
from ui import chain, planning, state
from ui.canvas.component import drawing_surface
from ui.drawing.fates import Fate, fates
from ui.drawing.pieces import copy_marks, listed
from ui.edits import Edit
from ui.jobfile import Job, JobError
from ui.lengths import length_text
from ui.moves import layout_edit
from ui.report import money, proof_of
from ui.steps.frame import heading, plain
from ui.steps.layout_more import buying_panel, compare_panel, glue_ups_panel, not_placed, repairs_panel
from ui.steps.pickers import picked_of
from ui.steps.sketch import plan_sketch
from ui.surface_ops import BoardFace, mark_edit
from ui.webtable import web_table

__all__ = ["show"]


def show() -> None:
    """The page."""
    heading("Layout")
    job = state.folder().job()
    if not job.parts or not job.boards:
        st.markdown("A cutting list and at least one board are needed first.")
        return
    _planner()
    if job.layout is None:
        return
    _verdict(job)
    laid = set(job.layout.boards_used)
    used = [board.id for board in job.boards if board.id in laid]
    if used:
        _board(used)
    not_placed(job)
    repairs_panel(job)
    glue_ups_panel(job)
    buying_panel(job)
    compare_panel(job)


@st.fragment(run_every=0.7)
def _planner() -> None:
    here = state.folder()
    how = planning.planning(here)
    if state.note("planning") and not how.running:
        state.forget("planning")
        if how.error:
            state.say(how.error, bad=True)
        if how.note:
            state.say(how.note)
        st.rerun(scope="app")
    if how.running:
        state.note("planning", True)
        share = min(1.0, how.seconds / max(how.limit, 0.1))
        st.progress(share, text=_so_far(how, here.job().currency))
        st.button("Stop, and take the best so far", on_click=planning.stop, args=(here,))
        st.html(plan_sketch(here.job(), how.sketch) or "<p></p>")
        return
    job = here.job()
    locked = [item for item in (job.layout.placements if job.layout else ()) if item.locked or item.cut]
    with st.container(horizontal=True, vertical_alignment="bottom"):
        seconds = st.select_slider(
            "Seconds to look for a better one",
            [1, 2, 5, 10, 20, 60, 180],
            value=2 if locked else 10,
            key=f"seconds-{bool(locked)}",
        )
        label = "Lay the parts out" if job.layout is None else ("Plan the rest" if locked else "Plan again")
        kind: Any = "primary" if job.layout is None or not job.layout.placements else "secondary"
        if st.button(label, type=kind, key="plan"):
            planning.start(here, float(seconds), job.revision % 1000)
            state.note("planning", True)
            st.rerun(scope="fragment")
    if locked:
        st.markdown(f"{len(locked)} locked or cut parts stay where they are.")


def _so_far(how: planning.Planning, currency: str) -> str:
    """How a plan goes, in a line."""
    if not how.wanted:
        return "Looking where each part may lie"
    return (
        f"Best so far: {how.placed} of {how.wanted} parts placed, {money(how.cost, currency)}; "
        f"{how.seconds:.0f} of {how.limit:.0f} s"
    )


def _verdict(job: Job) -> None:
    layout = _layout(job)
    found = chain.checked(job)
    asked = sum(part.quantity for part in job.parts)
    st.markdown(
        f"**{asked - len(layout.unplaced)} of {asked}** parts on **{len(layout.boards_used)}** boards, "
        f"**{plain(money(layout.cost, job.currency))}**. {plain(proof_of(job))}"
    )
    if found:
        st.error(
            "The job has changed since this was planned, and the layout no longer holds: "
            + " ".join(
                plain(f"{'Board ' + one.board + ': ' if one.board else ''}{one.message}") for one in found[:4]
            )
            + " Plan the rest again."
        )
    else:
        st.markdown("The verifier, which shares no code with the planner, finds nothing wrong.")


def _board(used: list[str]) -> None:
    now = state.picked("board-laid", used) or used[0]
    with st.container(horizontal=True):
        chosen = picked_of("Board", used, now, f"laid={now}", lambda id: f"Board {id}" if id == now else id)
        faces = [face.value for face in Face]
        face = st.segmented_control(
            "Face", faces, default=Face.FRONT.value, key="laid-face", label_visibility="collapsed"
        )
    if chosen and chosen != now:
        state.remember_pick("board-laid", chosen)
        st.rerun()
    _surface(now, Face(face or Face.FRONT.value))


@st.fragment
def _surface(id: str, face: Face) -> None:
    key = f"layout-{id}-{face.value}"
    place = BoardFace(id, face)

    def edit_for(job: Job, op: dict[str, Any]) -> Edit:
        return mark_edit(job, place, op) if op.get("op") == "fault" else layout_edit(job, place, op)

    answer = state.answered(key, edit_for)
    job = answer.session.job
    if job.layout is None or id not in {board.id for board in job.boards}:
        return
    board = job.board(id).board()
    known = job.board(id).face(face)
    drawing_surface(
        key,
        "layout",
        job=state.job_id(),
        picture={
            "url": f"/clearface/file/{state.job_id()}/{known.picture}" if known and known.picture else "",
            "width": board.length,
            "height": board.width,
            "label": f"board {id}, {face.value}, with its parts",
        },
        doc=_drawn(job, board, place),
        memory=f"layout-{id}-{face.value}",
        **state.told(answer),
    )
    _rest_too(answer)
    _faults(job, board)


def _rest_too(answer: state.Answer) -> None:
    """Draw the rest of the page anew after an edit: its words are about the layout as well."""
    if answer.session.job.revision != state.note("layout-revision"):
        state.note("layout-revision", answer.session.job.revision)
        if answer.ack["client"]:
            st.rerun(scope="app")


def _drawn(job: Job, board: Board, place: BoardFace) -> dict[str, Any]:
    layout, record = _layout(job), job.board(board.id)

    def seen(outline: Outline) -> list[list[float]]:
        return [[round(x, 2), round(y, 2)] for x, y in place.flipped(record, outline)]

    offcuts = [rectangle(cut.x0, cut.y0, cut.x1, cut.y1) for cut in layout.offcuts if cut.board == board.id]
    return {
        "outline": seen(board.outline(place.face)),
        "offcuts": [seen(outline) for outline in offcuts],
        "pieces": [_piece(job, item, place, seen) for item in layout.on(board.id)],
        "faults": [
            {
                "id": one.defect.id,
                "kind": one.defect.kind.value,
                "fate": one.fate.value,
                "harm": one.fate is Fate.AGAINST,
                "points": seen(one.defect.outline),
            }
            for one in fates(board, job.parts, job.settings, layout)
            if one.defect.shows_on(place.face)
        ],
    }


def _piece(job: Job, item: Placement, place: BoardFace, seen: Any) -> dict[str, Any]:
    layout = _layout(job)
    part = listed(job.parts, job.settings, layout)[item.part]
    allowances = job.settings.allowances
    up = PartSide.FACE if item.face_from is place.face else PartSide.BACK
    sizes = (sawn_length(part, allowances), sawn_width(part, allowances))
    return {
        "id": f"{item.part}/{item.copy}",
        "mark": copy_marks(job.parts, layout)(item.part, item.copy),
        "name": part.name,
        "size": "sawn " + " x ".join(length_text(size, job.units) for size in sizes),
        "sawn": seen(sawn_on_board(item, part, allowances)),
        "finished": seen(on_board(part.shape, item, part, allowances)),
        "show": up is PartSide.FACE,
        "side": f"{up.value}, {part.visibility(up).value}",
        "repairs": [
            {"kind": one.kind.value, "points": seen(on_board(one.outline, item, part, allowances))}
            for one in layout.repairs
            if (one.part, one.copy) == (item.part, item.copy)
        ],
        "locked": item.locked,
        "cut": item.cut,
    }


def _faults(job: Job, board: Board) -> None:
    told = fates(board, job.parts, job.settings, _layout(job))
    if not told:
        st.markdown("No fault is marked on this board.")
        return
    rows = []
    for one in told:
        sides = {f"{item.side.value} of {item.placement.part} {item.placement.copy}" for item in one.showings}
        on = ", ".join(sorted(sides))
        at = sum(x for x, _ in one.defect.outline) / len(one.defect.outline)
        rows.append([f"{one.defect.kind.value} at {at:.0f} mm", one.fate.value, on or "–"])
    st.html(web_table(f"faults of board {board.id}", ["fault", "what became of it", "where"], rows))


def _layout(job: Job) -> Layout:
    if job.layout is None:
        raise JobError("there is no layout any more; plan again")
    return job.layout
