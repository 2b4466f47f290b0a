import numpy as np
import pytest

from tests.vision.suggest.made_boards import PX_PER_MM, clear_board, photographed, with_knot
from vision.errors import VisionError
from vision.grain import grain_field


def turned_board(degrees):
    """Rings of 4 mm that run at an angle, 400 x 120 mm at one pixel per millimetre."""
    ys, xs = np.mgrid[:120, :400]
    across = ys * np.cos(np.radians(degrees)) - xs * np.sin(np.radians(degrees))
    light = 160 + 20 * np.sin(2 * np.pi * across / 4) + np.random.default_rng(1).normal(0, 3, ys.shape)
    return np.repeat(light[..., None], 3, axis=2).astype(np.uint8)


@pytest.mark.parametrize("degrees", [-20, -4, 0, 3, 12])
def test_the_angle_is_read_to_half_a_degree_positive_from_x_towards_y(degrees):
    field = grain_field(turned_board(degrees), 1.0)
    assert field.mean == pytest.approx(degrees, abs=0.5)
    assert field.sure.mean() > 0.5


def test_slope_is_rise_over_run_in_percent():
    field = grain_field(turned_board(np.degrees(np.arctan(0.03))), 1.0)
    assert field.slope_percent == pytest.approx(3.0, abs=0.8)


def test_a_knot_does_not_turn_the_board():
    board = with_knot(clear_board(), 250, 60, 40)
    field = grain_field(photographed(board), PX_PER_MM)
    assert field.mean == pytest.approx(0.0, abs=1.0)


def test_nothing_is_sure_where_nothing_is_seen():
    field = grain_field(np.full((120, 300, 3), 128, np.uint8), 1.0)
    assert field.sure.max() < 0.35
    assert field.mean == 0.0


def test_a_point_is_asked_in_millimetres():
    picture = np.concatenate([turned_board(-10), turned_board(10)], axis=1)
    field = grain_field(picture, 1.0)
    assert field.at(200, 60)[0] == pytest.approx(-10, abs=2)
    assert field.at(600, 60)[0] == pytest.approx(10, abs=2)


def test_too_small_a_face_is_refused_with_a_sentence():
    with pytest.raises(VisionError, match="20 mm"):
        grain_field(np.zeros((10, 300, 3), np.uint8), 1.0)
