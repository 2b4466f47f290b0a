"""A program that works on a job until it is killed: edits, plans and exports, each told when done.

Started once with ``python -m tests.robust.stage FOLDER``; a line ``SEED STRIKE`` on
its input forks a worker. With STRIKE above 0 the worker kills itself at that many
system calls that touch the disk (open, write to disk, rename, remove): the
moments between which a power cut would fall. What it writes on its output::

    pid 4711            a worker has started
    try 12 14           a step begins that may lead from revision 12 to as far as 14
    ack 13 <digest>     it is done, and would now be answered
    end                 the worker is gone
"""

import contextlib
import hashlib
import io
import os
import random
import signal
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from layout.outline import rectangle
from layout.stock import DefectKind, Where
from tests.builders import tiny_layout
from ui.changes import edit_between
from ui.cli import main as command
from ui.edits import Change, Edit, What, written
from ui.files import JobFolder
from ui.jobfile import BoardRecord, FaceRecord, Job, job_json
from ui.session import Action, Ask, Step
from vision.marks import Mark, MarkState

__all__ = ["digest"]

STEPS = 400


def digest(job: Job) -> str:
    """Short for everything that stands in a job."""
    return hashlib.sha256(job_json(job).encode()).hexdigest()[:16]


def _say(line: str) -> None:
    os.write(1, (line + "\n").encode())


def _work(path: Path, seed: int) -> None:
    chance = random.Random(seed)
    folder = JobFolder(path)
    for number in range(STEPS):
        kind = chance.choice(_KINDS)
        before = folder.job().revision
        _say(f"try {before} {before + 3}")
        kind(folder, chance, f"{seed}-{number}")
        job = folder.job()
        _say(f"ack {job.revision} {digest(job)}")


def _mark(folder: JobFolder, chance: random.Random, name: str) -> None:
    x, y = chance.uniform(0, 900), chance.uniform(0, 180)
    mark = Mark(name, chance.choice(list(DefectKind)), rectangle(x, y, x + 9, y + 7), Where.FRONT)
    folder.do(Edit("mark", (Change(What.MARK, name, None, written(mark), board="1"),)))


def _judge(folder: JobFolder, chance: random.Random, name: str) -> None:
    marks = folder.job().board("1").marks
    if marks:
        mark = chance.choice(marks)
        after = replace(mark, state=chance.choice(list(MarkState)), depth=chance.choice((None, 3.0)))
        change = Change(What.MARK, mark.id, written(mark), written(after), board="1")
        folder.do(Edit("judge", (change,)))


def _board(folder: JobFolder, chance: random.Random, name: str) -> None:
    job = folder.job()
    if len(job.boards) > 12:
        kept = tuple(board for board in job.boards[:2])
        folder.do(edit_between(job, job.model_copy(update={"boards": kept}), "clear the yard"))
    data = chance.randbytes(20_000)
    photo = folder.keep("photos", data, ".jpg")
    board = BoardRecord(id=name, length=2000, widths=((0, 150),), thickness=27, front=FaceRecord(photo=photo))
    job = folder.job()
    folder.do(edit_between(job, job.model_copy(update={"boards": (*job.boards, board)}), "board"))


def _part(folder: JobFolder, chance: random.Random, name: str) -> None:
    part = folder.job().parts[0]
    after = replace(part, quantity=chance.randint(1, 4), priority=chance.randint(0, 9))
    folder.do(Edit("part", (Change(What.PART, part.name, written(part), written(after)),)))


def _layout(folder: JobFolder, chance: random.Random, name: str) -> None:
    job = folder.job()
    after = job.model_copy(update={"layout": replace(tiny_layout(), seed=chance.randrange(1000))})
    folder.do(edit_between(job, after, "lay out by hand"))


def _undo(folder: JobFolder, chance: random.Random, name: str) -> None:
    actions = [chance.choice((Action.UNDO, Action.UNDO, Action.REDO)) for _ in range(chance.randint(1, 3))]
    folder.take(lambda _: [Step(action) for action in actions])


def _window(folder: JobFolder, chance: random.Random, name: str) -> None:
    """Two or three edits of a page sent at once, one of which may not fit."""

    def made(job: Job, number: int) -> Edit:
        mark = Mark(f"{name}.{number % 2}", DefectKind.STAIN, rectangle(0, 0, 5, 5 + number), Where.BACK)
        return Edit("from a page", (Change(What.MARK, mark.id, None, written(mark), board="1"),))

    asks = [
        Ask(f"page {name[0]}", number, lambda job, number=number: made(job, number))  # type: ignore[misc]
        for number in range(chance.randint(1, 3))
    ]
    folder.take(lambda _: asks)


def _command(*arguments: str) -> Callable[[JobFolder, random.Random, str], None]:
    def run(folder: JobFolder, chance: random.Random, name: str) -> None:
        words = [word.replace("JOB", str(folder.path)) for word in arguments]
        out = io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            status = command(words)
        if status == 2 and "there is no layout" not in out.getvalue():
            raise SystemExit(out.getvalue())

    return run


_KINDS = (
    *[_mark, _judge, _part, _undo, _window, _layout] * 3,
    _board,
    _board,
    _command("plan", "JOB", "--iterations", "1"),
    _command("sheets", "JOB", "--out", "JOB/sheets"),
    _command("check", "JOB"),
)


def _strike_after(calls: int) -> None:
    """Kill this process at a system call that touches the disk, as suddenly as from outside."""
    left = [calls]

    def counted(call: Callable[..., Any]) -> Callable[..., Any]:
        def wrapper(*given: Any, **named: Any) -> Any:
            left[0] -= 1
            if left[0] <= 0:
                os.kill(os.getpid(), signal.SIGKILL)
            return call(*given, **named)

        return wrapper

    for name in ("open", "fsync", "link", "replace", "rename", "unlink", "remove", "close", "chmod"):
        setattr(os, name, counted(getattr(os, name)))


def _main(path: Path) -> None:
    _say("ready")
    for line in sys.stdin:
        seed, strike = (int(word) for word in line.split())
        worker = os.fork()
        if worker == 0:
            if strike:
                _strike_after(strike)
            try:
                _work(path, seed)
            except BaseException as error:
                _say(f"fault {error!r}".replace("\n", " "))
            os._exit(0)
        _say(f"pid {worker}")
        os.waitpid(worker, 0)
        _say("end")


if __name__ == "__main__":
    _main(Path(sys.argv[1]))
