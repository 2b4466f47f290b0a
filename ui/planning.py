"""Planning in a process of its own, so that the page stays quick and a stop is a stop.

``python -m ui.planning FOLDER SECONDS SEED`` plans the job in a folder, writes
how it goes to planning.json there, and puts the layout into the job itself: a
page that was closed meanwhile finds it when it is opened again.
"""

import json
import os
import subprocess
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from layout.placement import Layout
from layout.solve.plan import Progress
from ui import chain, files
from ui.changes import edit_between
from ui.files import JobFolder, write_whole
from ui.jobfile import Job, JobError, boards_of
from ui.outputs import face_looks
from ui.session import Ask

__all__ = ["Planning", "main", "planning", "start", "stop", "worse"]

STATE, STOP = "planning.json", ".stop-planning"
_SILENT = 20.0  # seconds without a sign of life after which a plan counts as dead


@dataclass(frozen=True)
class Planning:
    """How a plan goes.

    Parameters
    ----------
    running : bool
    seconds, limit : float
        Since it began, and the most it takes [s].
    placed, wanted : int
        Copies of parts.
    cost : float
        Of the best so far [money].
    error : str
        Why it came to nothing.
    note : str
        What else is to be said of it.
    sketch : tuple of (str, str, float, float)
        Board, part, x and y of the pieces of the best so far [mm].
    """

    running: bool
    seconds: float = 0.0
    limit: float = 10.0
    placed: int = 0
    wanted: int = 0
    cost: float = 0.0
    error: str = ""
    note: str = ""
    sketch: tuple[tuple[str, str, float, float], ...] = ()


_CHILDREN: dict[Path, "subprocess.Popen[bytes]"] = {}


def start(folder: JobFolder, seconds: float, seed: int) -> None:
    """Begin to plan, unless a plan is being made already."""
    if planning(folder).running:
        return
    _let_go(folder)
    (folder.path / STOP).unlink(missing_ok=True)
    _tell(folder, Planning(True, limit=seconds))
    _CHILDREN[folder.path] = subprocess.Popen(
        [sys.executable, "-m", "ui.planning", str(folder.path), str(seconds), str(seed)],
        cwd=Path(files.__file__).resolve().parent.parent,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def stop(folder: JobFolder) -> None:
    """Ask a plan to end with the best it has."""
    write_whole(folder.path / STOP, b"")


def planning(folder: JobFolder) -> Planning:
    """How the plan of a job goes, or went."""
    path = folder.path / STATE
    try:
        raw: dict[str, Any] = json.loads(path.read_bytes())
        found = Planning(**raw)
        silent = time.time() - path.stat().st_mtime
    except (OSError, ValueError, TypeError):
        return Planning(False)
    if found.running and (_died(folder) or silent > _SILENT):
        found = Planning(False, error="The plan was broken off. Plan again.")
        _tell(folder, found)
    if not found.running:
        _let_go(folder)
    return found


def _let_go(folder: JobFolder) -> None:
    """Wait for a child whose work is done to be gone."""
    child = _CHILDREN.pop(folder.path, None)
    if child is not None:
        try:
            child.wait(5)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait(5)


def _died(folder: JobFolder) -> bool:
    """Whether a child of this process has ended without saying so; one that has ended is let go."""
    child = _CHILDREN.get(folder.path)
    if child is None or child.poll() is None:
        return False
    del _CHILDREN[folder.path]
    return json.loads((folder.path / STATE).read_bytes()).get("running", False) is True


def main(arguments: list[str] | None = None) -> int:
    """The child process; 0 when a layout was put into the job."""
    path, seconds, seed = sys.argv[1:] if arguments is None else arguments
    folder = JobFolder(Path(path))
    diary = _Diary(folder, float(seconds))
    try:
        note = _plan(folder, diary, int(seed))
    except JobError as error:
        diary.failed(str(error))
        return 1
    except Exception as error:  # the page has to hear of it whatever it was
        diary.failed(f"A fault in the program: {type(error).__name__}: {error}")
        return 1
    diary.done(note)
    return 0


class _Diary:
    """Writes down how a plan goes."""

    def __init__(self, folder: JobFolder, limit: float) -> None:
        self.folder, self.began, self.told = folder, time.perf_counter(), 0.0
        self.last = Planning(True, limit=limit)

    def better(self, progress: Progress) -> None:
        """A better plan was found."""
        self.last = replace(
            self.last,
            placed=progress.placed,
            wanted=progress.wanted,
            cost=progress.cost,
            sketch=progress.sketch,
        )
        self._write(self.last)

    def should_stop(self) -> bool:
        """Whether the maker wants it to end; asked often, and each time a sign of life."""
        if time.perf_counter() - self.told > 0.4:
            self._write(self.last)
        return (self.folder.path / STOP).exists()

    def done(self, note: str) -> None:
        self._write(replace(self.last, running=False, note=note))

    def failed(self, why: str) -> None:
        self._write(Planning(False, limit=self.last.limit, error=why))

    def _write(self, how: Planning) -> None:
        self.told = time.perf_counter()
        _tell(self.folder, replace(how, seconds=self.told - self.began))


def _plan(folder: JobFolder, diary: _Diary, seed: int) -> str:
    """Plan, ask the verifier, keep the layout if it is the better one; what is to be said of it."""
    before = folder.job()
    layout = chain.planned(
        before,
        seconds=diary.last.limit,
        seed=seed,
        looks=face_looks(before, folder.read),
        on_progress=diary.better,
        should_stop=diary.should_stop,
    )
    after = before.model_copy(update={"layout": layout})
    wrong = chain.checked(after)
    if wrong:
        raise JobError(f"The verifier rejects the plan: {wrong[0].message}")
    if worse(before, after):
        return "No better plan was found in this time; the present one stays."
    _keep(folder, before, after)
    return ""


def worse(before: Job, after: Job) -> bool:
    """Whether the job's present layout still holds and does more, or as much for less money."""
    present, fresh = before.layout, after.layout
    if present is None or fresh is None or not present.placements or chain.checked(before):
        return False

    def badness(layout: Layout) -> tuple[int, float]:
        return len(layout.unplaced), round(layout.cost + sum(one.cost for one in layout.repairs), 2)

    return badness(fresh) > badness(present)


def _keep(folder: JobFolder, before: Job, after: Job) -> None:
    """The layout into the job, if what it was made from is still what stands there."""

    def edit(now: Job) -> Any:
        if _basis(now) != _basis(before):
            raise JobError("The job was changed while it was planned. Plan again.")
        return edit_between(now, now.model_copy(update={"layout": after.layout}), "plan")

    session = folder.take(lambda _: (Ask("", 0, edit),))
    if session.notes:
        raise JobError(session.notes[-1])


def _basis(job: Job) -> tuple[Any, ...]:
    held = [item for item in (job.layout.placements if job.layout else ()) if item.locked or item.cut]
    return boards_of(job), job.parts, job.settings, held


def _tell(folder: JobFolder, how: Planning) -> None:
    write_whole(folder.path / STATE, json.dumps(how.__dict__).encode())


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    sys.exit(main())
