"""The only disk access: job folders with atomic writes, a lock and a journal; samples; the list of jobs.

Whatever is written appears whole or not at all (`ui.disk`): bytes go to a
temporary file beside the target, are forced to disk, and take its name in one move.
"""

import hashlib
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

import platformdirs
from filelock import FileLock, Timeout

from ui import spare
from ui.disk import PART, append, bytes_of, is_free, reason_of, refusing, write_all, write_whole
from ui.edits import Edit
from ui.jobfile import Job, JobError, SpoiledJobError, job_from, job_json
from ui.journal import Entry, entries_of, last_revision, replayed, shortened, text_of
from ui.session import Action, Ask, Session, Step, stepped

__all__ = [
    "SURVEYS",
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
SURVEYS = "survey"
"""Folder of what a run over many boards has done so far; see `ui.catalogue`."""
_STORES = ("photos", "pictures")
_STORED = re.compile(
    r"[0-9a-f]{24}\.\w+"
)  # as `stored_name` makes them; a file of the maker's own is left alone
LONGEST_JOURNAL = 16_000_000
"""Bytes of edits.jsonl from which on undo further back than anybody goes is dropped."""
_LONGEST_NOTE = 300  # letters of a refusal
_PATIENCE = 20.0  # seconds to wait for another window or program that is writing
_OLD = 3600.0  # seconds after which a file nobody names any more is taken for a left-over


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

    @classmethod
    def begun(cls, path: Path, job: Job) -> "JobFolder":
        """The job of a folder; the one given if there is none yet, also where two programs begin at once."""
        with refusing(path):
            path.mkdir(parents=True, exist_ok=True)
        with _alone(path):
            if not (path / JOB).is_file():
                write_whole(path / JOB, job_json(job).encode())
        return cls(path)

    def job(self) -> Job:
        """The job as it stands on disk."""
        return self.session().job

    def session(self, *, alone: bool = False) -> Session:
        """The job, its undo and redo, as they stand on disk.

        A spoiled job.json is made again from the second copy and the journal (`ui.spare`).

        Parameters
        ----------
        alone : bool
            Whether the lock is held already.

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
        try:
            job = job_from(bytes_of(self.path / JOB), str(self.path / JOB))
        except SpoiledJobError as error:
            return self._made_again(error, alone)
        session = replayed(job, self._journal())
        with _CACHE_LOCK:
            _CACHE[self.path] = (stamp, session)
        return session

    def once_spoiled(self) -> str:
        """What the maker is told of a job that had to be made again; "" if it never had to."""
        return spare.told(self.path)

    def take(self, steps: Callable[[Session], Iterable[Step | Ask]]) -> Session:
        """Bring steps to disk, in turn, onto the job as it stands there now; the session after them.

        A step that does not fit any more is refused: it changes nothing, its
        reason is among the session's notes, and the rest goes on.

        Parameters
        ----------
        steps : callable
            Given the session on disk, under the lock, says what to do.
        """
        if self.path not in _SWEPT:
            _SWEPT.add(self.path)
            self.session()  # of a job that can't be read nobody knows which pictures it names
            self.sweep()
        with self._locked():
            session = self.session(alone=True)
            before, lines, notes = session.job.revision, [], []
            for asked in steps(session):
                try:
                    step = asked.step(session) if isinstance(asked, Ask) else asked
                    after = stepped(session, step)
                except JobError as error:
                    note = _note(error)
                    notes.append(note)
                    step = Step(Action.REFUSED, client=asked.client, seq=asked.seq, note=note)
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
        path = self.path / name
        if not (self.path / JOB).is_file():  # moved away meanwhile: no second folder comes up in its place
            raise JobError(f"{self.path}: there is no job here (no {JOB})")
        if path.exists():
            with refusing(path):
                path.touch()  # in use from now on, though nothing names it yet: see `sweep`
        else:
            write_whole(path, data)
        return name

    def read(self, name: str) -> bytes:
        """The bytes of one of the job's files.

        Raises
        ------
        JobError
            The name leads out of the folder, or nothing is there any more.
        """
        try:
            path = (self.path / name).resolve()
            there = path.exists()
        except (OSError, ValueError, RuntimeError) as error:
            raise JobError(f"{name!r}: is no name of a file ({reason_of(error)})") from error
        if not path.is_relative_to(self.path.resolve()):
            raise JobError(f"{name}: lies outside the job's folder")
        if not there:
            raise JobError(f"{name}: is gone from the job's folder; put it back, or upload the photo again")
        return bytes_of(path)

    @contextmanager
    def _locked(self) -> Iterator[None]:
        if not (self.path / JOB).is_file():
            raise JobError(f"{self.path}: there is no job here (no {JOB})")
        with _alone(self.path):
            yield

    def _stamp(self) -> tuple[int, ...]:
        """Other after every step: some disks tell the time in steps of two seconds, but the journal grows."""
        try:
            found = (self.path / JOB).stat()
        except OSError:
            raise JobError(f"{self.path}: there is no job here (no {JOB})") from None
        try:
            journal = (self.path / JOURNAL).stat().st_size
        except OSError:
            journal = 0
        return found.st_mtime_ns, found.st_size, found.st_ino, journal

    def _journal(self) -> list[Entry]:
        path = self.path / JOURNAL
        return entries_of(bytes_of(path)) if path.exists() else []

    def _write(self, before: int, session: Session, lines: list[Entry]) -> None:
        """The journal first, then the job: a line ahead of the job is dropped when next read."""
        path = self.path / JOURNAL
        size, last = _tail(path)
        with refusing(path):
            text = text_of(lines)
            job = job_json(session.job).encode()
        if size > LONGEST_JOURNAL:
            # Only the steps that stand on disk already: until the job follows, it must still be found.
            kept = shortened(self.session(alone=True), LONGEST_JOURNAL // 2)
            write_whole(path, text_of(kept) + text)
            session = replayed(session.job, [*kept, *lines])
        elif size and last != before:
            kept = [entry for entry in self._journal() if entry[0] <= before]
            write_whole(path, text_of(kept) + text)
        else:
            append(path, text)
        spare.keep_before(self.path / JOB)
        write_whole(self.path / JOB, job)
        with _CACHE_LOCK:
            _CACHE[self.path] = (self._stamp(), session)

    def _made_again(self, spoiled: SpoiledJobError, alone: bool) -> Session:
        """The job whose job.json a disk has spoiled; on disk again, too, where that can be written."""
        if not alone:
            try:
                with self._locked():
                    return self.session(alone=True)  # another window may have made it again meanwhile
            except SpoiledJobError:
                raise
            except JobError:  # a folder that can't be written
                pass
        session = spare.made_again(self.path, self._journal())
        if session is None:
            raise spoiled
        if alone:
            spare.put_aside(self.path, JOB)
            write_whole(self.path / JOB, job_json(session.job).encode())
        return session

    def sweep(self) -> tuple[str, ...]:
        """Take away what a killed program left behind; the names of the files that are gone.

        Half-written files, and pictures neither the job nor its undo names, once
        they are an hour old: a window may be about to name a younger one.
        """
        gone = []
        try:
            with self._locked():
                lock = self.path / ".lock"
                lock.touch()
                now = lock.stat().st_mtime  # the disk's own time: a share's may be hours off ours
                named = bytes_of(self.path / JOB)
                if (self.path / JOURNAL).exists():
                    named += bytes_of(self.path / JOURNAL)
                for told in (*self.path.glob("job.*.json"), *(self.path / SURVEYS).glob("*.json")):
                    named += bytes_of(told)
                for path in (*self.path.glob("*"), *self.path.glob("*/*")):
                    if _left_over(path, self.path, named, now):
                        path.unlink()
                        gone.append(path.relative_to(self.path).as_posix())
        except (JobError, OSError):
            pass  # read-only, or in use: there is another time
        return tuple(gone)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """While no other window or program writes in a folder."""
    lock = FileLock(str(folder / ".lock"), timeout=_PATIENCE)
    try:
        lock.acquire()
    except Timeout:
        raise JobError(f"{folder}: another program is writing here; try again in a moment") from None
    except OSError as error:
        raise JobError(f"{folder}: can't be written ({reason_of(error)})") from error
    try:
        yield
    finally:
        lock.release()


def _note(error: JobError) -> str:
    """What a window is told of a refusal: not longer than it can show, and fit to be sent."""
    said = str(error).encode("utf-8", "backslashreplace").decode()
    return said if len(said) <= _LONGEST_NOTE else f"{said[:_LONGEST_NOTE]} ..."


def _left_over(path: Path, folder: Path, named: bytes, now: float) -> bool:
    half = path.name.startswith(".") and path.suffix == PART
    ours = path.parent.parent == folder and path.parent.name in _STORES and _STORED.fullmatch(path.name)
    if not (half or ours) or not path.is_file() or now - path.stat().st_mtime < _OLD:
        return False
    return half or path.name.encode() not in named


def _tail(path: Path) -> tuple[int, int | None]:
    """Length of the journal, and the revision of its last line if that is whole."""
    if not path.exists():
        return 0, None
    with refusing(path), path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(0, size - 1_000_000))
        return size, last_revision(file.read())


_CACHE: dict[Path, tuple[tuple[int, ...], Session]] = {}
_CACHE_LOCK = Lock()
_SWEPT: set[Path] = set()
