"""The phone's lens: learnt from a chessboard, or from all the boards photographed so far."""

import streamlit as st

from layout.stock import Face
from ui import state
from ui.drawing.marker_sheet import marker_sheet_pdf
from ui.jobfile import BoardRecord, Job, JobError
from ui.phones import lens_learnt
from ui.steps.frame import save
from ui.surveying import survey_face, truer_by

__all__ = ["lens_panel", "truer_pictures"]


def truer_pictures(job: Job) -> None:
    """Offer to survey again what more photographs make truer."""
    count = truer_by(job)
    if not count:
        return
    if st.button(f"Make {count} pictures truer: your photos now tell more of the phone's lens"):
        here = state.folder()
        bar = st.progress(0.0, text="Surveying again")
        todo = [(board.id, face) for board in job.boards for face in Face if _scaled(board, face)]
        for number, (board, face) in enumerate(todo):
            bar.progress(number / len(todo), text=f"Board {board}, {face.value}")
            try:
                survey_face(here, board, face)
            except JobError as error:
                state.say(str(error), bad=True)
        st.rerun()


def _scaled(board: BoardRecord, face: Face) -> bool:
    known = board.face(face)
    return known is not None and known.picture is not None


def lens_panel(job: Job) -> None:
    """The phone's lens, from photographs of a chessboard."""
    with st.expander("The phone's lens, and the marker sheet"):
        st.download_button(
            "Save the marker sheet to print (PDF)",
            marker_sheet_pdf(),
            "marker_sheet.pdf",
            "application/pdf",
            on_click="ignore",
        )
        st.markdown(
            "Print it at 100 % and lay it on the board: every photo with it is truer. "
            "To teach the lens itself, photograph that sheet, or a chessboard of squares, flat, from "
            "three sides or more with the phone you photograph boards with. It is kept for every job, "
            "if the photos say their focal length; else for this one."
        )
        if job.lens is not None:
            wide, high = job.lens.size_px
            st.markdown(f"The lens is known for photos of {wide} x {high} pixels.")
            st.button("Forget the lens", on_click=_forget)
        _chessboard()


def _chessboard() -> None:
    left, right = st.columns(2)
    columns = left.number_input("Inner corners along a chessboard", 3, 30, 9)
    rows = right.number_input("Inner corners across it", 3, 30, 6)
    given = st.file_uploader(
        "Photographs of the marker sheet or the chessboard",
        type=["image/*", "heic", "heif"],
        accept_multiple_files=True,
        key=f"chessboard-{state.note('chessboard') or 0}",
    )
    if given and st.button("Learn the lens", type="primary"):
        state.note("chessboard", (state.note("chessboard") or 0) + 1)
        with st.spinner("Looking for the sheet or the chessboard"):
            _learn(int(columns), int(rows), [(one.name, one.getvalue()) for one in given])
        st.rerun()


def _learn(columns: int, rows: int, files: list[tuple[str, bytes]]) -> None:
    try:
        profile = lens_learnt(columns, rows, files)
    except JobError as error:
        state.say(str(error), bad=True)
        return
    if save("learn the lens", lambda job: job.model_copy(update={"lens": profile})):
        state.say("The lens is learnt. Bring your boards to true scale again.")


def _forget() -> None:
    save("forget the lens", _no_lens)


def _no_lens(job: Job) -> Job:
    return job.model_copy(update={"lens": None})
