"""A waney board too long for one photograph."""

import io
import json
from contextlib import redirect_stdout
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from layout.outline import Outline
from layout.stock import Face
from tests.vision.drawn import FOCAL_35MM, camera_frame, drawn_board, pencilled
from ui.cli import main
from ui.face_records import FurtherPhoto, Tick
from ui.files import JobFolder
from ui.jobfile import BoardRecord, FaceRecord, JobError
from ui.long_board import surveyed_long_face
from ui.pictures import jpeg, picture_from
from ui.surveyed import SurveyedFace
from vision.frame import Frame
from vision.photo import Photo

LENGTH, ROOM, VIEW = 1180.0, 180.0, 780.0
SIZE = (870, 580)  # pixels
SPANS = ((0.0, 725.0), (455.0, LENGTH))
LINES = (240.0, 580.0, 885.0)  # not on a speck
SPECKS = np.array([(x, y) for x in np.arange(50.0, LENGTH - 30.0, 61.0) for y in (60.0, 90.0, 120.0)])
SPECKS = SPECKS + np.random.default_rng(8).uniform(-12, 12, SPECKS.shape)  # in rows they would fit anywhere
STATIONS = np.linspace(0.0, LENGTH, 60)


def upper(x: np.ndarray) -> np.ndarray:
    return 26.0 + 4.0 * np.sin(x / 240.0) + 8.0 * x / LENGTH - 10.0 * np.sin(np.pi * x / LENGTH)


def lower(x: np.ndarray) -> np.ndarray:
    return ROOM - 30.0 + 12.0 * np.sin(np.pi * x / LENGTH) - 9.0 * x / LENGTH


def taken(
    start: float, seed: int, tilt: tuple[float, float, float], lines: tuple[float, ...]
) -> tuple[Photo, Frame]:
    """The stretch of the board from `start` on, its edges as they grew, with pencil lines across it."""
    local = camera_frame(VIEW, ROOM, tilt=tilt, fill=1.0, size=SIZE)
    frame = Frame(np.array([[1, 0, start], [0, 1, 0], [0, 0, 1.0]]) @ local.to_board)
    specks = tuple((float(x), float(y)) for x, y in SPECKS)
    board = drawn_board(LENGTH, ROOM, frame=frame, size=SIZE, dots=specks, seed=seed)
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
        taken(LENGTH - VIEW + 40, 3, (-2.0, 3.0, 2.0), LINES[1:]),
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


@dataclass(frozen=True, eq=False)
class Kept:
    """What the command said, and what it stored."""

    given: list[str]
    said: dict[str, Any]
    folder: JobFolder
    front: FaceRecord


@pytest.fixture(scope="module")
def kept(photos: list[tuple[Photo, Frame]], tmp_path_factory: pytest.TempPathFactory) -> Kept:
    """The board surveyed by the command, corners and lines given for either photo."""
    here = tmp_path_factory.mktemp("long-waney")
    front = (board := record([frame for _, frame in photos], True)).front
    assert front is not None
    given, more = [], []
    for number, (photo, _) in enumerate(photos, start=1):
        (here / f"{number}.jpg").write_bytes(jpeg(photo.rgb, 95))
        given.append(str(here / f"{number}.jpg"))
    for number, one in enumerate((front, *front.further), start=1):
        more += ["--corners", *(f"{x:.1f},{y:.1f}" for x, y in one.corners_px or ())]
        for tick in one.ticks:
            more += ["--tick", f"{number}:{tick.at_px[0]:.1f},{tick.at_px[1]:.1f}={tick.reading:g}"]
    widths = "/".join(f"{width:.1f}" for _, width in board.widths)
    size = ["--length", f"{LENGTH:g}", "--width", widths, "--waney", "--out", str(here / "new")]
    words, told = ["survey", *given, "--one-face", *size], io.StringIO()
    with redirect_stdout(told), pytest.MonkeyPatch.context() as patch:
        patch.setattr("ui.long_board.suggest_marks", lambda *_, **__: ())
        assert main([*words, *more, "--json"]) == 0
    stored = (folder := JobFolder(here / "new")).job().board("1").face(Face.FRONT)
    assert stored is not None
    return Kept(words, json.loads(told.getvalue())["faces"]["front"], folder, stored)


def specks_off(picture: NDArray[np.uint8], px_per_mm: float, outline: Outline) -> NDArray[np.float64]:
    """How far the drawn specks lie from their places along and across, by the middles of the ends [mm]."""
    ends = np.array([0.0, LENGTH])
    first, last = (upper(ends) + lower(ends)) / 2
    turn, scale = (last - first) / LENGTH, px_per_mm
    ring = np.array(outline)
    axis = float(np.mean(ring[ring[:, 0] < 3.0, 1]))
    grey, off = picture.mean(axis=2), []
    for x, y in SPECKS:
        place = np.array([x + turn * (y - first), y - first - turn * x + axis])
        column, row = np.rint(place * scale).astype(int)
        reach = round(9 * scale)
        top, left = max(0, row - reach), max(0, column - reach)
        rows, columns = np.nonzero(grey[top : row + reach, left : column + reach] < 70)
        if rows.size:
            off.append((np.array([columns.mean() + left, rows.mean() + top]) + 0.5) / scale - place)
    assert len(off) > 0.8 * len(SPECKS)
    away = np.array(off)
    # A few have a line or another speck beside them.
    return np.asarray(np.percentile(np.abs(away - [0.0, np.median(away[:, 1])]), 90, axis=0))


def test_two_photographs_of_a_waney_board_become_one_face_by_its_widths(
    photos: list[tuple[Photo, Frame]],
) -> None:
    found = surveyed(photos, record([frame for _, frame in photos], False))
    along, across = specks_off(found.picture, found.px_per_mm, found.outline_seen)
    assert along < 3.0
    assert across < 1.0
    assert along < found.error_mm < 12.0
    assert not found.notes
    assert not any(join.weak for join in found.joins)


def test_lines_read_in_either_make_it_truer(kept: Kept) -> None:
    picture = picture_from(kept.folder.read(kept.front.picture or ""))
    along, across = specks_off(picture, kept.front.px_per_mm or 0.0, kept.front.outline_mm or ())
    assert along < 1.0
    assert across < 1.0
    assert along < kept.said["error_mm"] < 6.0
    assert not kept.front.notes  # nor a word of a weak join


def test_both_edges_are_carried_over_as_one_outline(kept: Kept) -> None:
    board = Polygon(kept.front.outline_mm or ())
    x = np.linspace(20.0, LENGTH - 20.0, 40)
    width = [board.intersection(LineString([(at, -9.0), (at, ROOM)])).length for at in x]
    assert width == pytest.approx(lower(x) - upper(x), abs=2.0)


def test_a_line_misread_is_named_with_what_it_should_read(photos: list[tuple[Photo, Frame]]) -> None:
    found = surveyed(photos, record([frame for _, frame in photos], True, misread=30.0))
    (note,) = found.notes
    assert note.startswith(f"the line read at {LINES[0] + 30:g} mm is seen at ")
    assert abs(float(note.split("seen at ")[1].split(" mm")[0]) - LINES[0]) <= 3.0


def test_too_few_widths_get_one_sentence(photos: list[tuple[Photo, Frame]]) -> None:
    board = record([frame for _, frame in photos], False)
    few = board.model_copy(update={"widths": (board.widths[0], board.widths[-1])})
    with pytest.raises(JobError, match="read its width at 3 places or more"):
        surveyed(photos, few)


def test_the_command_takes_corners_and_lines_of_every_photo(
    kept: Kept, capsys: pytest.CaptureFixture[str]
) -> None:
    assert kept.front.outline_found
    assert [len(one.ticks) for one in (kept.front, *kept.front.further)] == [2, 2]
    assert main([*kept.given, "--tick", "3:1,1=5"]) == 2
    assert "there is no photo 3" in capsys.readouterr().err
