from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.vision.drawn import FOCAL_35MM, SIZE, camera_frame
from vision.adjust import adjusted
from vision.errors import VisionError
from vision.evidence import Evidence, Readings
from vision.frame import Frame
from vision.lens import unknown_lens
from vision.reference import MARKER_SHEET, KnownSize, found_sheet, rough_check

LENGTH, WIDTH, THICK = 700.0, 150.0, 30.0
AT = np.array([180.0, 190.0])  # where the sheet lies, in board millimetres


def rectangle(width: float, height: float) -> np.ndarray:
    return np.array([[0, 0], [width, 0], [width, height], [0, height]])


def lowered(frame: Frame, depth: float) -> Frame:
    """The same camera over the plane `depth` mm under the board's face."""
    lens = unknown_lens(*SIZE, FOCAL_35MM).lens
    camera = np.array(
        [[lens.focal_px, 0, lens.centre_px[0]], [0, lens.focal_px, lens.centre_px[1]], [0, 0, 1]]
    )
    columns = np.linalg.inv(camera) @ np.linalg.inv(frame.to_board)
    columns /= np.linalg.norm(columns[:, 0])
    away = np.cross(columns[:, 0], columns[:, 1])
    deeper = camera @ np.column_stack([columns[:, 0], columns[:, 1], columns[:, 2] + depth * away])
    return Frame(np.linalg.inv(deeper), frame.lens)


def photographed_sheet(frame: Frame, angle: float = 0.3) -> np.ndarray:
    """A picture of the sheet with its upper left corner at AT of the frame's plane."""
    fine = 2
    xs, ys = ((np.arange(n * fine) + 0.5) / fine - 0.5 for n in SIZE)
    at = frame.to_mm(np.stack(np.meshgrid(xs, ys), axis=-1)) - AT
    u = at[..., 0] * np.cos(angle) + at[..., 1] * np.sin(angle)
    v = -at[..., 0] * np.sin(angle) + at[..., 1] * np.cos(angle)
    per_mm = 4
    print_px = np.full((200 * per_mm, 290 * per_mm), 235, dtype=np.uint8)
    for bx, by, w, h in MARKER_SHEET.black_mm():
        ends = np.rint(np.array([bx + 10, by + 10, bx + w + 10, by + h + 10]) * per_mm).astype(int)
        print_px[ends[1] : ends[3], ends[0] : ends[2]] = 20
    where = [((w + 10) * per_mm - 0.5).astype(np.float32) for w in (u, v)]
    seen = cv2.remap(print_px, *where, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=110)
    grey = cv2.resize(seen.astype(np.float32), SIZE, interpolation=cv2.INTER_AREA)
    grey += np.random.default_rng(0).normal(0, 2, grey.shape)
    return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


@pytest.fixture(scope="module")
def camera() -> Frame:
    return camera_frame(LENGTH, WIDTH, fill=0.6)


@pytest.fixture(scope="module")
def picture(camera: Frame) -> np.ndarray:
    return photographed_sheet(camera)


def test_the_sheet_is_found_where_it_lies(camera: Frame, picture: np.ndarray) -> None:
    sheet = found_sheet(picture)
    assert sheet is not None
    assert len(sheet.points_px) >= 36
    turn = np.array([[np.cos(0.3), -np.sin(0.3)], [np.sin(0.3), np.cos(0.3)]])
    true = camera.to_px(sheet.points_mm @ turn.T + AT)
    assert np.hypot(*(true - sheet.points_px).T).max() < 0.5


def test_a_half_covered_sheet_still_counts(picture: np.ndarray) -> None:
    covered = picture.copy()
    covered[:, 600:] = 128
    sheet = found_sheet(covered)
    assert sheet is not None
    assert 6 <= len(sheet.points_px) < 40


def test_no_sheet_is_none() -> None:
    assert found_sheet(np.full((200, 300, 3), 128, dtype=np.uint8)) is None


def test_a_print_that_was_fitted_to_the_page_is_scaled_or_refused(picture: np.ndarray) -> None:
    plain, small = found_sheet(picture), found_sheet(picture, printed_line_mm=245.0)
    assert plain is not None
    assert small is not None
    assert small.points_mm == pytest.approx(plain.points_mm * 0.98)
    assert small.scale_spread < plain.scale_spread
    with pytest.raises(VisionError, match="print it at 100 %"):
        found_sheet(picture, printed_line_mm=230.0)


def evidence(camera: Frame, sheet: object, length: float) -> Evidence:
    corners = camera.to_px(rectangle(LENGTH, WIDTH))
    readings = Readings(length, ((None, WIDTH),), tape_mm=30.0, rule_mm=10.0)
    return Evidence(
        corners,
        (None,) * 4,
        readings,
        unknown_lens(*SIZE, FOCAL_35MM),
        float(np.hypot(*SIZE)),
        (sheet,),  # type: ignore[arg-type]
    )


def test_a_sheet_on_the_bench_measures_the_board_once_its_thickness_is_known(camera: Frame) -> None:
    sheet = found_sheet(photographed_sheet(lowered(camera, THICK)), printed_line_mm=250.0)
    assert sheet is not None
    told = adjusted(evidence(camera, replace(sheet, below_mm=THICK), LENGTH + 20)).values["length"]
    untold = adjusted(evidence(camera, sheet, LENGTH + 20)).values["length"]
    assert told == pytest.approx(LENGTH, abs=6.0)
    assert untold - told > 0.015 * LENGTH  # what believing the bench's plane would cost


@pytest.mark.parametrize("size", list(KnownSize))
def test_a_thing_of_known_size_agrees_with_the_right_tape_only(camera: Frame, size: KnownSize) -> None:
    corners = camera.to_px(rectangle(*size.value) + np.array([200.0, 10.0]))
    assert rough_check(camera, corners, size)
    wrong = Frame.from_corners(camera.to_px(rectangle(LENGTH, WIDTH)), LENGTH * 1.1, WIDTH * 1.1)
    answer = rough_check(wrong, corners, size)
    assert not answer
    assert answer.off == pytest.approx(0.1, abs=0.01)
    assert "too large" in answer.message


def test_a_sheet_on_the_bench_is_not_held_against_the_tape(camera: Frame) -> None:
    lens = unknown_lens(*SIZE, FOCAL_35MM).lens
    seen = Frame(camera.to_board, lens)
    corners = lowered(camera, THICK).to_px(rectangle(*KnownSize.A4.value) + AT)
    plain, told = (
        rough_check(seen, corners, KnownSize.A4),
        rough_check(seen, corners, KnownSize.A4, below_mm=THICK),
    )
    assert plain.off < -0.01
    assert abs(told.off) < 0.004
    assert told
