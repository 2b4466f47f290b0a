"""What the command offers beside the survey of one plain photograph."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.ui.tiny_job import PHOTO_CORNERS, photo_of_a_board
from ui.cli import main
from ui.face_records import Tick
from ui.files import JobFolder

Run = Callable[..., tuple[int, str, str]]
SIZE = ("--length", "1000", "--width", "210")


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    def call(*words: object) -> tuple[int, str, str]:
        status = main(["survey", *(str(word) for word in words)])
        told = capsys.readouterr()
        return status, told.out, told.err

    return call


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    path = tmp_path / "plank.jpg"
    path.write_bytes(photo_of_a_board())
    return path


def test_the_marker_sheet_is_written_without_a_photo(run: Run, tmp_path: Path) -> None:
    status, told, _ = run("--marker-sheet", tmp_path / "sheet.pdf")
    assert status == 0
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert "print it at 100 %" in told
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.pdf"]


def test_a_board_photographed_on_its_back_alone_has_a_back(
    run: Run, photo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ui.survey.suggest_marks", lambda *_, **__: ())
    corners = [f"{x},{y}" for x, y in PHOTO_CORNERS]
    status, told, error = run(
        photo, *SIZE, "--face", "back", "--corners", *corners, "--out", tmp_path / "new", "--json"
    )
    assert status == 0, error
    assert list(json.loads(told)["faces"]) == ["back"]
    board = JobFolder(tmp_path / "new").job().board("1")
    assert board.front is None
    assert board.back is not None
    assert board.back.corners_px == tuple(PHOTO_CORNERS)


def test_a_waney_board_is_surveyed_with_the_widths_along_it(
    run: Run, photo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ui.survey.suggest_marks", lambda *_, **__: ())
    corners = ["--corners", *(f"{x},{y}" for x, y in PHOTO_CORNERS)]
    taken = (photo, "--length", "1000", "--waney", *corners, "--out", tmp_path / "new")
    status, _, error = run(*taken, "--width", "210/209/210")
    assert status == 0, error
    board = JobFolder(tmp_path / "new").job().board("1")
    assert board.waney
    assert board.widths == ((0.0, 210.0), (500.0, 209.0), (1000.0, 210.0))
    assert board.front is not None
    assert len(board.front.outline_mm or ()) > 4


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--width", "210", "--waney"), "read its width at both ends"),
        (("--width", "210/209", "--waney", "--one-face"), "read its width at 3 places or more"),
        (("--width", "210//209"), "the taped width"),
    ],
)
def test_what_a_waney_board_cannot_be_surveyed_by_is_said(
    run: Run,
    photo: Path,
    tmp_path: Path,
    words: tuple[str, ...],
    told: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    photos = (photo, photo) if "--one-face" in words else (photo,)
    try:
        status, _, error = run(*photos, "--length", "1000", *words, "--out", tmp_path / "new")
    except SystemExit as usage:  # a mistyped number
        status, error = int(usage.code or 0), capsys.readouterr().err
    assert status == 2
    assert told in error
    assert not (tmp_path / "new").exists()


def test_the_answer_holds_ticks_the_error_along_and_a_rough_check(
    run: Run, photo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ui.survey.suggest_marks", lambda *_, **__: ())
    corners = [f"{x},{y}" for x, y in PHOTO_CORNERS]
    card = ["300,350", "410,350", "410,420", "300,420"]  # about 86 x 52 mm
    more = ("--check-with", "card", "--check-corners", *card, "--tick", "790,430=500", "--json")
    status, told, error = run(photo, *SIZE, "--corners", *corners, *more, "--out", tmp_path / "new")
    assert status == 0, error
    front = json.loads(told)["faces"]["front"]
    assert front["error_mm"] >= max(place["along"] for place in front["error_along_mm"]) - 0.01
    assert (front["error_along_mm"][0]["x"], front["error_along_mm"][-1]["x"]) == (0, 1000)
    assert "bank card" in front["rough_check"]["message"]
    assert (front["rough_check"]["message"] in front["notes"]) is not front["rough_check"]["agrees"]
    kept = JobFolder(tmp_path / "new").job().board("1").front
    assert kept is not None
    assert kept.ticks == (Tick(at_px=(790, 430), reading=500),)
    assert kept.error_along[-1][0] == 1000


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--out", "out"), "give the photo of the board"),
        (("plank.jpg", *SIZE), "give --out"),
        (("plank.jpg", *SIZE, "--one-face", "--out", "out"), "--one-face takes two photos or more"),
        (("plank.jpg",) * 3 + (*SIZE, "--out", "out"), "add --one-face"),
        (("plank.jpg",) * 2 + (*SIZE, "--face", "back", "--out", "out"), "--face takes the photo of that"),
        (("plank.jpg", *SIZE, "--tick", "100,20", "--out", "out"), "tick '100,20': give its place"),
        (("plank.jpg", *SIZE, "--tick", "100=20", "--out", "out"), "tick '100=20': give its place"),
        (("plank.jpg", *SIZE, "--check-with", "A4", "--out", "out"), "go together"),
        (("--learn-lens", "8", "5"), "give the photos of the marker sheet"),
        (("--learn-lens", "8", "5", "plank.jpg"), "of the marker sheet"),
    ],
)
def test_wrong_words_get_one_line(
    run: Run, photo: Path, words: tuple[str, ...], says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(photo.parent)
    status, told, error = run(*words)
    assert (status, told, error.count("\n")) == (2, "", 1)
    assert says in error
    assert not (photo.parent / "out").exists()


@pytest.mark.parametrize("name", ["nowhere", "x" * 5000, "nul\0"])
def test_a_name_with_a_slip_is_told_of_before_what_was_left_out(run: Run, tmp_path: Path, name: str) -> None:
    """A folder needs no tape readings: whoever mistypes its name must not be asked for them."""
    status, _, error = run(tmp_path / name, "--out", tmp_path / "job")
    assert status == 2
    assert name in error
    assert "--length" not in error
