"""The command: what it answers, what it leaves on disk, and one clear line for wrong input."""

import json
import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pypdfium2 import PdfDocument

from layout.placement import Layout, Unplaced
from tests.ui.tiny_job import photo_of_a_board, tiny_job_folder
from ui.cli import main
from ui.files import JobFolder

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(*words: object) -> tuple[int, str, str]:
        status = main([str(word) for word in words])
        told = capsys.readouterr()
        return status, told.out, told.err

    return call


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return tiny_job_folder(tmp_path / "job").path


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    path = tmp_path / "plank.jpg"
    path.write_bytes(photo_of_a_board())
    return path


def everything(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_survey_makes_a_job_of_a_photo(run: Run, photo: Path, tmp_path: Path) -> None:
    out = tmp_path / "new"
    status, told, _ = run("survey", photo, "--length", "1000", "--width", "210", "--out", out, "--json")
    assert status == 0
    answer = json.loads(told)
    assert answer["board"] == "1"
    board = JobFolder(out).job().board("1")
    assert board.front is not None
    assert board.front.picture is not None
    assert (out / board.front.picture).is_file()
    knots = [mark for mark in board.marks if "knot" in mark.kind.value]
    assert any(620 < sum(x for x, _ in mark.outline) / len(mark.outline) < 660 for mark in knots)


def test_survey_adds_a_second_board_to_a_job(run: Run, photo: Path, tmp_path: Path) -> None:
    out = tmp_path / "new"
    for _ in range(2):
        assert run("survey", photo, "--length", '39 3/8"', "--width", "210", "--out", out)[0] == 0
    assert [board.id for board in JobFolder(out).job().boards] == ["1", "2"]


def test_plan_keeps_a_layout_the_verifier_accepts(run: Run, job: Path) -> None:
    status, told, _ = run("plan", job, "--iterations", "20", "--json")
    answer = json.loads(told)
    assert (status, answer["parts_placed"], answer["violations"]) == (0, 3, [])
    assert run("check", job)[0] == 0


def test_a_worse_plan_does_not_take_the_place_of_a_better_one(
    run: Run, job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("plan", job, "--iterations", "20")
    present = JobFolder(job).job().layout
    nothing = Layout(
        unplaced=tuple(
            Unplaced(part.name, copy, "not tried")
            for part in JobFolder(job).job().parts
            for copy in range(1, part.quantity + 1)
        )
    )
    monkeypatch.setattr("ui.chain.planned", lambda *_, **__: nothing)
    status, told, _ = run("plan", job)
    assert status == 0
    assert "the present one stays" in told
    assert JobFolder(job).job().layout == present


def test_plan_with_another_cutting_list(run: Run, job: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name,quantity,length,width,thickness\nstrip,2,300,40,20\n")
    assert run("plan", job, "--parts", path, "--iterations", "5")[0] == 0
    assert [part.name for part in JobFolder(job).job().parts] == ["strip"]


def test_plan_accepts_suggestions_only_when_told_to(run: Run, job: Path) -> None:
    run("plan", job, "--iterations", "5")
    assert len(JobFolder(job).job().board("1").board().defects) == 1
    run("plan", job, "--iterations", "5", "--accept", "0.8")
    assert len(JobFolder(job).job().board("1").board().defects) == 2


def test_sheets_writes_pictures_and_tables(run: Run, job: Path, tmp_path: Path) -> None:
    status, told, _ = run("sheets", job, "--out", tmp_path / "out", "--json")
    names = {Path(path).name for path in json.loads(told)["files"]}
    assert status == 0
    assert {"parts.csv", "cuts.csv", "board-1-front.png", "board-1-back.svg"} <= names
    assert all((tmp_path / "out" / name).stat().st_size > 0 for name in names)


def test_sheets_for_a_phone_and_on_letter_paper_when_asked(run: Run, job: Path, tmp_path: Path) -> None:
    run("sheets", job, "--out", tmp_path / "a4")
    run("sheets", job, "--out", tmp_path / "letter", "--paper", "Letter", "--upright")
    more = {path.name for path in (tmp_path / "letter").iterdir()} - {
        path.name for path in (tmp_path / "a4").iterdir()
    }
    assert more == {"board-1-front-upright.jpg", "board-1-back-upright.jpg"}
    sizes = [sorted(PdfDocument(tmp_path / each / "sheets.pdf")[0].get_size()) for each in ("a4", "letter")]
    assert sizes[0] == pytest.approx([595.3, 841.9], abs=0.1)
    assert sizes[1] == pytest.approx([612, 792], abs=0.1)


def test_check_answers_1_and_says_what_is_wrong(run: Run, job: Path) -> None:
    text = (job / "job.json").read_text().replace('"x": 20.0', '"x": 100.0')
    (job / "job.json").write_text(text)
    status, told, _ = run("check", job, "--json")
    assert status == 1
    assert json.loads(told)["violations"]


def test_schema_is_a_json_schema(run: Run) -> None:
    status, told, _ = run("schema", "--json")
    assert status == 0
    assert "boards" in json.loads(told)["properties"]


def bomb(width: int, height: int) -> bytes:
    """A PNG that says it has so many pixels, in a few bytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("notes.jpg", b"these are notes", "not a picture"),
        ("cut.jpg", photo_of_a_board()[:9000], "cut off or damaged"),
        ("bomb.png", bomb(10_000, 10_000), "the most is 80 million"),
        ("empty.jpg", b"", "is empty"),
    ],
)
def test_a_bad_picture_gets_one_line(run: Run, tmp_path: Path, name: str, data: bytes, says: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    status, told, error = run("survey", path, "--length", "1000", "--width", "210", "--out", tmp_path / "out")
    assert (status, told, error.count("\n")) == (2, "", 1)
    assert name in error
    assert says in error
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--length", "0", "--width", "210"), "the taped length is 0"),
        (("--length", "1000", "--width", "wide"), "the taped width: 'wide' is not a length"),
        (("--length", "1000"), "--width"),
        (("--length", "1000", "--width", "210", "--corners", "1,2", "3,4", "5,6", "x"), "corner 'x'"),
    ],
)
def test_a_bad_reading_gets_one_line(
    run: Run, photo: Path, tmp_path: Path, words: tuple[str, ...], says: str
) -> None:
    status, told, error = run("survey", photo, *words, "--out", tmp_path / "out")
    assert (status, told, error.count("\n")) == (2, "", 1)
    assert says in error
    assert not (tmp_path / "out").exists()


def _newer(raw: dict[str, Any]) -> None:
    raw["version"] = 99


def _word(raw: dict[str, Any]) -> None:
    raw["parts"][0]["width"] = "wide"


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (_newer, "written by a newer clearface"),
        (_word, "part 1 'rail': width is 'wide'; give a number in mm"),
    ],
)
@pytest.mark.parametrize("verb", ["plan", "sheets", "check"])
def test_a_job_that_can_not_be_right_gets_one_line(
    run: Run, job: Path, verb: str, spoil: Callable[[dict[str, Any]], None], says: str, tmp_path: Path
) -> None:
    raw = json.loads((job / "job.json").read_text())
    spoil(raw)
    (job / "job.json").write_text(json.dumps(raw))
    before = everything(job)
    more = ("--out", tmp_path / "out") if verb == "sheets" else ()
    status, told, error = run(verb, job, *more)
    assert (status, told, error.count("\n")) == (2, "", 1)
    assert says in error
    assert everything(job) == before
    assert not (tmp_path / "out").exists()


def test_a_word_for_a_number_in_the_cutting_list_gets_one_line(run: Run, job: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name,length,width,thickness\nside,500,wide,20\n")
    before = everything(job)
    status, _, error = run("plan", job, "--parts", path)
    assert status == 2
    assert error == f"clearface: {path}: row 1, width: 'wide' is not a length; " + error.split("; ", 1)[1]
    assert everything(job) == before


def test_a_part_longer_than_every_board_gets_one_line(run: Run, job: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name,length,width,thickness\nbeam,1500,60,20\n")
    before = everything(job)
    status, told, error = run("plan", job, "--parts", path)
    assert (status, told, error.count("\n")) == (2, "", 1)
    assert "part 'beam' is 1500 mm long, sawn 1510 mm; the longest board has 1000 mm" in error
    assert everything(job) == before


def test_a_part_too_wide_is_unplaced_with_its_reason(run: Run, job: Path, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name,length,width,thickness\nslab,500,300,20\n")
    status, told, _ = run("plan", job, "--parts", path, "--iterations", "5", "--json")
    answer = json.loads(told)
    assert (status, answer["parts_placed"], len(answer["unplaced"])) == (0, 0, 1)
    assert answer["unplaced"][0]["reason"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("plan", "nowhere"), "there is no job here"),
        (("check", "nowhere"), "there is no job here"),
        (("plan",), "JOB"),
        (("saw", "job"), "saw"),
        (("plan", "job", "--seconds", "soon"), "seconds is 'soon'; give a number"),
        (("open", "nowhere", "--no-browser"), "there is no job here"),
        (("survey", "nowhere.jpg", "--length", "9", "--width", "9", "--out", "out"), "there is no such file"),
    ],
)
def test_wrong_words_get_one_line(
    run: Run, words: tuple[str, ...], says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))
    status, told, error = run(*words)
    assert (status, told, error.count("\n")) == (2, "", 1)
    assert says in error
    assert list(tmp_path.iterdir()) == []


def test_a_full_folder_is_left_alone(run: Run, photo: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("dear")
    status, _, error = run("survey", photo, "--length", "1000", "--width", "210", "--out", tmp_path / "out")
    assert status == 2
    assert "neither new nor a job" in error
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["letter.txt"]
