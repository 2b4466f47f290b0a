"""Which board and which face a step is about."""

from collections.abc import Callable

import streamlit as st

from layout.stock import Face
from ui import state
from ui.jobfile import BoardRecord, Job
from ui.states import waiting_on

__all__ = ["board_picker", "face_picker", "picked_of"]

_MOST_PILLS = 60  # of more names a row of pills fills the screen, and the browser slows down


def board_picker(job: Job) -> BoardRecord | None:
    """The board picked for this window, with a row of numbers to pick another."""
    numbers = [board.id for board in job.boards]
    now = state.picked("board", numbers)
    if now is None:
        st.markdown("There is no board yet.")
        return None
    if len(numbers) > 1:
        waiting = {board.id: waiting_on(board) for board in job.boards}
        chosen = picked_of("Board", numbers, now, f"board={now}", lambda id: _pill(id, now, waiting[id]))
        if chosen is not None and chosen != now:
            state.remember_pick("board", chosen)
            st.rerun()
    return job.board(now)


def picked_of(
    label: str, names: list[str], now: str, key: str, name_shown: Callable[[str], str]
) -> str | None:
    """One of several names: a row of pills, or of very many a list that finds them as they are typed."""
    if len(names) > _MOST_PILLS:
        return st.selectbox(
            label,
            names,
            index=names.index(now),
            key=key,
            format_func=name_shown,
            label_visibility="collapsed",
        )
    return st.pills(label, names, default=now, key=key, format_func=name_shown, label_visibility="collapsed")


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


def _pill(id: str, now: str, waiting: int) -> str:
    name = f"Board {id}" if id == now else id
    return f"{name} · {waiting} to judge" if waiting else name
