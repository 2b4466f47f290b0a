"""The job as it was one write ago, kept beside job.json: what to go back to if a disk spoils that file.

The second copy and the journal lead to the same job, so nothing is lost by it:
steps the copy has not seen are taken again from edits.jsonl.
"""

import os
import shutil
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from ui.disk import PART, bytes_of, refusing
from ui.jobfile import JobError, job_from
from ui.journal import Entry, replayed
from ui.session import Session, stepped

__all__ = ["BEFORE", "SPOILED", "keep_before", "made_again", "put_aside", "told"]

BEFORE, SPOILED = "job.before.json", "job.spoiled.json"


def keep_before(path: Path) -> None:
    """Make the job now on disk the second copy; `path` is its job.json.

    Raises
    ------
    JobError
        The disk is full, or the folder can't be written.
    """
    part = path.with_name(f".{BEFORE}.{os.getpid()}{PART}")
    with refusing(path.with_name(BEFORE)):
        part.unlink(missing_ok=True)
        try:
            try:
                os.link(path, part)  # no byte is copied: the next job.json is another file
            except OSError:
                shutil.copyfile(path, part)  # a stick or a share that knows no links
            part.replace(path.with_name(BEFORE))
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)  # a link to the very copy that is there is not moved


def made_again(folder: Path, entries: Iterable[Entry]) -> Session | None:
    """The session that the second copy and the journal lead to; None without a copy that can be read."""
    try:
        before = job_from(bytes_of(folder / BEFORE), str(folder / BEFORE))
    except JobError:
        return None
    entries = list(entries)
    session = replayed(before, entries)
    for revision, step in entries:
        if revision == session.job.revision + 1:
            try:
                session = stepped(session, step)
            except JobError:
                break  # the journal is spoiled as well: as far as it leads
    return session


def put_aside(folder: Path, job: str) -> None:
    """Keep the spoiled file under a name of its own, for whoever wants to look into it."""
    with refusing(folder / SPOILED):
        shutil.copyfile(folder / job, folder / SPOILED)


def told(folder: Path) -> str:
    """What a maker is told of a job made again, until he takes the spoiled file away; "" otherwise."""
    if not (folder / SPOILED).exists():
        return ""
    return (
        f"job.json could not be read and was made again from {BEFORE} and edits.jsonl; look the job through, "
        f"and then delete {SPOILED}, the spoiled file, from {folder}"
    )
