import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.errors import VisionError
from vision.frame import Frame, in_board_order
from vision.lens import Lens, focal_px

CORNERS = np.array([[228.7, 787.2], [2233.5, 710.8], [2234.2, 850.0], [238.8, 914.3]])


@given(
    x=st.floats(0, 2200),
    y=st.floats(0, 146),
    k1=st.floats(-0.12, 0.12),
    k2=st.floats(-0.02, 0.02),
)
def test_mm_to_px_and_back_returns(x: float, y: float, k1: float, k2: float) -> None:
    lens = Lens((1200.0, 800.0), 2200.0, k1, k2)
    frame = Frame.from_corners(CORNERS, 2200.0, 146.0, lens)
    assert frame.to_mm(frame.to_px([x, y])) == pytest.approx([x, y], abs=1e-6)


def test_the_corners_are_the_corners() -> None:
    frame = Frame.from_corners(CORNERS, 2200.0, 146.0)
    board = [[0, 0], [2200, 0], [2200, 146], [0, 146]]
    assert frame.to_mm(CORNERS) == pytest.approx(np.array(board), abs=1e-7)


def test_a_picture_square_on_is_a_plain_scale() -> None:
    frame = Frame.from_corners([[10, 20], [410, 20], [410, 120], [10, 120]], 200.0, 50.0)
    assert frame.to_px([100.0, 25.0]) == pytest.approx([210.0, 70.0])


@pytest.mark.parametrize(
    "corners",
    [
        [[0, 0], [0, 0], [100, 50], [0, 50]],
        [[0, 0], [100, 0], [200, 0], [0, 50]],
        [[0, 0], [0, 50], [100, 50], [100, 0]],  # anticlockwise: a mirrored board
    ],
)
def test_corners_that_make_no_board_are_refused(corners: list[list[float]]) -> None:
    with pytest.raises(VisionError, match="clockwise"):
        Frame.from_corners(corners, 1000.0, 100.0)


@given(start=st.integers(0, 3), flip=st.booleans(), angle=st.floats(-44, 44))
def test_board_order_does_not_depend_on_the_order_given(start: int, flip: bool, angle: float) -> None:
    turn = np.deg2rad(angle)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    board = np.array([[0, 0], [900, 0], [900, 150], [0, 150]]) @ spin.T + 1000
    given_order = np.roll(board[::-1] if flip else board, start, axis=0)
    assert in_board_order(given_order) == pytest.approx(board)


def test_an_upright_board_is_read_from_its_upper_end() -> None:
    ordered = in_board_order([[100, 50], [250, 50], [250, 950], [100, 950]])
    assert ordered == pytest.approx(np.array([[250, 50], [250, 950], [100, 950], [100, 50]]))


def test_a_lens_without_distortion_moves_nothing() -> None:
    lens = Lens((500.0, 400.0), 900.0)
    assert lens.bent([[10.0, 20.0]]) == pytest.approx(np.array([[10.0, 20.0]]))
    assert lens.straight([[500.0, 400.0]]) == pytest.approx(np.array([[500.0, 400.0]]))


def test_barrel_pulls_towards_the_centre() -> None:
    lens = Lens((0.0, 0.0), 1000.0, k1=-0.1)
    assert lens.bent([[500.0, 0.0]])[0, 0] == pytest.approx(500 * (1 - 0.1 * 0.25))


def test_focal_length_of_film_is_the_pictures_width_for_36_mm_of_it() -> None:
    assert focal_px(3600, 2400, 36.0) == pytest.approx(3600.0)
