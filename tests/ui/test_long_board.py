"""A face too long for one photograph."""

import json
from pathlib import Path

import numpy as np
import pytest

from layout.stock import Face
from tests.vision.drawn import FOCAL_35MM, camera_frame, drawn_board
from ui.changes import edit_between
from ui.cli import main
from ui.face_records import FurtherPhoto, Tick
from ui.files import JobFolder
from ui.further import photos_kept
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError
from ui.long_board import surveyed_long_face
from ui.pictures import jpeg
from ui.surveying import survey_face
from vision.frame import Frame
from vision.photo import Photo

LENGTH, WIDTH, VIEW = 1900.0, 170.0, 1250.0
SPECKS = tuple(
    (float(x), float(y))
    for x, y in zip(
        np.random.default_rng(8).uniform(20, LENGTH - 20, 50),
        np.random.default_rng(9).uniform(15, 155, 50),
        strict=True,
    )
)
RECORD = BoardRecord(id="7", length=LENGTH, widths=((0, WIDTH),), thickness=27)


def taken(start: float, seed: int, tilt: tuple[float, float, float], face: int = 1) -> tuple[Photo, Frame]:
    """The stretch of the board from `start` on, filling the picture's width."""
    local = camera_frame(VIEW, WIDTH, tilt=tilt, fill=1.0)
    frame = Frame(np.array([[1, 0, start], [0, 1, 0], [0, 0, 1.0]]) @ local.to_board)
    board = drawn_board(LENGTH, WIDTH, frame=frame, dots=SPECKS, seed=seed, face_seed=face)
    return Photo(board.rgb, FOCAL_35MM), frame


@pytest.fixture(scope="module")
def photos() -> list[tuple[Photo, Frame]]:
    return [taken(-25.0, 1, (3.0, -2.0, 1.0)), taken(LENGTH - VIEW + 60, 3, (2.0, 2.0, 2.0))]


def specks_seen(picture: np.ndarray, px_per_mm: float) -> list[float]:
    """How far each drawn speck lies from its place in a true-scale picture [mm]."""
    grey = picture.mean(axis=2)
    off = []
    for x, y in SPECKS:
        column, row, reach = round(x * px_per_mm), round(y * px_per_mm), round(7 * px_per_mm)
        part = grey[max(0, row - reach) : row + reach, max(0, column - reach) : column + reach]
        rows, columns = np.nonzero(part < 70)
        if rows.size:
            at = np.array([columns.mean() + max(0, column - reach), rows.mean() + max(0, row - reach)]) + 0.5
            off.append(float(np.hypot(*(at / px_per_mm - (x, y)))))
    return off


def test_two_photographs_become_one_face_found_unaided(photos: list[tuple[Photo, Frame]]) -> None:
    found = surveyed_long_face([(photo, f"{n}.jpg") for n, (photo, _) in enumerate(photos)], RECORD)
    assert found.picture.shape[1] == round(LENGTH * found.px_per_mm)
    assert not any(join.weak for join in found.joins)
    off = specks_seen(found.picture, found.px_per_mm)
    assert len(off) > 0.8 * len(SPECKS)
    assert np.percentile(off, 95) < found.error_mm < 8
    assert not found.notes
    assert len(found.further_corners) == 1


@pytest.fixture
def unmarked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the suggestions, which take the longest."""
    monkeypatch.setattr("ui.long_board.suggest_marks", lambda *_, **__: ())


@pytest.mark.usefixtures("unmarked")
def test_a_join_that_does_not_fit_is_said_and_makes_the_error_large(
    photos: list[tuple[Photo, Frame]],
) -> None:
    other, frame = taken(LENGTH - VIEW + 60, 3, (2.0, 2.0, 2.0), face=5)
    blank = Photo(np.full_like(other.rgb, 92), FOCAL_35MM)
    board = drawn_board(LENGTH, WIDTH, frame=frame, streak=0.0, seed=4)
    plain = Photo(board.rgb, FOCAL_35MM)
    corners = [photos[0][1], frame]
    known = _set(corners)
    found = surveyed_long_face(
        [(photos[0][0], "0.jpg"), (plain, "1.jpg")], RECORD.model_copy(update={"front": known})
    )
    assert found.joins[0].weak
    assert "pieces 1 and 2 do not fit together surely" in found.notes[0]
    assert found.error_mm > 10
    with pytest.raises(JobError, match=r"^1\.jpg: no board"):
        surveyed_long_face([(photos[0][0], "0.jpg"), (blank, "1.jpg")], RECORD)


def _set(frames: list[Frame], ticks: tuple[tuple[float, ...], ...] = ((), ())) -> FaceRecord:
    """The pieces' corners as a maker would set them, and ticks at these places along the board."""
    quads, marked = [], []
    for frame, (start, end), at in zip(frames, ((0.0, 1180.0), (730.0, LENGTH)), ticks, strict=True):
        px = frame.to_px([[start, 0], [end, 0], [end, WIDTH], [start, WIDTH]])
        quads.append(tuple((float(x), float(y)) for x, y in px))
        places = [frame.to_px([x, WIDTH / 2]) for x in at]
        marked.append(
            tuple(Tick(at_px=(float(p[0]), float(p[1])), reading=x) for p, x in zip(places, at, strict=True))
        )
    further = FurtherPhoto(photo="photos/b.jpg", corners_px=quads[1], ticks=marked[1])
    return FaceRecord(photo="photos/a.jpg", corners_px=quads[0], ticks=marked[0], further=(further,))


@pytest.mark.usefixtures("unmarked")
def test_a_tick_seen_in_both_photographs_holds_the_join(photos: list[tuple[Photo, Frame]]) -> None:
    known = _set([frame for _, frame in photos], ((900.0,), (900.0,)))
    record = RECORD.model_copy(update={"front": known})
    found = surveyed_long_face([(photo, "x.jpg") for photo, _ in photos], record, Face.FRONT)
    assert found.joins[0].by_chalk
    assert not found.joins[0].weak
    assert np.percentile(specks_seen(found.picture, found.px_per_mm), 95) < found.error_mm


def test_photographs_too_short_for_the_board_get_one_sentence(photos: list[tuple[Photo, Frame]]) -> None:
    record = RECORD.model_copy(update={"length": 4000.0, "front": _set([frame for _, frame in photos])})
    with pytest.raises(JobError, match="photograph it with overlaps"):
        surveyed_long_face([(photo, "x.jpg") for photo, _ in photos], record)


def _files(photos: list[tuple[Photo, Frame]]) -> list[tuple[str, bytes]]:
    return [(f"{number}.jpg", jpeg(photo.rgb, 95)) for number, (photo, _) in enumerate(photos, start=1)]


@pytest.mark.usefixtures("unmarked")
@pytest.mark.parametrize("face", Face)
def test_the_command_makes_one_board_of_them(
    face: Face, photos: list[tuple[Photo, Frame]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, data in _files(photos):
        (tmp_path / name).write_bytes(data)
    given = [str(tmp_path / name) for name, _ in _files(photos)]
    size = ["--length", f"{LENGTH:g}", "--width", f"{WIDTH:g}"]
    more = [] if face is Face.FRONT else ["--face", face.value]
    status = main(["survey", *given, "--one-face", *more, *size, "--out", str(tmp_path / "new"), "--json"])
    told = json.loads(capsys.readouterr().out)["faces"]
    assert status == 0
    assert [join["weak"] for join in told[face.value]["joins"]] == [False]
    folder = JobFolder(tmp_path / "new")
    known = folder.job().board("1").face(face)
    assert folder.job().board("1").face(face.other) is None
    assert known is not None
    assert len(known.further) == 1
    assert known.further[0].corners_px is not None
    assert all((folder.path / path).is_file() for path in (known.photo or "", known.further[0].photo))


@pytest.mark.usefixtures("unmarked")
def test_the_page_surveys_a_face_from_all_its_photographs(
    photos: list[tuple[Photo, Frame]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))
    empty = JobFolder.created(tmp_path / "job", Job(name="long"))
    first, second = photos_kept(empty, _files(photos))
    known = _set([frame for _, frame in photos])
    (piece,) = known.further
    known = known.model_copy(
        update={"photo": first.photo, "further": (piece.model_copy(update={"photo": second.photo}),)}
    )
    board = RECORD.model_copy(update={"front": known})
    empty.do(edit_between(empty.job(), Job(name="long", boards=(board,)), "a board"))
    found = survey_face(empty, "7", Face.FRONT)
    stored = empty.job().board("7").front
    assert stored is not None
    assert stored.error_mm == round(found.error_mm, 2)
    assert stored.further == known.further
    assert stored.picture is not None
    assert stored.notes == found.notes == ()
