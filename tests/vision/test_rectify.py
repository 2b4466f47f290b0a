import numpy as np
import pytest

from tests.vision.drawn import drawn_board
from vision.errors import VisionError
from vision.lens import Lens
from vision.photo import Photo
from vision.rectify import true_scale

CORNERS = [[110, 330], [1090, 280], [1100, 400], [100, 470]]
DOTS = ((60.0, 30.0), (750.0, 95.0), (1430.0, 150.0))


def dots_in(picture: np.ndarray, px_per_mm: float) -> np.ndarray:
    """Centres of the dark dots, by x [mm]."""
    import cv2

    _, _, stats, centres = cv2.connectedComponentsWithStats((picture.mean(2) < 70).astype(np.uint8))
    centres = centres[1:][stats[1:, cv2.CC_STAT_AREA] > 4 * px_per_mm**2]
    return (centres[np.argsort(centres[:, 0])] + 0.5) / px_per_mm


@pytest.mark.parametrize("px_per_mm", [0.4, 2.0])
def test_a_dot_lies_where_it_was_drawn(px_per_mm: float) -> None:
    board = drawn_board(CORNERS, 1500.0, 190.0, dots=DOTS)
    made = true_scale(Photo(board.rgb), board.corners_px, 1500.0, 190.0, px_per_mm=px_per_mm)
    assert made.picture.shape == (round(190 * px_per_mm), round(1500 * px_per_mm), 3)
    if px_per_mm > 1:
        assert dots_in(made.picture, px_per_mm) == pytest.approx(np.array(DOTS), abs=0.6)


def test_a_known_lens_is_undone() -> None:
    lens = Lens((600.0, 400.0), 1000.0, k1=-0.1)
    board = drawn_board(CORNERS, 1500.0, 190.0, dots=DOTS, lens=lens)
    made = true_scale(Photo(board.rgb), board.corners_px, 1500.0, 190.0, lens=lens)
    assert dots_in(made.picture, 2.0) == pytest.approx(np.array(DOTS), abs=0.6)


def test_the_error_is_that_of_the_tape_when_the_corners_are_close() -> None:
    board = drawn_board(CORNERS, 1500.0, 190.0)
    made = true_scale(Photo(board.rgb), board.corners_px, 1500.0, 190.0)
    rougher = true_scale(Photo(board.rgb), board.corners_px, 1500.0, 190.0, tape_mm=5.0)
    assert 0.0 < made.error_mm < rougher.error_mm
    assert made.error_mm == max(error for _, error in made.error_along)


@pytest.mark.parametrize(
    ("length", "width", "message"),
    [
        (0.0, 100.0, "taped length is 0"),
        (-5.0, 100.0, "taped length is -5"),
        (1200.0, float("nan"), "taped width is nan"),
        (1.2e6, 145.0, "give millimetres"),
    ],
)
def test_a_tape_reading_that_cannot_be(length: float, width: float, message: str) -> None:
    photo = Photo(np.zeros((80, 100, 3), dtype=np.uint8))
    with pytest.raises(VisionError, match=message):
        true_scale(photo, [[10, 10], [90, 10], [90, 50], [10, 50]], length, width)
