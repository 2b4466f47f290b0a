"""The boards: photographs in, corners set, tape readings, both faces, and how true the picture is."""

from typing import Any

import streamlit as st

from layout.stock import Face
from ui import state
from ui.canvas.component import drawing_surface
from ui.changes import edit_between
from ui.edits import Edit
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError
from ui.lengths import length_text
from ui.pictures import size_of
from ui.ready import SCREEN_PX
from ui.steps.board_readings import readings_panel
from ui.steps.frame import heading
from ui.steps.lens import lens_panel, truer_pictures
from ui.steps.photos import loose_photo, survey_and_say, uploads
from ui.steps.pickers import board_picker, face_picker
from ui.surveying import corners_set, snapped_corners

__all__ = ["show"]


def show() -> None:
    """The page."""
    heading(
        "Boards",
        "Photograph each face from above, the whole board in the picture, and read it with the tape.",
    )
    uploads()
    job = state.folder().job()
    for photo in job.loose:
        loose_photo(job, photo)
    truer_pictures(job)
    record = board_picker(job)
    if record is None:
        return
    _faces(record)
    readings_panel(job, record)
    lens_panel(job)


def _faces(record: BoardRecord) -> None:
    faces = [face for face in Face if record.face(face) is not None]
    if not faces:
        st.markdown("No face of this board is photographed yet.")
        return
    _corners(record.id, face_picker(record, [face.value for face in faces]))


@st.fragment
def _corners(board: str, face: Face) -> None:
    here = state.folder()
    key = f"corners-{board}-{face.value}"
    answer = state.answered(key, lambda job, op: _corner_edit(job, board, face, op))
    job = answer.session.job
    known = job.board(board).face(face)
    if known is None or known.photo is None:
        return
    width, height = _size(str(here.path), known.photo)
    url = f"/clearface/file/{state.job_id()}/{known.photo}"
    drawing_surface(
        key,
        "corners",
        job=state.job_id(),
        picture={
            "url": f"{url}?size={SCREEN_PX}",
            "crop": url,
            "width": width,
            "height": height,
            "label": f"photo of board {board}, {face.value}",
        },
        doc={"corners": [list(corner) for corner in known.corners_px] if known.corners_px else None},
        memory=f"corners-{known.photo}",
        **state.told(answer),
    )
    _truth(job, board, face, known)


def _truth(job: Job, board: str, face: Face, known: FaceRecord) -> None:
    """How true the picture is, and the button that makes it so."""
    if known.picture and known.error_mm is not None:
        st.markdown(
            f"True to scale. A point of the picture may be off by "
            f"**±{length_text(known.error_mm, job.units)}** at worst: tape before you cut."
        )
    else:
        st.markdown("The corners are not brought to true scale yet.")
    label = "Bring to true scale again" if known.picture else "Bring to true scale"
    if st.button(label, type="secondary" if known.picture else "primary", key=f"survey-{board}-{face.value}"):
        survey_and_say(board, face)
        st.rerun(scope="app")


@st.cache_data(max_entries=200, show_spinner=False)
def _size(folder: str, photo: str) -> tuple[int, int]:
    del folder
    return size_of(state.folder().read(photo))


def _corner_edit(job: Job, board: str, face: Face, op: dict[str, Any]) -> Edit:
    try:
        first, second, third, fourth = ((float(x), float(y)) for x, y in op["corners"])
    except (KeyError, TypeError, ValueError) as error:
        raise JobError("these are not four corners") from error
    corners = (first, second, third, fourth)
    if op.get("op") == "snap":
        corners = snapped_corners(state.folder(), job, board, face, corners)
    word = "snap" if op.get("op") == "snap" else "move"
    return edit_between(job, corners_set(job, board, face, corners), f"{word} corners of board {board}")
