import cv2
import numpy as np
import pytest

from tests.vision.drawn import camera_frame
from vision.chessboard import chessboard_corners, lens_profile, sheet_profile
from vision.reference import MARKER_SHEET

COLUMNS, ROWS, SQUARE = 7, 5, 25.0
SIZE = (640, 480)
TILTS = ((25.0, 5.0, 3.0), (-22.0, 14.0, -8.0), (4.0, 30.0, 12.0), (0.0, -28.0, 0.0), (16.0, 16.0, 20.0))


def photographed(tilt: tuple[float, float, float], k1: float, size: tuple[int, int] = SIZE) -> np.ndarray:
    """A chessboard with a white rim, as a camera sees it."""
    width, height = (COLUMNS + 1) * SQUARE, (ROWS + 1) * SQUARE
    frame = camera_frame(width, height, k1=k1, tilt=tilt, fill=0.8, size=size)
    fine = 2
    xs, ys = ((np.arange(n * fine) + 0.5) / fine - 0.5 for n in size)
    x, y = np.moveaxis(frame.to_mm(np.stack(np.meshgrid(xs, ys), axis=-1)), -1, 0)
    on = (x > 0) & (x < width) & (y > 0) & (y < height)
    black = (np.floor(x / SQUARE) + np.floor(y / SQUARE)) % 2 < 1
    grey = np.where(on & black, 30.0, 225.0).astype(np.float32)
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    return np.repeat(np.clip(small, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def test_a_profile_finds_the_lens_that_took_the_pictures() -> None:
    profile = lens_profile([photographed(tilt, -0.08) for tilt in TILTS], COLUMNS, ROWS)
    assert profile
    true = camera_frame(200, 150, size=SIZE, k1=-0.08).lens
    assert true is not None
    assert profile.lens.focal_px == pytest.approx(true.focal_px, rel=0.01)
    # What matters is where a point lands: within a third of a pixel out to the corners.
    at = np.array([[20.0, 20.0], [600.0, 40.0], [320.0, 460.0]])
    known = profile.lens.straight(at) - profile.lens.centre_px
    assert known / profile.lens.focal_px == pytest.approx(
        (true.straight(at) - true.centre_px) / true.focal_px, abs=0.008
    )
    assert profile.lens.k1 == pytest.approx(-0.08, abs=0.03)


def test_too_few_pictures_are_refused_with_a_reason() -> None:
    blank = np.full((480, 640, 3), 200, dtype=np.uint8)
    answer = lens_profile([photographed(TILTS[0], 0.0), blank, blank], COLUMNS, ROWS)
    assert not answer
    assert "1 of 3" in answer.reason  # type: ignore[union-attr]


def test_pictures_of_two_sizes_are_refused() -> None:
    answer = lens_profile(
        [photographed(TILTS[0], 0.0), photographed(TILTS[0], 0.0, (800, 600))], COLUMNS, ROWS
    )
    assert not answer
    assert "one size" in answer.reason  # type: ignore[union-attr]


def test_no_board_no_corners() -> None:
    assert chessboard_corners(np.full((100, 120, 3), 90, dtype=np.uint8), COLUMNS, ROWS) is None


def sheet_photographed(tilt: tuple[float, float, float], k1: float) -> np.ndarray:
    """The marker sheet, printed true and laid flat, as a camera sees it."""
    length, width = MARKER_SHEET.size_mm
    frame = camera_frame(length, width, k1=k1, tilt=tilt, fill=0.85, size=(800, 600))
    per_mm, rim = 4, 12
    page = np.full((round(width + 2 * rim) * per_mm, round(length + 2 * rim) * per_mm), 235, dtype=np.uint8)
    for x, y, w, h in MARKER_SHEET.black_mm():
        left, top, right, low = np.rint((np.array([x, y, x + w, y + h]) + rim) * per_mm).astype(int)
        page[top:low, left:right] = 25
    xs, ys = ((np.arange(n * 2) + 0.5) / 2 - 0.5 for n in (800, 600))
    at = (frame.to_mm(np.stack(np.meshgrid(xs, ys), axis=-1)) + rim) * per_mm - 0.5
    maps = [np.ascontiguousarray(at[..., k], dtype=np.float32) for k in range(2)]
    seen = cv2.remap(page, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=120)
    grey = cv2.resize(seen, (800, 600), interpolation=cv2.INTER_AREA)
    return np.repeat(grey[..., None], 3, axis=2)


def test_the_marker_sheet_makes_a_profile_even_half_covered() -> None:
    pictures = [sheet_photographed(tilt, -0.08) for tilt in TILTS]
    pictures[0][:, :240] = 120
    profile = sheet_profile(pictures)
    assert profile
    true = camera_frame(270, 180, size=(800, 600), k1=-0.08).lens
    assert true is not None
    assert profile.lens.focal_px == pytest.approx(true.focal_px, rel=0.01)
    assert profile.lens.k1 == pytest.approx(-0.08, abs=0.03)
    assert profile.k1_spread < 0.03


def test_pictures_without_the_sheet_make_no_profile() -> None:
    answer = sheet_profile([np.full((300, 400, 3), 90, dtype=np.uint8)] * 4)
    assert not answer
    assert "0 of 4" in answer.reason  # type: ignore[union-attr]
