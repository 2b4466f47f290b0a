"""The boards: photographs in, corners set, tape readings, both faces, and how true the picture is."""

from html import escape
from typing import Any

import streamlit as st

from layout.stock import Face, PriceBasis, Turn
from ui import state
from ui.board_fields import (
    basis_typed,
    board_change,
    length_typed,
    moisture_typed,
    price_typed,
    species_typed,
    thickness_typed,
    turned_typed,
    widths_typed,
    without_board,
)
from ui.canvas.component import drawing_surface
from ui.changes import edit_between
from ui.edits import Edit
from ui.jobfile import BoardRecord, Job, JobError, LoosePhoto
from ui.lengths import length_text
from ui.pictures import size_of
from ui.states import board_state
from ui.steps.frame import choice_field, heading, save, switch_field, text_field
from ui.surface_ops import replaced_board
from ui.surveying import (
    SCREEN_PX,
    Readings,
    corners_set,
    photo_on_board,
    photos_taken_in,
    readings_from,
    snapped_corners,
    survey_face,
)

__all__ = ["board_picker", "show"]

_NEW = "a new board"


def show() -> None:
    """The page."""
    heading(
        "Boards",
        "Photograph each face from above, the whole board in the picture, and read it with the tape.",
    )
    _uploads()
    job = state.folder().job()
    for photo in job.loose:
        _loose(job, photo)
    record = board_picker(job)
    if record is None:
        return
    _faces(record)
    _readings(job, record)


def board_picker(job: Job) -> BoardRecord | None:
    """The board picked for this window, with a row of numbers to pick another."""
    numbers = [board.id for board in job.boards]
    now = state.picked("board", numbers)
    if now is None:
        st.markdown("There is no board yet.")
        return None
    if len(numbers) > 1:
        chosen = st.pills(
            "Board", numbers, default=now, key=f"board={now}", format_func=lambda id: _pill(job, id)
        )
        if chosen is not None and chosen != now:
            state.remember_pick("board", chosen)
            st.rerun()
    return job.board(now)


def _pill(job: Job, id: str) -> str:
    waiting = board_state(job, job.board(id)).waiting
    return f"{id} · {waiting} to judge" if waiting else id


def _uploads() -> None:
    given = st.file_uploader(
        "Photographs of boards, as many as you like",
        type=["image/*", "heic", "heif"],  # "image/*" makes a phone offer its own camera
        accept_multiple_files=True,
        key=f"photos-{state.note('photos-round') or 0}",
    )
    if given:
        for problem in photos_taken_in(state.folder(), [(one.name, one.getvalue()) for one in given]):
            state.say(problem, bad=True)
        state.note("photos-round", (state.note("photos-round") or 0) + 1)
        st.rerun()


def _loose(job: Job, photo: LoosePhoto) -> None:
    """One photo that is on no board yet: say which, and what the tape says."""
    id = state.job_id()
    with st.container(border=True):
        source = escape(f"/clearface/file/{id}/{photo.photo}?size=500")
        st.html(f'<img src="{source}" alt="{escape(photo.name)}" style="max-width: 260px; width: 100%">')
        where = [
            _NEW,
            *(f"{face.value} of board {board.id}" for board in job.boards for face in _open_faces(board)),
        ]
        with st.form(f"loose-{photo.photo}", border=False):
            place = st.selectbox(f"{photo.name} shows", where) if len(where) > 1 else _NEW
            left, middle, right = st.columns(3)
            unit = job.units
            length = left.text_input(f"Taped length, {unit}", placeholder="2400")
            width = middle.text_input(f"Taped width, {unit}", placeholder="148, or 148 / 150 / 151 along it")
            thickness = right.text_input(f"Thickness, {unit}", value=length_text(_usual_thickness(job), unit))
            number = left.text_input("Number chalked on it", value=_next_number(job))
            species = middle.text_input("Species", value=job.boards[-1].species if job.boards else "oak")
            if st.form_submit_button("Put it on the board", type="primary"):
                _put(job, photo, place, (number, length, width, thickness, species))
        if st.button("Take this photo out", key=f"out-{photo.photo}"):
            save(f"take out {photo.name}", lambda now: _without(now, photo.photo))
            st.rerun()


def _put(job: Job, photo: LoosePhoto, place: str, typed: tuple[str, str, str, str, str]) -> None:
    number, length, width, thickness, species = typed
    target: Readings | str
    face = Face.FRONT
    try:
        if place == _NEW:
            target = readings_from(number, length, width, thickness, species, job.units)
            board = target.number
        else:
            words, _, board = place.partition(" of board ")
            target, face = board, Face(words)
    except JobError as error:
        st.error(str(error))
        return
    if save(f"photo on board {board}", lambda now: photo_on_board(now, photo.photo, target, face)):
        state.remember_pick("board", board)
        state.remember_pick("face", face.value)
        _survey(board, face)
        st.rerun()


def _survey(board: str, face: Face) -> None:
    with st.spinner(f"Bringing board {board}, {face.value}, to true scale"):
        try:
            found = survey_face(state.folder(), board, face)
        except JobError as error:
            state.say(str(error), bad=True)
            return
    unsure = found.confidence is not None and found.confidence < 0.5
    for sentence in found.notes:
        state.say(sentence)
    if unsure:
        state.say(
            f"Board {board}, {face.value}: the outline is not sure. Look at the corners before you go on.",
            bad=True,
        )


def _faces(record: BoardRecord) -> None:
    faces = [face for face in Face if record.face(face) is not None]
    if not faces:
        st.markdown("No face of this board is photographed yet.")
        return
    names = [face.value for face in faces]
    now = state.picked("face", names) or names[0]
    if len(names) > 1:
        chosen = st.segmented_control("Face", names, default=now, key=f"face={now}")
        if chosen and chosen != now:
            state.remember_pick("face", chosen)
            st.rerun()
    _corners(record.id, Face(now))


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
        ack=answer.ack,
        history=state.history_of(answer.session),
        memory=f"corners-{known.photo}",
        note=answer.refused,
        refused=bool(answer.refused),
    )
    if known.picture and known.error_mm is not None:
        st.markdown(
            f"True to scale. A point of the picture may be off by "
            f"**±{length_text(known.error_mm, job.units)}** at worst: tape before you cut."
        )
    else:
        st.markdown("The corners are not brought to true scale yet.")
    label = "Bring to true scale again" if known.picture else "Bring to true scale"
    if st.button(label, type="secondary" if known.picture else "primary", key=f"survey-{board}-{face.value}"):
        _survey(board, face)
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


def _readings(job: Job, record: BoardRecord) -> None:
    st.subheader(f"Board {record.id}", anchor=False)
    unit, id = job.units, record.id
    columns = st.columns(3)
    with columns[0]:
        text_field(
            "Taped length", length_text(record.length, unit), f"length-{id}", board_change(id, length_typed)
        )
        text_field("Species", record.species, f"species-{id}", board_change(id, species_typed))
        text_field("Price", f"{record.price.amount:g}", f"price-{id}", board_change(id, price_typed))
    with columns[1]:
        widths = (" / " if unit == "mm" else " ; ").join(
            length_text(width, unit) for _, width in record.widths
        )
        text_field("Taped widths, from the datum end", widths, f"widths-{id}", board_change(id, widths_typed))
        text_field(
            "Moisture, %",
            "" if record.moisture is None else f"{record.moisture:g}",
            f"moisture-{id}",
            board_change(id, moisture_typed),
            placeholder="not measured",
        )
        choice_field(
            "Price is for",
            [basis.value for basis in PriceBasis],
            record.price.basis.value,
            f"basis-{id}",
            board_change(
                id,
                basis_typed,
            ),
        )
    with columns[2]:
        text_field(
            "Thickness as it lies",
            length_text(record.thickness, unit),
            f"thick-{id}",
            board_change(id, thickness_typed),
        )
        choice_field(
            "Turned over for the back",
            [turn.value for turn in Turn],
            record.turned.value,
            f"turned-{id}",
            board_change(id, turned_typed),
            help="rolled over its long edge, or tumbled end over end",
        )
        switch_field(
            "Already mine", record.owned, f"owned-{id}", lambda now, on: _switched(now, id, owned=on)
        )
        switch_field(
            "Leave it out of the plan",
            record.forbidden,
            f"out-{id}",
            lambda now, on: _switched(now, id, forbidden=on),
        )
    if st.button(f"Take board {id} out of the job", key=f"drop-{id}"):
        save(f"take out board {id}", lambda now: without_board(now, id))
        st.rerun()


def _switched(job: Job, id: str, **on: bool) -> Job:
    return replaced_board(job, job.board(id).model_copy(update=on))


def _without(job: Job, photo: str) -> Job:
    return job.model_copy(update={"loose": tuple(one for one in job.loose if one.photo != photo)})


def _open_faces(board: BoardRecord) -> list[Face]:
    return [face for face in Face if board.face(face) is None]


def _next_number(job: Job) -> str:
    taken = {board.id for board in job.boards}
    return next(str(number) for number in range(1, len(taken) + 2) if str(number) not in taken)


def _usual_thickness(job: Job) -> float:
    return job.boards[-1].thickness if job.boards else 27.0
