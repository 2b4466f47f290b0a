"""Which board and which face a step is about."""

import streamlit as st

from layout.stock import Face
from ui import state
from ui.jobfile import BoardRecord, Job
from ui.states import board_state

__all__ = ["board_picker", "face_picker"]


def board_picker(job: Job) -> BoardRecord | None:
    """The board picked for this window, with a row of numbers to pick another."""
    numbers = [board.id for board in job.boards]
    now = state.picked("board", numbers)
    if now is None:
        st.markdown("There is no board yet.")
        return None
    if len(numbers) > 1:
        chosen = st.pills(
            "Board",
            numbers,
            default=now,
            key=f"board={now}",
            format_func=lambda id: _pill(job, id, now),
            label_visibility="collapsed",
        )
        if chosen is not None and chosen != now:
            state.remember_pick("board", chosen)
            st.rerun()
    return job.board(now)


def face_picker(record: BoardRecord, faces: list[str]) -> Face:
    """The face picked for this window."""
    now = state.picked("face", faces) or faces[0]
    if len(faces) > 1:
        chosen = st.segmented_control(
            "Face",
            faces,
            default=now,
            key=f"face={now}",
            format_func=lambda face: f"{face} of board {record.id}" if face == now else face,
            label_visibility="collapsed",
        )
        if chosen and chosen != now:
            state.remember_pick("face", chosen)
            st.rerun()
    return Face(now)


def _pill(job: Job, id: str, now: str) -> str:
    waiting = board_state(job, job.board(id)).waiting
    name = f"Board {id}" if id == now else id
    return f"{name} · {waiting} to judge" if waiting else name
