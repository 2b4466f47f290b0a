"""A program killed at any moment loses nothing that was answered, and leaves a job that opens."""

import contextlib
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.robust.jobs import files_of_full_job, full_job
from tests.robust.sizes import ROUND, few_or_many, seeded
from tests.robust.stage import digest
from ui.disk import PART
from ui.files import JOURNAL, LONGEST_JOURNAL, JobFolder
from ui.jobfile import job_from
from ui.session import Action, Step
from ui.spare import BEFORE, SPOILED

ROOT = Path(__file__).resolve().parents[2]


@dataclass
class Told:
    """What a worker said before it was gone."""

    acked: int = -1
    digest: str = ""
    may_reach: int = -1
    steps: int = 0
    faults: list[str] = field(default_factory=list)


@contextlib.contextmanager
def stage(folder: Path) -> Iterator[subprocess.Popen[str]]:
    program = subprocess.Popen(
        [sys.executable, "-m", "tests.robust.stage", str(folder)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert program.stdout is not None
        assert program.stdout.readline() == "ready\n"
        yield program
    finally:
        program.kill()
        program.communicate()


def killed_once(program: subprocess.Popen[str], seed: int, chance: random.Random) -> Told:
    """Let a worker run and be killed: from outside after a while, or by its own hand at a disk call."""
    assert program.stdin is not None
    assert program.stdout is not None
    own_hand = chance.random() < 0.6
    program.stdin.write(f"{seed} {int(1 + 300 * chance.random() ** 2) if own_hand else 0}\n")
    program.stdin.flush()
    told = Told()
    timer = None
    for line in program.stdout:
        word, *rest = line.split()
        if word == "pid" and not own_hand:
            timer = threading.Timer(0.02 + 1.2 * chance.random(), _kill, (int(rest[0]),))
            timer.start()
        elif word == "try":
            told.may_reach = int(rest[1])
        elif word == "ack":
            told.acked, told.digest, told.steps = int(rest[0]), rest[1], told.steps + 1
        elif word == "fault":
            told.faults.append(line)
        elif word == "end":
            break
    if timer is not None:
        timer.cancel()
    return told


def _kill(worker: int) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.kill(worker, signal.SIGKILL)


@few_or_many(6, 240)
def test_nothing_answered_is_lost(cases: int, tmp_path: Path) -> None:
    path = tmp_path / "job"
    folder = JobFolder.created(path, full_job(), files_of_full_job())
    chance = seeded(51)
    known = Told(acked=folder.job().revision, digest=digest(folder.job()))
    steps = 0
    with stage(path) as program:
        for kill in range(cases):
            told = killed_once(program, 1000 * ROUND + kill, chance)
            assert not told.faults, told.faults
            steps += told.steps
            if chance.random() < 0.3 and (path / BEFORE).exists():
                spoilt(path / "job.json")
            job = folder.job()
            (path / SPOILED).unlink(missing_ok=True)
            text = (path / "job.json").read_bytes()
            assert digest(job_from(text)) == digest(job), "job.json is not what the journal says"
            last = told if told.acked >= 0 else known
            assert job.revision >= last.acked, f"kill {kill}: an answered step is gone"
            assert job.revision <= max(told.may_reach, last.acked), f"kill {kill}: steps nobody asked for"
            if job.revision == last.acked:
                assert digest(job) == last.digest, f"kill {kill}: the job is not as answered"
            known = Told(acked=job.revision, digest=digest(job))
    print(f"{cases} kills, {steps} steps answered, none lost")
    assert steps > cases, "the workers did nothing"
    everything_is_whole(path)
    undone_and_done_again(folder)
    nothing_is_left_over(folder)


def spoilt(job: Path) -> None:
    """A disk loses the file on top of the kill; the second copy must be another one."""
    job.unlink()
    job.write_bytes(bytes(512))


def everything_is_whole(path: Path) -> None:
    """Every file of the job, its exports among them, is complete; only hidden parts may not be."""
    for file in path.rglob("*"):
        if file.is_dir() or file.name.startswith("."):
            continue
        data = file.read_bytes()
        assert data, f"{file.name} is empty"
        if file.suffix == ".png":
            assert data.endswith(b"IEND\xaeB`\x82"), file.name
        elif file.suffix == ".pdf":
            assert data.rstrip().endswith(b"%%EOF"), file.name
        elif file.suffix == ".svg":
            assert data.rstrip().endswith(b"</svg>"), file.name
        elif file.suffix in (".json", ".geojson"):
            json.loads(data)
    for board in job_from((path / "job.json").read_bytes()).boards:
        if board.front is not None and board.front.photo is not None and board.id != "1":
            assert len((path / board.front.photo).read_bytes()) == 20_000, (
                "a board names a photo that is not whole"
            )


def undone_and_done_again(folder: JobFolder) -> None:
    """All that is in the undo list can be taken back and done again, step by step, after all those kills."""
    session = folder.session()
    start = digest(session.job.model_copy(update={"revision": 0}))
    depth = len(session.done)
    assert depth > 0
    back = folder.take(lambda _: [Step(Action.UNDO)] * depth)
    assert back.notes == ()
    forth = folder.take(lambda _: [Step(Action.REDO)] * depth)
    assert forth.notes == ()
    assert digest(forth.job.model_copy(update={"revision": 0})) == start


def nothing_is_left_over(folder: JobFolder) -> None:
    """An hour later the parts and the photos that kills left behind are swept."""
    old = time.time() - 7200
    for file in folder.path.rglob("*"):
        os.utime(file, (old, old))
    folder.sweep()
    for area in (folder.path, folder.path / "photos", folder.path / "pictures"):
        assert [file.name for file in area.glob(f".*{PART}")] == []
    named = (folder.path / "job.json").read_bytes() + (folder.path / JOURNAL).read_bytes()
    stray = [file.name for file in (folder.path / "photos").glob("*") if file.name.encode() not in named]
    assert stray == []


def test_the_journal_does_not_grow_without_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    most = 100_000
    assert most < LONGEST_JOURNAL
    monkeypatch.setattr("ui.files.LONGEST_JOURNAL", most)
    monkeypatch.setattr("ui.disk.os.fsync", lambda _: None)  # hundreds of writes; forced or not is not asked
    folder = JobFolder.created(tmp_path / "job", full_job())
    from tests.robust.stage import _judge, _mark, _undo

    chance = random.Random(5)
    sizes = []
    for number in range(300):
        chance.choice((_mark, _judge, _judge, _undo))(folder, chance, str(number))
        sizes.append((folder.path / JOURNAL).stat().st_size)
    assert max(sizes) < most * 1.2
    assert min(sizes[150:]) < most * 0.7, "it was never shortened"
    from ui import files

    remembered = folder.session()
    files._CACHE.clear()
    again = folder.session()
    assert (again.job, again.done, again.undone) == (remembered.job, remembered.done, remembered.undone)
    undone_and_done_again(folder)
