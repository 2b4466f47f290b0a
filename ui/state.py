"""The only place that touches the page's session state: which job, what the surfaces sent, passing notes.

Nothing of a job lives here; the job is on disk. What is here may be lost at any time.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import streamlit as st

from ui.canvas.component import received
from ui.edits import Edit
from ui.files import JobFolder
from ui.jobfile import Job, JobError
from ui.library import folder_of, last_job, remember
from ui.sample import sample_shelf
from ui.session import Action, Ask, Session

__all__ = [
    "Answer",
    "answered",
    "changed",
    "folder",
    "forget",
    "history_of",
    "job_id",
    "note",
    "open_job",
    "picked",
    "remember_pick",
    "said",
    "say",
    "told",
    "typed",
    "undo",
]

EditFor = Callable[[Job, dict[str, Any]], Edit]


@dataclass(frozen=True)
class Answer:
    """What became of the edits a surface sent.

    Parameters
    ----------
    session : Session
    ack : dict
        client and the last seq of it that is on disk.
    refused : str
        Why one was refused, until the next is sent; "" if none was.
    """

    session: Session
    ack: dict[str, Any]
    refused: str


def job_id() -> str:
    """The id of the job the page shows: as the address says, else the last one, else the sample."""
    asked = st.query_params.get("job")
    known = asked or st.session_state.get("job")
    try:
        folder_of(known or "")
        id = str(known)
    except JobError as error:
        if asked:
            say(str(error), bad=True)
        id = last_job() or sample_shelf()
    if st.query_params.get("job") != id:
        st.query_params["job"] = id
    st.session_state["job"] = id
    remember(id)
    return id


def open_job(id: str) -> None:
    """Show another job from the next run on."""
    st.session_state["job"] = id
    st.query_params["job"] = id


def folder() -> JobFolder:
    """The folder of the job the page shows."""
    return folder_of(job_id())


def answered(key: str, edit_for: EditFor) -> Answer:
    """Bring to disk what a surface sent and was not answered yet; to be called before it is mounted.

    Parameters
    ----------
    key : str
        The surface's.
    edit_for : callable
        Given the job as it then is and an op, the edit.
    """
    sent = received(st.session_state.get(key))
    here = folder()
    session = here.session()
    if any(op["seq"] > session.answered.get(sent.client, 0) for op in sent.ops):

        def asked(now: Session) -> Iterator[Ask]:
            last = now.answered.get(sent.client, 0)
            for op in sent.ops:
                if op["seq"] > last:
                    yield _ask(sent.client, op, edit_for)

        session = here.take(asked)
        st.session_state[f"refused-{key}"] = session.notes[-1] if session.notes else ""
    ack = {"client": sent.client, "seq": session.answered.get(sent.client, 0)}
    return Answer(session, ack, str(st.session_state.get(f"refused-{key}", "")))


def told(answer: Answer) -> dict[str, Any]:
    """What a surface is told of its edits: answered, to undo and redo, refused."""
    return {
        "ack": answer.ack,
        "history": history_of(answer.session),
        "note": answer.refused,
        "refused": bool(answer.refused),
    }


def changed(make: Callable[[Job], Edit]) -> bool:
    """Bring an edit made by a field or button of the page to disk; whether it was taken.

    A refusal is said at the top of the page.
    """

    def asked(_: Session) -> Iterator[Ask]:
        yield Ask("", 0, make)

    session = folder().take(asked)
    for sentence in session.notes:
        say(sentence, bad=True)
    return not session.notes


def undo(action: Action) -> None:
    """Undo or redo, from a button of the page."""

    def asked(_: Session) -> Iterator[Ask]:
        yield Ask("", 0, None, action)

    for sentence in folder().take(asked).notes:
        say(sentence, bad=True)


def history_of(session: Session) -> dict[str, str]:
    """What undo and redo would do; "" for nothing."""
    return {
        "undo": session.done[-1].label if session.done else "",
        "redo": session.undone[-1].label if session.undone else "",
    }


def say(sentence: str, *, bad: bool = False) -> None:
    """Leave a sentence for the top of the page, shown in the next run."""
    st.session_state.setdefault("said", []).append((sentence, bad))


def said() -> list[tuple[str, bool]]:
    """The sentences left, and no longer."""
    return list(st.session_state.pop("said", []))


def note(key: str, value: Any = None) -> Any:
    """A passing value of this window; given a value, keeps it."""
    if value is not None:
        st.session_state[f"note-{key}"] = value
    return st.session_state.get(f"note-{key}")


def forget(key: str) -> None:
    """Drop a passing value."""
    st.session_state.pop(f"note-{key}", None)


def typed(widget: str) -> Any:
    """What stands in a field of the page."""
    return st.session_state.get(widget)


def picked(what: str, among: list[str]) -> str | None:
    """What was picked last in this window, if it is still there; else the first."""
    kept = st.session_state.get(f"picked-{what}")
    return kept if kept in among else (among[0] if among else None)


def remember_pick(what: str, value: str) -> None:
    """Keep what was picked, for the other steps."""
    st.session_state[f"picked-{what}"] = value


def _ask(client: str, op: dict[str, Any], edit_for: EditFor) -> Ask:
    kind, seq = op.get("op"), int(op["seq"])
    if kind in ("undo", "redo"):
        return Ask(client, seq, None, Action(kind))
    return Ask(client, seq, lambda job: edit_for(job, op))
