import numpy as np
import pytest

from tests.vision.drawn import camera_frame, drawn_board, pencilled
from vision.frame import Frame
from vision.photo import Photo
from vision.rectify import true_scale
from vision.ticks import line_near

LENGTH, WIDTH = 1400.0, 150.0


@pytest.mark.parametrize(("dark", "askew"), [(0.3, 0.0), (0.4, 0.03), (-0.3, -0.02)])
def test_a_pencil_or_chalk_line_is_found_beside_the_tap(dark: float, askew: float) -> None:
    board = drawn_board(LENGTH, WIDTH, seed=3)
    rgb = pencilled(board.rgb, board.frame, 500.0, WIDTH, dark=dark, askew=askew)
    rough = Frame.from_corners(board.corners_px + 2.0, LENGTH, WIDTH)
    for tap in ((1.7, -1.0), (-3.0, 2.0)):
        true = board.frame.to_px([500.0 + askew * 30.0, 30.0])
        found = line_near(rgb, true + tap, rough, WIDTH)
        assert found is not None
        x, y = board.frame.to_mm(found)
        assert abs(x - 500.0 - askew * y) < 0.45  # of the line, wherever along it the tap was
        assert abs(y - board.frame.to_mm(true + tap)[1]) < 0.5


def test_plain_grain_has_no_line() -> None:
    board = drawn_board(LENGTH, WIDTH, seed=4)
    for x in np.linspace(100, 1300, 9):
        assert line_near(board.rgb, board.frame.to_px([x, 40.0]), board.frame, WIDTH) is None


@pytest.mark.parametrize("at", [(-50.0, 10.0), (700.0, -200.0), (1.0, 1.0)])
def test_a_tap_beside_the_board_or_on_its_corner_has_none(at: tuple[float, float]) -> None:
    board = drawn_board(LENGTH, WIDTH)
    assert line_near(board.rgb, board.frame.to_px(at), board.frame, WIDTH) is None


def test_lines_make_the_picture_truer_than_taps() -> None:
    frame = camera_frame(LENGTH, WIDTH, k1=-0.08, tilt=(9.0, 12.0, 2.0))
    board = drawn_board(LENGTH, WIDTH, frame=frame)
    marks = [350.0, 700.0, 1050.0]
    rgb = board.rgb
    for x in marks:
        rgb = pencilled(rgb, frame, x, WIDTH)
    rng = np.random.default_rng(0)
    taps = [
        ((float(u), float(v)), x) for x in marks for u, v in [frame.to_px([x, 20.0]) + rng.normal(0, 2, 2)]
    ]
    off, said = [], []
    for picture in (board.rgb, rgb):
        made = true_scale(Photo(picture, 26.0), board.corners_px, LENGTH, WIDTH, ticks=taps, px_per_mm=0.2)
        grid = np.stack(np.meshgrid(np.linspace(0, LENGTH, 21), [20.0, 130.0]), axis=-1)
        off.append(float(np.abs(made.frame.to_mm(frame.to_px(grid)) - grid)[..., 0].max()))
        said.append(made.error_mm)
    assert off[1] < 0.6 < off[0]
    assert said[1] < said[0]
    assert off[1] < said[1]
