"""The sheets: everything a maker takes to the saw, to look at and to save."""

import io
import zipfile
from html import escape
from urllib.parse import quote

import streamlit as st

from ui import chain, state
from ui.drawing.sheets import board_stem
from ui.jobfile import Job, JobError
from ui.ready_sheets import MOST_BOARDS, ready_sheets
from ui.steps.frame import heading, plain

__all__ = ["show"]

_NARROW_PX = 620  # as the drawing surfaces have it: below it a board stands
_KINDS = {
    "pdf": ("Printed sheet", "application/pdf"),
    "png": ("Marked-up picture", "image/png"),
    "jpg": ("Marked-up picture", "image/jpeg"),
    "svg": ("Drawing, SVG at true scale", "image/svg+xml"),
    "dxf": ("Drawing, DXF at true scale", "application/dxf"),
    "csv": ("Table", "text/csv"),
    "geojson": ("Marks, GeoJSON", "application/geo+json"),
}


def show() -> None:
    """The page."""
    heading("Sheets", "Check by tape before you cut: every picture says how far it may be off.")
    here = state.folder()
    job = here.job()
    if job.layout is None or not job.layout.placements:
        st.markdown("Lay the parts out first (step Layout).")
        return
    wrong = chain.checked(job)
    if wrong:
        why = plain(wrong[0].message)
        st.error(f"The layout no longer holds, so no sheets are made from it: {why} Plan again.")
        return
    used = len(job.layout.boards_used)
    if used > MOST_BOARDS:
        st.markdown(
            f"This layout is on {used} boards, and the page draws the sheets of {MOST_BOARDS} at most, for "
            "they are held in memory. The command writes them all into a folder:"
        )
        st.code(f'clearface sheets "{here.path}" --out sheets', language=None)
        return
    paper = st.segmented_control("Paper", ["A4", "Letter"], default="A4", key="paper") or "A4"
    if state.note(f"sheets-{state.job_id()}") != (job.revision, paper):
        if not st.button("Make the sheets", type="primary"):
            return
        state.note(f"sheets-{state.job_id()}", (job.revision, paper))
    with st.spinner("Drawing the sheets"):
        try:
            files = ready_sheets(here, job.revision, "Letter" if paper == "Letter" else "A4")
        except JobError as error:
            st.error(str(error))
            return
    _downloads(job, files, paper)


def _downloads(job: Job, files: dict[str, bytes], paper: str) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_STORED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    st.download_button(
        "Save everything (ZIP)",
        packed.getvalue(),
        "sheets.zip",
        "application/zip",
        type="primary",
        on_click="ignore",
    )
    general = [name for name in files if not name.startswith("board-")]
    _buttons(general, files)
    for board in job.layout.boards_used if job.layout else ():
        names = [name for name in files if name.startswith(f"{board_stem(board)}-")]
        if not names:
            continue
        st.subheader(f"Board {plain(board)}", anchor=False)
        for name in names:
            if name.endswith((".png", ".jpg")):
                face = name.rsplit(".", 1)[0].rsplit("-", 1)[-1]
                st.html(_picture(job, board, face, name, paper))
        _buttons(names, files)


def _picture(job: Job, board: str, face: str, name: str, paper: str) -> str:
    """The marked-up face; on a narrow screen the board stands. The browser fetches only the one it shows."""
    root = f"/clearface/sheet/{quote(state.job_id())}/{job.revision}"
    upright = escape(f"{root}/upright?board={quote(board, safe='')}&face={face}")
    flat = escape(f"{root}/{quote(name)}?paper={paper}")
    words = escape(f"board {board}, {face}, marked up")
    return (
        f'<picture><source media="(max-width: {_NARROW_PX}px)" srcset="{upright}">'
        f'<img loading="lazy" src="{flat}" alt="{words}" style="width: 100%; height: auto"></picture>'
        f'<p><a href="{upright}" download="{escape(name.rsplit(".", 1)[0])}-upright.jpg">'
        f"Save the {face} standing upright, for a phone</a></p>"
    )


def _buttons(names: list[str], files: dict[str, bytes]) -> None:
    with st.container(horizontal=True):
        for name in names:
            kind = name.rsplit(".", 1)[-1]
            words, mime = _KINDS.get(kind, ("File", "application/octet-stream"))
            st.download_button(
                f"{name}", files[name], name, mime, key=f"save-{name}", help=words, on_click="ignore"
            )
