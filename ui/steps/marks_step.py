"""The marks: suggestions to judge, faults to draw, front and back linked."""

from typing import Any

import streamlit as st

from layout.stock import DefectKind, Face, Where, Wish
from ui import state
from ui.canvas.component import drawing_surface
from ui.jobfile import BoardRecord
from ui.steps.frame import heading, plain
from ui.steps.pickers import board_picker, face_picker
from ui.surface_ops import BoardFace, mark_edit, span
from ui.surveying import MOST_DOUBTFUL
from vision.marks import Mark, MarkState
from vision.pairs import paired
from vision.suggest.every import DOUBTFUL_PER_METRE

__all__ = ["show"]


def show() -> None:
    """The page."""
    heading(
        "Marks",
        "Keep what is a fault, dismiss what is not. Only what you keep is planned for.",
    )
    job = state.folder().job()
    record = board_picker(job)
    if record is None:
        return
    faces = [face.value for face in Face if _pictured(record, face)]
    if not faces:
        st.markdown("Bring a face of this board to true scale first (step Boards).")
        return
    _surface(record.id, face_picker(record, faces), len(faces) > 1)


@st.fragment
def _surface(board: str, face: Face, both: bool) -> None:
    key = f"marks-{board}-{face.value}"
    place = BoardFace(board, face)

    answer = state.answered(key, lambda job, op: mark_edit(job, place, op))
    record = answer.session.job.board(board)
    known = record.face(face)
    if known is None or known.picture is None:
        return
    length, width = span(record)
    drawing_surface(
        key,
        "marks",
        job=state.job_id(),
        picture={
            "url": f"/clearface/file/{state.job_id()}/{known.picture}",
            "width": length,
            "height": width,
            "label": f"board {board}, {face.value}; keys K, D, R, N: keep, dismiss, rename, next",
        },
        doc={
            "marks": [_drawn(mark, place, record) for mark in record.marks],
            "outline": _rim(record, place),
        },
        memory=f"marks-{known.picture}",
        **state.told(answer),
        kinds=[kind.value for kind in DefectKind],
        wishes=[wish.value for wish in Wish],
        doubt=DOUBTFUL_PER_METRE,
        mostDoubt=MOST_DOUBTFUL,
        twoFaces=both,
    )
    _tally(record)
    _shared(record, place)


def _tally(record: BoardRecord) -> None:
    count = {each: sum(mark.state is each for mark in record.marks) for each in MarkState}
    st.markdown(
        f"Board {plain(record.id)}: **{count[MarkState.CONFIRMED]}** kept, "
        f"**{count[MarkState.PENDING]}** to judge, {count[MarkState.DISMISSED]} dismissed. "
        "What is not judged is not planned for."
    )


def _shared(record: BoardRecord, place: BoardFace) -> None:
    """Offer to join marks of the two faces that are probably one fault."""
    alive = [mark for mark in record.marks if mark.state is not MarkState.DISMISSED]
    fronts = [mark for mark in alive if mark.where is Where.FRONT]
    backs = [mark for mark in alive if mark.where is Where.BACK]
    for pair in paired(fronts, backs, record.thickness).pairs:
        at = sum(x for x, _ in pair.front.outline) / len(pair.front.outline)
        st.button(
            f"{pair.front.kind} at {at:.0f} mm is on both faces: make it one that goes through",
            key=f"join-{record.id}-{pair.front.id}-{pair.back.id}",
            on_click=_join,
            args=(place, pair.front.id, pair.back.id),
        )


def _join(place: BoardFace, one: str, other: str) -> None:
    state.changed(lambda job: mark_edit(job, place, {"op": "join", "ids": [one, other]}))


def _drawn(mark: Mark, place: BoardFace, record: BoardRecord) -> dict[str, Any]:
    through = mark.where is Where.THROUGH
    return {
        "id": mark.id,
        "kind": mark.kind.value,
        "points": [[round(x, 1), round(y, 1)] for x, y in place.flipped(record, mark.outline)],
        "state": mark.state.value,
        "score": mark.score,
        "through": through,
        "other": not through and mark.where.value != place.face.value,
        "wish": mark.wish.value,
        "depth": mark.depth,
    }


def _rim(record: BoardRecord, place: BoardFace) -> list[list[float]]:
    """The outline of a face as seen, where it is more than the picture's own rim."""
    outline = record.outline(place.face)
    if len(outline) < 5:
        return []
    return [[round(x, 1), round(y, 1)] for x, y in place.flipped(record, outline)]


def _pictured(record: BoardRecord, face: Face) -> bool:
    known = record.face(face)
    return known is not None and known.picture is not None
