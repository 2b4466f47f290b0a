"""A waney board too long for one photograph."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from shapely.geometry import LineString, Polygon

from layout.stock import Face
from tests.vision.drawn import FOCAL_35MM, camera_frame, drawn_board, pencilled
from ui.cli import main
from ui.face_records import FurtherPhoto, Tick
from ui.files import JobFolder
from ui.jobfile import BoardRecord, FaceRecord, JobError
from ui.long_board import surveyed_long_face
from ui.pictures import jpeg
from ui.survey import SurveyedFace
from vision.frame import Frame
from vision.photo import Photo

LENGTH, ROOM, VIEW = 1900.0, 260.0, 1250.0
SPANS = ((0.0, 1170.0), (730.0, LENGTH))
LINES = (385.0, 935.0, 1425.0)  # not on a speck
SPECKS = np.array([(x, y) for x in np.arange(50.0, LENGTH - 30.0, 61.0) for y in (75.0, 125.0, 175.0)])
SPECKS = SPECKS + np.random.default_rng(8).uniform(-15, 15, SPECKS.shape)  # in rows they would fit anywhere
STATIONS = np.linspace(0.0, LENGTH, 96)


def upper(x: np.ndarray) -> np.ndarray:
    return 26.0 + 4.0 * np.sin(x / 240.0) + 8.0 * x / LENGTH - 10.0 * np.sin(np.pi * x / LENGTH)


def lower(x: np.ndarray) -> np.ndarray:
    return ROOM - 30.0 + 12.0 * np.sin(np.pi * x / LENGTH) - 9.0 * x / LENGTH


def taken(
    start: float, seed: int, tilt: tuple[float, float, float], lines: tuple[float, ...]
) -> tuple[Photo, Frame]:
    """The stretch of the board from `start` on, its edges as they grew, with pencil lines across it."""
    local = camera_frame(VIEW, ROOM, tilt=tilt, fill=1.0)
    frame = Frame(np.array([[1, 0, start], [0, 1, 0], [0, 0, 1.0]]) @ local.to_board)
    board = drawn_board(LENGTH, ROOM, frame=frame, dots=[(float(x), float(y)) for x, y in SPECKS], seed=seed)
    rgb = board.rgb
    for x in lines:
        rgb = pencilled(rgb, frame, x, ROOM)
    ring = np.concatenate(
        [np.stack([STATIONS, upper(STATIONS)], 1), np.stack([STATIONS, lower(STATIONS)], 1)[::-1]]
    )
    wood = np.zeros(rgb.shape[:2], np.uint8)
    cv2.fillPoly(wood, [np.rint(frame.to_px(ring) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    share = wood[..., None] / 255.0
    ground = np.random.default_rng(seed).normal((92, 96, 101), 3.0, rgb.shape)
    return Photo(np.clip(rgb * share + ground * (1 - share), 0, 255).astype(np.uint8), FOCAL_35MM), frame


@pytest.fixture(scope="module")
def photos() -> list[tuple[Photo, Frame]]:
    return [
        taken(-25.0, 1, (3.0, -2.0, 1.0), LINES[:2]),
        taken(LENGTH - VIEW + 60, 3, (-2.0, 3.0, 2.0), LINES[1:]),
    ]


def record(frames: list[Frame], lines: bool, misread: float = 0.0) -> BoardRecord:
    """Five widths, the pieces' corners as a maker would set them, and lines read in either photo."""
    quads, ticks = [], []
    for frame, (start, end), at in zip(frames, SPANS, (LINES[:2], LINES[1:]), strict=True):
        x = np.array([start, end])
        (a, b), (c, d) = upper(x), lower(x)
        quad = frame.to_px([[start, a], [end, b], [end, d], [start, c]])
        quads.append(tuple((float(px), float(py)) for px, py in quad))
        places = [frame.to_px([place, ROOM / 2]) for place in at] if lines else []
        ticks.append(
            tuple(
                Tick(at_px=(float(p[0]), float(p[1])), reading=place + (misread if place == LINES[0] else 0))
                for p, place in zip(places, at, strict=False)
            )
        )
    further = FurtherPhoto(photo="photos/b.jpg", corners_px=quads[1], ticks=ticks[1])
    front = FaceRecord(photo="photos/a.jpg", corners_px=quads[0], ticks=ticks[0], further=(further,))
    at = np.linspace(0.0, LENGTH, 5)
    widths = tuple((float(x), float(width)) for x, width in zip(at, lower(at) - upper(at), strict=True))
    return BoardRecord(id="7", length=LENGTH, widths=widths, thickness=34, waney=True, front=front)


@pytest.fixture(autouse=True)
def unmarked(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the suggestions, which take the longest."""
    monkeypatch.setattr("ui.long_board.suggest_marks", lambda *_, **__: ())


def surveyed(photos: list[tuple[Photo, Frame]], board: BoardRecord) -> SurveyedFace:
    return surveyed_long_face([(photo, f"{n}.jpg") for n, (photo, _) in enumerate(photos)], board)


def specks_off(found: SurveyedFace) -> np.ndarray:
    """How far the drawn specks lie from their places along and across, by the middles of the ends [mm]."""
    ends = np.array([0.0, LENGTH])
    first, last = (upper(ends) + lower(ends)) / 2
    turn, scale = (last - first) / LENGTH, found.px_per_mm
    ring = np.array(found.outline_seen)
    axis = float(np.mean(ring[ring[:, 0] < 3.0, 1]))
    grey, off = found.picture.mean(axis=2), []
    for x, y in SPECKS:
        place = np.array([x + turn * (y - first), y - first - turn * x + axis])
        column, row = np.rint(place * scale).astype(int)
        reach = round(9 * scale)
        top, left = max(0, row - reach), max(0, column - reach)
        rows, columns = np.nonzero(grey[top : row + reach, left : column + reach] < 70)
        if rows.size:
            off.append((np.array([columns.mean() + left, rows.mean() + top]) + 0.5) / scale - place)
    away = np.array(off)
    return np.abs(away - [0.0, np.median(away[:, 1])])


@pytest.mark.parametrize("lines", [True, False])
def test_two_photographs_of_a_waney_board_become_one_face(
    photos: list[tuple[Photo, Frame]], lines: bool
) -> None:
    found = surveyed(photos, record([frame for _, frame in photos], lines))
    off = specks_off(found)
    assert len(off) > 0.8 * len(SPECKS)
    along, across = np.percentile(off, 90, axis=0)  # a few have a line or another speck beside them
    assert along < (1.0 if lines else 3.0)
    assert across < 1.0
    assert along < found.error_mm < (6.0 if lines else 12.0)
    assert not found.notes
    assert not any(join.weak for join in found.joins)


def test_both_edges_are_carried_over_as_one_outline(photos: list[tuple[Photo, Frame]]) -> None:
    found = surveyed(photos, record([frame for _, frame in photos], True))
    board = Polygon(found.outline_seen)
    x = np.linspace(20.0, LENGTH - 20.0, 40)
    width = [board.intersection(LineString([(at, -9.0), (at, ROOM)])).length for at in x]
    assert width == pytest.approx(lower(x) - upper(x), abs=2.0)


def test_a_line_misread_is_named_with_what_it_should_read(photos: list[tuple[Photo, Frame]]) -> None:
    found = surveyed(photos, record([frame for _, frame in photos], True, misread=30.0))
    (note,) = found.notes
    assert note.startswith("the line read at 415 mm is seen at ")
    assert abs(float(note.split("seen at ")[1].split(" mm")[0]) - 385.0) <= 3.0


def test_too_few_widths_get_one_sentence(photos: list[tuple[Photo, Frame]]) -> None:
    board = record([frame for _, frame in photos], False)
    few = board.model_copy(update={"widths": (board.widths[0], board.widths[-1])})
    with pytest.raises(JobError, match="read its width at 3 places or more"):
        surveyed(photos, few)


def test_the_command_takes_corners_and_lines_of_every_photo(
    photos: list[tuple[Photo, Frame]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    board = record([frame for _, frame in photos], True)
    front = board.front
    assert front is not None
    given, more = [], []
    for number, (photo, _) in enumerate(photos, start=1):
        (tmp_path / f"{number}.jpg").write_bytes(jpeg(photo.rgb, 95))
        given.append(str(tmp_path / f"{number}.jpg"))
    for number, (quad, ticks) in enumerate(
        ((front.corners_px, front.ticks), (front.further[0].corners_px, front.further[0].ticks)), start=1
    ):
        more += ["--corners", *(f"{x:.1f},{y:.1f}" for x, y in quad or ())]
        for tick in ticks:
            more += ["--tick", f"{number}:{tick.at_px[0]:.1f},{tick.at_px[1]:.1f}={tick.reading:g}"]
    widths = "/".join(f"{width:.1f}" for _, width in board.widths)
    size = ["--length", f"{LENGTH:g}", "--width", widths, "--waney", "--out", str(tmp_path / "new")]
    assert main(["survey", *given, "--one-face", *size, *more, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["faces"]["front"]
    assert told["error_mm"] < 6.0
    stored = JobFolder(tmp_path / "new").job().board("1").face(Face.FRONT)
    assert stored is not None
    assert stored.outline_found
    assert len(stored.further[0].ticks) == 2
    assert main(["survey", *given, "--one-face", *size, "--tick", "3:1,1=5"]) == 2
    assert "there is no photo 3" in capsys.readouterr().err
