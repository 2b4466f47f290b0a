"""A yard surveyed by many processes: done stays done, what can't be is named, a stopped run goes on."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layout.stock import Face, Price
from tests.ui.tiny_job import photo_of_a_board
from ui.catalogue import Done, catalogued, cores, dask_workers
from ui.cli import main
from ui.files import JobFolder, kept_in
from ui.jobfile import BoardRecord, FaceRecord, JobError
from ui.phones import PhoneLens, lens_kept, lenses_kept
from ui.survey import photo_from
from ui.yard_list import Row, rows_of
from vision.lens import Lens, LensPrior
from vision.photo import Photo

HEAD = "number,length,width,thickness,species,price,front,back"


class AtOnce(Executor):
    """Does the work on the spot; stops as if killed when it has done enough."""

    def __init__(self, most: int = 1000) -> None:
        self.done = 0
        self.most = most

    def submit(self, work: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        if self.done >= self.most:
            raise KeyboardInterrupt
        self.done += 1
        future: Future[Any] = Future()
        try:
            future.set_result(work(*given, **named))
        except JobError as error:
            future.set_exception(error)
        return future


@pytest.fixture(scope="module")
def photo() -> bytes:
    return photo_of_a_board()


@pytest.fixture
def yard(tmp_path: Path, photo: bytes) -> Path:
    folder = tmp_path / "yard"
    folder.mkdir()
    (folder / "front.jpg").write_bytes(photo)
    (folder / "words.jpg").write_bytes(b"no picture")
    listed(folder, "A1,1000,210,27,oak,40,front.jpg,", "A2,1000,210,34,ash,55.50,front.jpg,")
    return folder


def quick_row(row: Row, photos: Sequence[tuple[Face, str, bytes]], lenses: Sequence[PhoneLens] = ()) -> Done:
    """A board without the looking: the photo kept as its picture."""
    del lenses
    record = BoardRecord(
        id=row.number, length=row.length, widths=((0, row.width),), thickness=row.thickness,
        species=row.species, price=Price(row.price),
    )  # fmt: skip
    files: dict[str, bytes] = {}
    for face, name, data in photos:
        photo_from(data, name)
        kept = kept_in(files)("photos", data + row.number.encode(), ".jpg")
        record = record.model_copy(update={face.value: FaceRecord(photo=kept, picture=kept)})
    return Done(record.model_dump_json(), files)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ui.catalogue.surveyed_row", quick_row)


def listed(folder: Path, *rows: str) -> None:
    (folder / "boards.csv").write_text("\n".join((HEAD, *rows)) + "\n")


@pytest.mark.usefixtures("quick")
def test_every_board_comes_into_one_job(yard: Path, tmp_path: Path) -> None:
    found = catalogued(yard, tmp_path / "out", AtOnce(), 4)
    assert (found.done, found.before, found.problems) == (("A1", "A2"), (), ())
    job = JobFolder(tmp_path / "out").job()
    assert [(board.id, board.species, board.price.amount) for board in job.boards] == [
        ("A1", "oak", 40.0),
        ("A2", "ash", 55.5),
    ]
    front = job.boards[1].front
    assert front is not None
    assert front.picture is not None
    assert JobFolder(tmp_path / "out").read(front.picture)[:2] == b"\xff\xd8"


@pytest.mark.usefixtures("quick")
def test_two_programs_on_one_yard_do_not_trip_over_each_other(yard: Path, tmp_path: Path) -> None:
    """The other does the whole yard while the first is at its first board."""

    def begun_again(line: str) -> None:
        if line.startswith("board A1"):
            assert catalogued(yard, tmp_path / "out", AtOnce(), 4).problems == ()

    found = catalogued(yard, tmp_path / "out", AtOnce(), 1, begun_again)
    assert found.problems == ()
    assert [board.id for board in JobFolder(tmp_path / "out").job().boards] == ["A1", "A2"]


def test_the_phones_known_here_are_known_to_every_worker(
    yard: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))
    lens_kept(Photo(np.zeros((9, 16, 3), np.uint8), 26.0), LensPrior(Lens((7.5, 4.0), 12.0, -0.02)))
    told: list[Sequence[PhoneLens]] = []

    def seen(row: Row, photos: Sequence[tuple[Face, str, bytes]], lenses: Sequence[PhoneLens] = ()) -> Done:
        told.append(lenses)
        return quick_row(row, photos)

    monkeypatch.setattr("ui.catalogue.surveyed_row", seen)
    catalogued(yard, tmp_path / "out", AtOnce(), 4)
    assert told == [lenses_kept()] * 2
    assert len(told[0]) == 1


@pytest.mark.usefixtures("quick")
def test_a_stopped_run_goes_on_and_does_nothing_twice(yard: Path, tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        catalogued(yard, tmp_path / "out", AtOnce(most=1), 1)
    workers = AtOnce()
    found = catalogued(yard, tmp_path / "out", workers, 1)
    assert (found.done, found.before, workers.done) == (("A2",), ("A1",), 1)
    again = catalogued(yard, tmp_path / "out", AtOnce(most=0), 1)
    assert again.before == ("A1", "A2")
    assert len(JobFolder(tmp_path / "out").job().boards) == 2


@pytest.mark.usefixtures("quick")
def test_a_board_that_can_not_be_is_named_and_the_others_go_on(yard: Path, tmp_path: Path) -> None:
    listed(
        yard,
        "A1,1000,210,27,oak,40,front.jpg,",
        "A3,1000,210,27,oak,40,words.jpg,",
        "A4,1000,210,27,oak,40,gone.jpg,",
        "A5,1000,210,27,oak,40,../secret.jpg,",
    )
    (tmp_path / "secret.jpg").write_bytes(b"x")
    found = catalogued(yard, tmp_path / "out", AtOnce(), 4)
    assert found.done == ("A1",)
    reasons = dict(problem.removeprefix("board ").split(": ", 1) for problem in found.problems)
    assert "not a picture" in reasons["A3"]
    assert "no such file" in reasons["A4"]
    assert "outside" in reasons["A5"]
    (yard / "gone.jpg").write_bytes((yard / "front.jpg").read_bytes())
    assert catalogued(yard, tmp_path / "out", AtOnce(), 4).done == ("A4",)
    assert [board.id for board in JobFolder(tmp_path / "out").job().boards] == ["A1", "A4"]


@pytest.mark.usefixtures("quick")
def test_what_the_maker_has_marked_since_is_left_alone(yard: Path, tmp_path: Path) -> None:
    catalogued(yard, tmp_path / "out", AtOnce(), 4)
    revision = JobFolder(tmp_path / "out").job().revision
    listed(yard, "A1,1000,210,27,oak,99,front.jpg,", "A2,1000,210,34,ash,55.50,front.jpg,")
    assert catalogued(yard, tmp_path / "out", AtOnce(), 4).done == ("A1",)
    job = JobFolder(tmp_path / "out").job()
    assert (job.boards[0].price.amount, job.revision) == (40.0, revision)


@pytest.mark.usefixtures("quick")
def test_a_long_run_is_not_swept_away_before_it_is_a_job(yard: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    with pytest.raises(KeyboardInterrupt):
        catalogued(yard, out, AtOnce(most=1), 1)
    for path in out.rglob("*"):
        os.utime(path, (time.time() - 9000,) * 2)
    catalogued(yard, out, AtOnce(), 1)
    for board in JobFolder(out).job().boards:
        assert board.front is not None
        assert (out / str(board.front.photo)).is_file()
        assert (out / str(board.front.picture)).is_file()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        ("number,length\n1,2\n", "the column 'width' is missing"),
        (HEAD + "\n1,1000,,27,oak,40,a.jpg,\n", "row 1: width is empty"),
        (HEAD + "\n1,long,200,27,oak,40,a.jpg,\n", "row 1, length: 'long' is not a length"),
        (HEAD + "\n1,30 m,200,27,oak,40,a.jpg,\n", "at most 20 m"),
        (HEAD + "\n1,1000,200,27,oak,-1,a.jpg,\n", "price is -1"),
        (HEAD + "\n1,1000,200,27,oak,nan,a.jpg,\n", "price is nan"),
        (HEAD + "\n1,1000,200,27,oak,dear,a.jpg,\n", "row 1: price is 'dear'; give a number"),
        (HEAD + ",turned\n1,1000,200,27,oak,1,a.jpg,,over\n", "turned is 'over'; give rolled or tumbled"),
        (HEAD + "\n1,1000,200,27,oak,1,a.jpg,\n1,1000,200,27,oak,1,a.jpg,\n", "stands there twice"),
        (HEAD + "\n" + "1,1,1,1,oak,1,a.jpg,\n" * 5001, "the most is 5000"),
        (HEAD + "\n" + "x" * 200_000, "not a table"),
    ],
)
def test_a_list_that_can_not_be_right_is_named_at_its_place(text: str, said: str) -> None:
    with pytest.raises(JobError, match=said):
        rows_of(text)


def test_lengths_are_read_as_everywhere() -> None:
    assert rows_of('number;length;width;front\n7;1,2 m;8";a.jpg\n') == (Row("7", 1200.0, 203.2, "a.jpg"),)


def test_the_command_uses_two_processes(
    yard: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = str(tmp_path / "out")
    assert main(["survey", str(yard), "--out", out, "--workers", "2", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert sorted(told["done"]) == ["A1", "A2"]
    listed(yard, "A1,1000,210,27,oak,40,words.jpg,")
    assert main(["survey", str(yard), "--out", out, "--workers", "1"]) == 2
    assert "board A1: words.jpg: this is not a picture" in capsys.readouterr().err


def test_two_workers_of_a_cluster(yard: Path, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
        ) as cluster,
        dask_workers(cluster.scheduler_address) as (workers, threads),
    ):
        assert threads == 2
        found = catalogued(yard, tmp_path / "out", workers, 4)
    assert sorted(found.done) == ["A1", "A2"]
    assert found.problems == ()


def test_a_cluster_that_does_not_answer_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    with pytest.raises(JobError, match="no cluster answers"), dask_workers("no address"):
        pass


def test_no_process_outlives_the_program_that_was_killed() -> None:
    program = subprocess.Popen(
        [sys.executable, "-c", KILLED], cwd=Path(__file__).parents[2], stdout=subprocess.PIPE, text=True
    )
    assert program.stdout is not None
    workers = [int(word) for word in program.stdout.readline().split()]
    assert len(workers) == 2
    assert all(is_alive(worker) for worker in workers)
    program.kill()
    program.wait()  # not for its output, which its workers hold open as long as they live
    until = time.monotonic() + 30
    while time.monotonic() < until and any(is_alive(worker) for worker in workers):
        time.sleep(0.05)
    left = [worker for worker in workers if is_alive(worker)]
    for worker in left:
        os.kill(worker, signal.SIGKILL)
    program.stdout.close()
    assert left == [], "a worker goes on for nobody"


KILLED = """
import multiprocessing, time
from ui.catalogue import cores
if __name__ == "__main__":
    with cores(2) as pool:
        for slept in [pool.submit(time.sleep, 0.3) for _ in range(2)]:
            slept.result()
        print(*(child.pid for child in multiprocessing.active_children()), flush=True)
        time.sleep(60)
"""


def is_alive(worker: int) -> bool:
    """Whether a process is there and more than a name that nobody has asked after."""
    try:
        return Path(f"/proc/{worker}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def test_processes_are_as_many_as_asked_for() -> None:
    with cores(2) as pool:
        assert pool.submit(abs, -3).result() == 3
