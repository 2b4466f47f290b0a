"""A yard's boards surveyed all at once: a folder of photographs and a list of tape readings into one job.

The folder holds the photographs and ``boards.csv`` (`ui.yard_list`). Every board
is worked on by itself, by as many processes as there are cores, or by the
workers of a Dask cluster; what is done is on disk at once (``survey/``), so that
a run that was stopped goes on where it was. A board that can't be surveyed is
named with its reason, and the others go on.

The same plain function does the work everywhere: bytes in, bytes out. Only this
machine reads the photographs and writes the job.
"""

import json
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from importlib import import_module
from multiprocessing import parent_process
from multiprocessing.connection import wait as wait_for
from pathlib import Path
from threading import Thread
from typing import Any

from pydantic import BaseModel

from layout.stock import Face, Price
from ui.changes import edit_between
from ui.disk import check_writable, is_free
from ui.files import SURVEYS, JobFolder, bytes_of, kept_in, write_whole
from ui.jobfile import BoardRecord, Job, JobError
from ui.phones import PhoneLens, lenses_kept, profile_among
from ui.session import Action, Session, Step
from ui.survey import surveyed_board
from ui.wording import counted
from ui.yard_list import LIST, Row, rows_of

__all__ = ["Done", "Summary", "catalogued", "cores", "dask_workers", "surveyed_row"]

_RENEWED = 25  # boards a process does before a new one takes its place: memory stays flat


@dataclass(frozen=True)
class Done:
    """One board surveyed: its record as JSON, the files it names, what the maker should know."""

    record: str
    files: dict[str, bytes]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Summary:
    """What a run came to: boards done now, done before, and why others are not."""

    done: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()


class _Kept(BaseModel):
    """What stands on disk of a board that is done."""

    of: str
    record: BoardRecord
    files: tuple[str, ...]
    notes: tuple[str, ...] = ()


def surveyed_row(
    row: Row, photos: Sequence[tuple[Face, str, bytes]], lenses: Sequence[PhoneLens] = ()
) -> Done:
    """One board from its tape readings and photographs, by the lenses of phones that are known.

    Raises
    ------
    JobError
        No board is found in a photo, or a reading can't be.
    """
    record = BoardRecord(
        id=row.number,
        length=row.length,
        widths=((0.0, row.width),),
        thickness=row.thickness,
        species=row.species,
        price=Price(row.price),
        turned=row.turned,
    )
    files: dict[str, bytes] = {}
    record, faces = surveyed_board(
        record, photos, kept_in(files), profile_of=lambda photo: profile_among(lenses, photo)
    )
    notes = tuple(f"{face.value}: {note}" for face, found in faces.items() for note in found.notes)
    return Done(record.model_dump_json(), files, notes)


def catalogued(
    folder: Path,
    out: Path,
    workers: Executor,
    at_once: int,
    on_board: Callable[[str], None] = lambda _: None,
) -> Summary:
    """Survey every board of a folder that is not done yet, and bring all that are done into one job.

    Parameters
    ----------
    folder : Path
        Photographs and `LIST`.
    out : Path
        A new folder, or one that an earlier run of this began.
    workers : Executor
        Processes of this machine (`cores`), or a cluster's (`dask_workers`).
    at_once : int
        Boards held in memory at a time.
    on_board : callable, optional
        Told a line for each board.

    Raises
    ------
    JobError
        The list can't be read, or the result can't be written.
    """
    rows = rows_of(bytes_of(folder / LIST).decode("utf-8", "replace"), str(folder / LIST))
    if not is_free(out) and not (out / SURVEYS).is_dir() and not (out / "job.json").is_file():
        raise JobError(f"{out}: is neither new nor a catalogue that was begun; give a new folder")
    check_writable(out)
    run = _Run(folder, out, on_board)
    run.work_off(rows, workers, at_once)
    _into_job(out, rows)
    # Boards come back from the workers in any order; the answer keeps the list's own.
    done = tuple(row.number for row in rows if row.number in set(run.done))
    return Summary(done, tuple(run.before), tuple(run.problems))


class _Run:
    """One run over the list: what is under way, what is done, what went wrong."""

    def __init__(self, folder: Path, out: Path, on_board: Callable[[str], None]) -> None:
        self.folder, self.out, self.on_board = folder, out, on_board
        self.lenses = lenses_kept()  # read here: a cluster's machines have none of them
        self.done: list[str] = []
        self.before: list[str] = []
        self.problems: list[str] = []

    def work_off(self, rows: Sequence[Row], workers: Executor, at_once: int) -> None:
        under_way: dict[Future[Done], tuple[Row, str]] = {}
        for row in rows:
            begun = self._begin(row, workers)
            if begun is not None:
                under_way[begun[0]] = (row, begun[1])
            while len(under_way) >= at_once:
                self._collect(under_way)
        while under_way:
            self._collect(under_way)

    def _begin(self, row: Row, workers: Executor) -> tuple[Future[Done], str] | None:
        try:
            names = [(Face.FRONT, row.front), *([(Face.BACK, row.back)] if row.back else [])]
            photos = [(face, name, self._photo(name)) for face, name in names]
        except JobError as error:
            self._problem(row, error)
            return None
        mark = _mark_of(row, photos)
        if _is_done(self.out, row, mark):
            self.before.append(row.number)
            return None
        return workers.submit(surveyed_row, row, photos, self.lenses), mark

    def _photo(self, name: str) -> bytes:
        path = (self.folder / name).resolve()
        if not path.is_relative_to(self.folder.resolve()):
            raise JobError(f"{name}: lies outside {self.folder}")
        return bytes_of(path)

    def _collect(self, under_way: dict[Future[Done], tuple[Row, str]]) -> None:
        ready, _ = wait(under_way, return_when=FIRST_COMPLETED)
        for future in ready:
            row, mark = under_way.pop(future)
            try:
                found = future.result()
            except JobError as error:
                self._problem(row, error)
            except BrokenProcessPool:
                raise JobError(
                    "a process was killed, perhaps for want of memory; run again with fewer --workers"
                ) from None
            else:
                _keep(self.out, row, mark, found)
                self.done.append(row.number)
                self.on_board(f"board {row.number}: done" + "".join(f"; {note}" for note in found.notes))

    def _problem(self, row: Row, error: Exception) -> None:
        self.problems.append(f"board {row.number}: {error}")
        self.on_board(self.problems[-1])


@contextmanager
def cores(workers: int) -> Iterator[Executor]:
    """As many processes of this machine, each replaced now and then so that memory stays flat."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    with ProcessPoolExecutor(
        workers, get_context("spawn"), initializer=_begun, max_tasks_per_child=_RENEWED
    ) as pool:
        yield pool


@contextmanager
def dask_workers(address: str) -> Iterator[tuple[Executor, int]]:
    """The workers of a Dask cluster as an executor, and how many threads they have together.

    Raises
    ------
    JobError
        The extra `cluster` is not installed, or nobody answers at the address.
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise JobError("a cluster needs one more package: pip install 'clearface[cluster]'") from None
    try:
        client = distributed.Client(address, timeout="10s")
    except (OSError, ValueError) as error:
        raise JobError(f"{address}: no cluster answers ({error})") from error
    with client:
        threads = sum(client.nthreads().values())
        if not threads:
            raise JobError(f"{address}: the cluster has no workers; start some first")
        workers: Executor = client.get_executor(retries=2)
        yield workers, threads


def _begun() -> None:
    """One thread for each process; and none outlives the program that began it, however that ended."""
    import cv2

    cv2.setNumThreads(1)
    parent = parent_process()
    if parent is not None:
        Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    wait_for([sentinel])
    os._exit(1)  # it holds nothing that is not on the parent's side as well


def _mark_of(row: Row, photos: Sequence[tuple[Face, str, bytes]]) -> str:
    """Short for everything a board's survey was made from."""
    found = sha256(repr(row).encode())
    for _, _, data in photos:
        found.update(sha256(data).digest())
    return found.hexdigest()[:32]


def _place(out: Path, row: Row) -> Path:
    return out / SURVEYS / f"{sha256(row.number.encode()).hexdigest()[:16]}.json"


def _keep(out: Path, row: Row, mark: str, found: Done) -> None:
    """The pictures first, the word that they are there last."""
    for name, data in found.files.items():
        if not (out / name).exists():
            write_whole(out / name, data)
    told = {
        "of": mark,
        "record": json.loads(found.record),
        "files": sorted(found.files),
        "notes": found.notes,
    }
    write_whole(_place(out, row), json.dumps(told).encode())


def _told(out: Path, row: Row) -> _Kept | None:
    """What an earlier run has kept of a board; None if there is nothing, or nothing that can be used."""
    try:
        return _Kept.model_validate_json(_place(out, row).read_bytes())
    except (OSError, ValueError):
        return None


def _is_done(out: Path, row: Row, mark: str) -> bool:
    told = _told(out, row)
    return told is not None and told.of == mark and all(_is_there(out, name) for name in told.files)


def _is_there(out: Path, name: str) -> bool:
    try:
        return (out / name).is_file()
    except (OSError, ValueError):  # a name that no file can have
        return False


def _into_job(out: Path, rows: Sequence[Row]) -> None:
    """All boards done, in the order of the list, into the job; one the job knows already is left as it is."""
    folder = JobFolder.begun(out, Job(name=out.resolve().name))

    def boards(session: Session) -> list[Step]:
        # Under the lock: another program may have surveyed the same yard meanwhile.
        job = session.job
        known = {board.id for board in job.boards}
        told = [_told(out, row) for row in rows if row.number not in known]
        fresh = tuple(one.record for one in told if one is not None)
        after = job.model_copy(update={"boards": (*job.boards, *fresh)})
        label = f"survey {counted(len(fresh), 'board')}"
        return [Step(Action.EDIT, edit_between(job, after, label))] if fresh else []

    for note in folder.take(boards).notes:
        raise JobError(note)
