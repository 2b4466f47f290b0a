"""The boards: photographs in, corners set, tape readings, both faces, and how true the picture is."""

from math import hypot
from typing import Any

import streamlit as st

from layout.stock import Face, Turn
from ui import state
from ui.board_fields import turn_kept, turned_typed
from ui.canvas.component import drawing_surface
from ui.changes import edit_between
from ui.edits import Edit
from ui.further import (
    corners_of_photo,
    photos_of,
    place_added,
    snapped_in_photo,
    tick_added,
    tick_on_line,
)
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError
from ui.lengths import length_text
from ui.pictures import size_of
from ui.ready import SCREEN_PX
from ui.steps.board_readings import readings_panel
from ui.steps.face_photos import further_photos, photo_picker, ticks_panel
from ui.steps.frame import heading, plain, save
from ui.steps.lens import lens_panel, truer_pictures
from ui.steps.photos import loose_photo, survey_and_say, uploads
from ui.steps.pickers import board_picker, face_picker
from ui.surface_ops import replaced_board

__all__ = ["show"]

_TURNED = {Turn.ROLLED: "rolled over its long edge", Turn.TUMBLED: "tumbled end over end"}


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
    _turn(record)
    _faces(record)
    readings_panel(job, record)
    lens_panel(job)


def _turn(record: BoardRecord) -> None:
    """The other turn, where the pictures of both faces speak for it; the maker says which it was."""
    other, id = record.turn_offered, record.id
    if other is None:
        return
    st.markdown(
        f":orange[**The faces look as if the board was {_TURNED[other]}, not {_TURNED[record.turned]}.**] "
        "Faults of the back would lie at the wrong place."
    )
    with st.container(horizontal=True):
        if st.button(f"It was {other.value}", type="primary", key=f"turn-other-{id}"):
            save(
                f"turned over for the back: {other.value}",
                lambda job: replaced_board(job, turned_typed(job.board(id), other.value, job)),
            )
            st.rerun()
        if st.button(f"No, it was {record.turned.value}", key=f"turn-kept-{id}"):
            save("keep how it was turned over", lambda job: replaced_board(job, turn_kept(job.board(id))))
            st.rerun()


def _faces(record: BoardRecord) -> None:
    faces = [face for face in Face if record.face(face) is not None]
    if not faces:
        st.markdown("No face of this board is photographed yet.")
        return
    _corners(record.id, face_picker(record, [face.value for face in faces]))


@st.fragment
def _corners(board: str, face: Face) -> None:
    here = state.folder()
    before = here.job().board(board).face(face)
    number = photo_picker(board, face, photos_of(before) if before else ())
    key = f"corners-{board}-{face.value}" + (f"-{number}" if number else "")
    answer = state.answered(key, lambda job, op: _photo_edit(job, board, face, number, op))
    job = answer.session.job
    known = job.board(board).face(face)
    photos = photos_of(known) if known else ()
    if known is None or number >= len(photos):
        return
    photo = photos[number]
    width, height = _size(str(here.path), photo.photo)
    url = f"/clearface/file/{state.job_id()}/{photo.photo}"
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
        doc={
            "corners": [list(corner) for corner in photo.corners_px] if photo.corners_px else None,
            "ticks": [
                *(
                    {"at": list(tick.at_px), "text": length_text(tick.reading, job.units)}
                    for tick in photo.ticks
                ),
                *({"at": list(place.at_px), "text": place.name} for place in photo.places),
            ],
            "waney": job.board(board).waney,
            "unit": job.units,
            "piece": number > 0,  # it begins where the photo cuts the board off, not at its datum end
        },
        memory=f"corners-{photo.photo}",
        **state.told(answer),
    )
    _truth(job, board, face, known)
    ticks_panel(job, board, face, number, photos)
    further_photos(board, face, photos)


def _truth(job: Job, board: str, face: Face, known: FaceRecord) -> None:
    """How true the picture is, and the button that makes it so."""
    if known.picture and known.error_mm is not None:
        st.markdown(
            f"True to scale. A point of the picture may be off by "
            f"**±{length_text(known.error_mm, job.units)}** at worst: tape before you cut."
            + _along(job, known)
            + _apart(job, known)
        )
        for sentence in known.notes:
            st.markdown(f":orange[**{plain(sentence[:1].upper() + sentence[1:])}.**]")
    else:
        st.markdown("The corners are not brought to true scale yet.")
    label = "Bring to true scale again" if known.picture else "Bring to true scale"
    if st.button(label, type="secondary" if known.picture else "primary", key=f"survey-{board}-{face.value}"):
        survey_and_say(board, face)
        st.rerun(scope="app")


def _apart(job: Job, known: FaceRecord) -> str:
    """How well it is known how a waney face lies over the other one."""
    if not known.apart_mm:
        return ""
    return (
        f" How it lies over the other face is known to **±{length_text(known.apart_mm, job.units)}** across; "
        "**Back beyond the front**, below, and places marked on both faces make that surer."
    )


def _along(job: Job, known: FaceRecord) -> str:
    """The error at both ends and in the middle of the face as seen."""
    along = known.error_along
    if len(along) < 3:
        return ""
    places = zip(
        ("at the left end", "in the middle", "at the right end"),
        (along[0], along[len(along) // 2], along[-1]),
        strict=True,
    )
    said = ", ".join(f"±{length_text(hypot(x, y), job.units)} {place}" for place, (_, x, y) in places)
    return f" Along it: {said}."


@st.cache_data(max_entries=200, show_spinner=False)
def _size(folder: str, photo: str) -> tuple[int, int]:
    del folder
    return size_of(state.folder().read(photo))


def _photo_edit(job: Job, board: str, face: Face, number: int, op: dict[str, Any]) -> Edit:
    """What the surface asks of one photo: its corners moved or snapped, a tick added."""
    if op.get("op") in ("tick", "place"):
        try:
            x, y = (float(value) for value in op["at"])
        except (KeyError, TypeError, ValueError) as error:
            raise JobError("this is not a place in the photo") from error
        text = str(op.get("text", ""))
        if op["op"] == "place":
            after = place_added(job, board, face, number, (x, y), text)
        else:
            at = tick_on_line(state.folder(), job, board, face, number, (x, y))
            after = tick_added(job, board, face, number, at, text)
        return edit_between(job, after, f"add a {op['op']} on board {board}")
    try:
        first, second, third, fourth = ((float(x), float(y)) for x, y in op["corners"])
    except (KeyError, TypeError, ValueError) as error:
        raise JobError("these are not four corners") from error
    corners = (first, second, third, fourth)
    if op.get("op") == "snap":
        corners = snapped_in_photo(state.folder(), job, board, face, number, corners)
    word = "snap" if op.get("op") == "snap" else "move"
    after = corners_of_photo(job, board, face, number, corners)
    return edit_between(job, after, f"{word} corners of board {board}")
