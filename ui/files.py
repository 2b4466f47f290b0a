"""The only disk access: job folders with atomic writes, a lock and a journal; samples; the list of jobs.

Whatever is written appears whole or not at all: bytes go to a temporary file
beside the target, are forced to disk, and take the target's name in one move.
"""

import hashlib
import json
import os
import re
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

import platformdirs
from filelock import FileLock
from pydantic import TypeAdapter

from ui.edits import Edit
from ui.jobfile import Job, JobError, job_from, job_json
from ui.session import Action, Ask, Session, Step, remembered, stepped

__all__ = [
    "JobFolder",
    "bytes_of",
    "data_folder",
    "is_free",
    "kept_in",
    "samples_folder",
    "stored_name",
    "write_all",
    "write_whole",
]

JOB, JOURNAL = "job.json", "edits.jsonl"
_STEP = TypeAdapter(Step)


def data_folder() -> Path:
    """Where jobs are kept; CLEARFACE_DATA says otherwise."""
    given = os.environ.get("CLEARFACE_DATA")
    return Path(given) if given else Path(platformdirs.user_data_dir("clearface", appauthor=False))


def samples_folder() -> Path:
    """The sample jobs: inside the installed package, or beside it in the sources."""
    here = Path(__file__).resolve().parent
    for folder in (here / "samples", here.parent / "samples"):
        if folder.is_dir():
            return folder
    raise JobError("the sample jobs are not installed; install clearface again")


def bytes_of(path: Path) -> bytes:
    """The bytes of a file somebody named.

    Raises
    ------
    JobError
        It is not there or can't be read.
    """
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise JobError(f"{path}: there is no such file") from None
    except OSError as error:
        raise JobError(f"{path}: can't be read ({error.strerror})") from error


def is_free(folder: Path) -> bool:
    """Whether a folder may be filled: it is not there yet, or empty."""
    return not folder.exists() or (folder.is_dir() and not any(folder.iterdir()))


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that it is there whole or as it was before, whatever happens meanwhile."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    except OSError as error:
        raise JobError(f"{path.parent}: can't be written ({error.strerror})") from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except OSError as error:
        raise JobError(f"{path}: can't be written ({error.strerror})") from error
    finally:
        Path(name).unlink(missing_ok=True)


def write_all(folder: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write files into a folder, each whole; their paths."""
    paths = []
    for name, data in files.items():
        path = folder / name
        write_whole(path, data)
        paths.append(path)
    return tuple(paths)


def stored_name(folder: str, data: bytes, suffix: str) -> str:
    """The name that bytes are kept under: made from them, so that the same picture is kept once."""
    return f"{folder}/{hashlib.sha256(data).hexdigest()[:24]}{suffix}"


def kept_in(files: dict[str, bytes]) -> Callable[[str, bytes, str], str]:
    """Something that keeps files in memory, so that nothing is written before everything has worked."""

    def keep(folder: str, data: bytes, suffix: str) -> str:
        name = stored_name(folder, data, suffix)
        files[name] = data
        return name

    return keep


@dataclass(frozen=True)
class JobFolder:
    """One job on disk.

    Parameters
    ----------
    path : Path
        Its folder.
    """

    path: Path

    @classmethod
    def created(cls, path: Path, job: Job, files: Mapping[str, bytes] | None = None) -> "JobFolder":
        """A new job's folder with its first job.json and files.

        Raises
        ------
        JobError
            The folder holds something already.
        """
        if not is_free(path):
            raise JobError(f"{path}: is not empty; give a new folder")
        write_all(path, dict(files or {}))
        write_whole(path / JOB, job_json(job).encode())
        return cls(path)

    def job(self) -> Job:
        """The job as it stands on disk."""
        return self.session().job

    def session(self) -> Session:
        """The job, its undo and redo, as they stand on disk.

        Raises
        ------
        JobError
            There is no job in the folder, or it can't be right.
        """
        stamp = self._stamp()
        with _CACHE_LOCK:
            known = _CACHE.get(self.path)
        if known is not None and known[0] == stamp:
            return known[1]
        job = job_from(bytes_of(self.path / JOB), str(self.path / JOB))
        session = Session(job)
        for revision, step in self._journal():
            if revision <= job.revision:
                session = remembered(session, step)
        with _CACHE_LOCK:
            _CACHE[self.path] = (stamp, session)
        return session

    def take(self, steps: Callable[[Session], Iterable[Step | Ask]]) -> Session:
        """Bring steps to disk, in turn, onto the job as it stands there now; the session after them.

        A step that does not fit any more is refused: it changes nothing, its
        reason is among the session's notes, and the rest goes on.

        Parameters
        ----------
        steps : callable
            Given the session on disk, under the lock, says what to do.
        """
        with self._locked():
            session = self.session()
            before, lines, notes = session.job.revision, [], []
            for asked in steps(session):
                try:
                    step = asked.step(session) if isinstance(asked, Ask) else asked
                    after = stepped(session, step)
                except JobError as error:
                    notes.append(str(error))
                    step = Step(Action.REFUSED, client=asked.client, seq=asked.seq, note=str(error))
                    after = stepped(session, step)
                session = after
                lines.append((session.job.revision, step))
            if lines:
                self._write(before, session, lines)
            return Session(session.job, session.done, session.undone, session.answered, tuple(notes))

    def do(self, edit: Edit) -> Session:
        """Bring one edit to disk.

        Raises
        ------
        JobError
            It does not fit the job as it stands there.
        """
        session = self.take(lambda _: (Step(Action.EDIT, edit),))
        if session.notes:
            raise JobError(session.notes[0])
        return session

    def keep(self, folder: str, data: bytes, suffix: str) -> str:
        """Store bytes under a name made from them; the path inside the job's folder."""
        name = stored_name(folder, data, suffix)
        if not (self.path / name).exists():
            write_whole(self.path / name, data)
        return name

    def read(self, name: str) -> bytes:
        """The bytes of one of the job's files.

        Raises
        ------
        JobError
            The name leads out of the folder, or nothing is there.
        """
        path = (self.path / name).resolve()
        if not path.is_relative_to(self.path.resolve()):
            raise JobError(f"{name}: lies outside the job's folder")
        return bytes_of(path)

    @contextmanager
    def _locked(self) -> Iterator[None]:
        if not (self.path / JOB).is_file():
            raise JobError(f"{self.path}: there is no job here (no {JOB})")
        with FileLock(str(self.path / ".lock"), timeout=20):
            yield

    def _stamp(self) -> tuple[int, int, int]:
        try:
            found = (self.path / JOB).stat()
        except OSError:
            raise JobError(f"{self.path}: there is no job here (no {JOB})") from None
        return found.st_mtime_ns, found.st_size, found.st_ino

    def _journal(self) -> list[tuple[int, Step]]:
        """Revision and step of each whole line of the journal; a line cut off by a crash is left out."""
        entries: list[tuple[int, Step]] = []
        path = self.path / JOURNAL
        for line in path.read_text("utf-8").splitlines() if path.exists() else ():
            try:
                raw = json.loads(line)
                entries.append((int(raw["revision"]), _STEP.validate_python(raw["step"])))
            except (ValueError, KeyError, TypeError):
                continue
        return entries

    def _write(self, before: int, session: Session, lines: list[tuple[int, Step]]) -> None:
        """The journal first, then the job: a line ahead of the job is dropped when next read."""
        path = self.path / JOURNAL
        kept = self._journal() if path.exists() and _last_revision(path) != before else None
        text = "".join(_line(revision, step) for revision, step in lines)
        if kept is not None:
            kept_text = "".join(_line(revision, step) for revision, step in kept if revision <= before)
            write_whole(path, (kept_text + text).encode())
        else:
            with path.open("ab") as file:
                file.write(text.encode())
                file.flush()
                os.fsync(file.fileno())
        write_whole(self.path / JOB, job_json(session.job).encode())
        with _CACHE_LOCK:
            _CACHE[self.path] = (self._stamp(), session)


_CACHE: dict[Path, tuple[tuple[int, int, int], Session]] = {}
_CACHE_LOCK = Lock()


def _line(revision: int, step: Step) -> str:
    raw: dict[str, Any] = {"revision": revision, "step": _STEP.dump_python(step, mode="json")}
    return json.dumps(raw, separators=(",", ":")) + "\n"


def _last_revision(path: Path) -> int | None:
    """Revision of the journal's last line, if it is whole."""
    with path.open("rb") as file:
        file.seek(0, os.SEEK_END)
        size = file.tell()
        file.seek(max(0, size - 1_000_000))
        tail = file.read()
    if not tail.endswith(b"\n"):
        return None
    found = re.match(rb'\{"revision":(\d+),', tail.rstrip(b"\n").rsplit(b"\n", 1)[-1])
    return int(found.group(1)) if found else None
