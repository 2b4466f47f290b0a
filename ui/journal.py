"""The journal of a job as text: one step a line, each with the revision it led to; read, written, shortened.

Pure: `ui.files` brings it to disk.
"""

import json
import re
from collections.abc import Iterable
from typing import Any

from pydantic import TypeAdapter

from ui.jobfile import VERSION, Job
from ui.session import Action, Session, Step, remembered

__all__ = ["Entry", "entries_of", "last_revision", "replayed", "shortened", "text_of"]

Entry = tuple[int, Step]
"""The revision a step led to, and the step."""

_STEP = TypeAdapter(Step)
_START = re.compile(rb'\{"revision":(\d{1,15}),')
_CLIENTS_KEPT = 50  # windows whose last answer is remembered


def entries_of(data: bytes) -> list[Entry]:
    """The whole lines of a journal; one cut off by a crash, or spoiled, is left out."""
    entries: list[Entry] = []
    for line in data.split(b"\n"):
        try:
            raw = json.loads(line)
            if raw.get("version", VERSION) != VERSION:
                continue  # of a job file since brought up to this version: undo does not go back behind that
            entries.append((int(raw["revision"]), _STEP.validate_python(raw["step"])))
        except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError):
            continue
    return entries


def text_of(entries: Iterable[Entry]) -> bytes:
    """The lines of a journal.

    Raises
    ------
    ValueError
        A text in a step that can't be written as UTF-8.
    """
    return b"".join(_line(revision, step) for revision, step in entries)


def last_revision(tail: bytes) -> int | None:
    """Revision of the last line, given the journal's last bytes; None if that line is not whole."""
    if not tail.endswith(b"\n"):
        return None
    found = _START.match(tail[:-1].rsplit(b"\n", 1)[-1])
    return int(found.group(1)) if found else None


def replayed(job: Job, entries: Iterable[Entry]) -> Session:
    """The session a journal leads to; lines ahead of the job, never finished, are left out."""
    session = Session(job)
    for revision, step in entries:
        if revision <= job.revision:
            session = remembered(session, step)
    return session


def shortened(session: Session, most: int) -> list[Entry]:
    """A journal that leads to the same session, but for undo that would take more room than this [bytes].

    The steps that led to where redo begins are all kept: redo without them would be of no use.
    """
    revision = session.job.revision
    undone = [Step(Action.EDIT, edit) for edit in reversed(session.undone)]
    answers = list(session.answered.items())[-_CLIENTS_KEPT:]
    after = [
        *undone,
        *(Step(Action.UNDO) for _ in undone),
        *(Step(Action.REFUSED, None, client, seq) for client, seq in answers),
    ]
    kept: list[Step] = []
    for edit in reversed(session.done):
        step = Step(Action.EDIT, edit)
        most -= len(_line(revision, step))
        if most < 0:
            break
        kept.append(step)
    return [(revision, step) for step in (*reversed(kept), *after)]


def _line(revision: int, step: Step) -> bytes:
    raw: dict[str, Any] = {
        "revision": revision,
        "version": VERSION,
        "step": _STEP.dump_python(step, mode="json"),
    }
    return json.dumps(raw, separators=(",", ":"), allow_nan=False).encode() + b"\n"
