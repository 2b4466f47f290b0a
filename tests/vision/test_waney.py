import numpy as np
import pytest

from tests.vision.drawn import FOCAL_35MM, Drawn, camera_frame, drawn_board
from vision.errors import VisionError
from vision.photo import Photo
from vision.rectify import true_scale
from vision.waney import _smooth, waney_outline

LENGTH, WIDTH, BOW = 1200.0, 220.0, 18.0


def bow(x: np.ndarray) -> np.ndarray:
    return BOW * 4 * x / LENGTH * (1 - x / LENGTH)


@pytest.fixture(scope="module")
def board() -> Drawn:
    return drawn_board(LENGTH, WIDTH, frame=camera_frame(LENGTH, WIDTH), crook=BOW)


def test_a_bent_edge_is_followed_point_by_point(board: Drawn) -> None:
    ring = np.array(waney_outline(board.rgb, board.frame, LENGTH, WIDTH))
    far = int(np.argmax(ring[:, 0]))  # the datum edge runs to the far end, then the other edge comes back
    upper, lower = ring[: far + 1], ring[far + 1 :]
    assert upper[:, 1] == pytest.approx(bow(upper[:, 0]), abs=1.6)
    assert lower[:, 1] == pytest.approx(WIDTH + bow(lower[:, 0]), abs=1.6)
    assert 8 < len(ring) < 80


def test_bark_is_not_wood(board: Drawn) -> None:
    """A dark band 14 mm wide along the far edge, unlike the bench, and a knot at the datum edge."""
    rows, columns = np.mgrid[: board.rgb.shape[0], : board.rgb.shape[1]]
    at = board.frame.to_mm(np.stack([columns, rows], axis=-1))
    across = at[..., 1] - bow(at[..., 0])
    on = (at[..., 0] > 0) & (at[..., 0] < LENGTH)
    rgb = board.rgb.copy()
    rgb[on & (across > WIDTH - 14) & (across < WIDTH)] = (70, 46, 34)
    rgb[on & (across > 0) & (across < 9) & (np.abs(at[..., 0] - 500) < 9)] = (70, 46, 34)
    ring = np.array(waney_outline(rgb, board.frame, LENGTH, WIDTH))
    far = int(np.argmax(ring[:, 0]))
    upper, lower = ring[: far + 1], ring[far + 1 :]
    assert lower[:, 1] == pytest.approx(WIDTH - 14 + bow(lower[:, 0]), abs=2.5)
    assert upper[:, 1] == pytest.approx(bow(upper[:, 0]), abs=1.6)


def test_the_picture_covers_all_of_a_waney_board(board: Drawn) -> None:
    made = true_scale(
        Photo(board.rgb, FOCAL_35MM),
        board.corners_px,
        LENGTH,
        WIDTH,
        widths_mm=((0.0, WIDTH), (LENGTH, WIDTH)),
        waney=True,
    )
    assert made.width_mm == pytest.approx(WIDTH + BOW, abs=2.5)
    assert made.picture.shape[0] == pytest.approx(made.width_mm * 2, abs=1)
    ys = [y for _, y in made.outline_mm]
    assert min(ys) == pytest.approx(0.0, abs=1e-6)
    assert max(ys) == pytest.approx(made.width_mm, abs=1e-6)


def test_where_no_edge_is_seen_the_maker_draws_it() -> None:
    bench = np.full((800, 1200, 3), (190, 150, 105), dtype=np.uint8)
    bench[:, ::2] = (60, 64, 70)  # nothing that could be one board
    with pytest.raises(VisionError, match="by hand"):
        waney_outline(bench[:, ::-1], camera_frame(LENGTH, WIDTH, offset=(0.0, 900.0)), LENGTH, WIDTH)


def test_an_edge_is_followed_to_its_very_end() -> None:
    """Medians over five stations laid an edge that swings at an end 10 mm beside it there."""
    x = np.arange(2.0, 400.0, 10.0)
    swings = 30.0 * np.exp(-x / 40.0)
    assert np.abs(_smooth(swings) - swings).max() < 1.5
    odd = swings.copy()
    odd[0] += 40.0  # a corner taken for the edge
    assert abs(_smooth(odd)[0] - swings[0]) < 8.0
