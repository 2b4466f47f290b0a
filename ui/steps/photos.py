"""Photographs in, several at once, and each put on its board with what the tape says."""

from html import escape

import streamlit as st

from layout.stock import Face
from ui import state
from ui.jobfile import BoardRecord, Job, JobError, LoosePhoto
from ui.lengths import length_text
from ui.steps.frame import plain, save
from ui.surveying import (
    Readings,
    photo_on_board,
    photos_taken_in,
    readings_from,
    survey_face,
    turn_doubted,
)

__all__ = ["loose_photo", "survey_and_say", "uploads"]

_NEW = "a new board"


def uploads() -> None:
    """Take photographs in, as many as come."""
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


def loose_photo(job: Job, photo: LoosePhoto) -> None:
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
            place = st.selectbox(f"{plain(photo.name)} shows", where) if len(where) > 1 else _NEW
            left, middle, right = st.columns(3)
            unit = job.units
            length = left.text_input(f"Taped length, {unit}", placeholder="2400")
            width = middle.text_input(f"Taped width, {unit}", placeholder="148, or 148 / 150 / 151 along it")
            thickness = right.text_input(f"Thickness, {unit}", value=length_text(_usual_thickness(job), unit))
            left, right = st.columns(2)
            number = left.text_input("Number chalked on it", value=_next_number(job))
            species = right.text_input("Species", value=job.boards[-1].species if job.boards else "oak")
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
        survey_and_say(board, face)
        st.rerun()


def survey_and_say(board: str, face: Face) -> None:
    """Bring a face to true scale, and leave what is to be known of it for the top of the page."""
    with st.spinner(f"Bringing board {board}, {face.value}, to true scale"):
        try:
            found = survey_face(state.folder(), board, face)
        except JobError as error:
            state.say(str(error), bad=True)
            return
    unsure = found.confidence is not None and found.confidence < 0.5
    for sentence in (*found.notes, *turn_doubted(state.folder(), board)):
        state.say(sentence)
    if unsure:
        state.say(
            f"Board {board}, {face.value}: the outline is not sure. Look at the corners before you go on.",
            bad=True,
        )


def _without(job: Job, photo: str) -> Job:
    return job.model_copy(update={"loose": tuple(one for one in job.loose if one.photo != photo)})


def _open_faces(board: BoardRecord) -> list[Face]:
    return [face for face in Face if board.face(face) is None]


def _next_number(job: Job) -> str:
    taken = {board.id for board in job.boards}
    return next(str(number) for number in range(1, len(taken) + 2) if str(number) not in taken)


def _usual_thickness(job: Job) -> float:
    return job.boards[-1].thickness if job.boards else 27.0
