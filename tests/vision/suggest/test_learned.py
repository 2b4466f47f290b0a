import numpy as np
import pytest

from tests.vision.suggest.made_boards import clear_board, photographed, with_crack, with_knot
from vision.suggest import learned

needs_weights = pytest.mark.skipif(
    learned._net() is None, reason="the net's weights are not in this checkout"
)


def stretch(rows=90, columns=300):
    rng = np.random.default_rng(3)
    return rng.normal((180, 140, 100), 12, (2 * rows, 2 * columns, 3)).clip(0, 255).astype(np.uint8)


@needs_weights
def test_every_class_has_a_chance_at_every_pixel():
    chances = learned.chances_of(stretch(), np.ones((90, 300), np.bool_))
    assert tuple(chances) == learned.CLASSES
    for plane in chances.values():
        assert plane.shape == (90, 300)
        assert 0 <= plane.min() <= plane.max() <= 1


@needs_weights
def test_the_same_picture_has_the_same_answer_every_time():
    wood = np.ones((90, 300), np.bool_)
    first = learned.chances_of(stretch(), wood)
    learned.chances_of(stretch()[::-1], wood)  # another picture in between
    again = learned.chances_of(stretch(), wood)
    assert all(np.array_equal(first[name], again[name]) for name in learned.CLASSES)


@needs_weights
def test_what_it_says_of_a_place_does_not_hang_on_what_lies_far_from_it():
    long = stretch(96, 800)
    whole = learned.chances_of(long, np.ones((96, 800), np.bool_))["knot"]
    half = learned.chances_of(long[:, :1088], np.ones((96, 544), np.bool_))["knot"]
    assert np.abs(whole[:, :200] - half[:, :200]).max() < 0.02


@needs_weights
@pytest.mark.parametrize("shape", [(40, 60), (128, 512), (300, 1200)])
def test_any_size_of_stretch_is_covered(shape):
    chances = learned.chances_of(stretch(*shape), np.ones(shape, np.bool_))
    assert chances["knot"].shape == shape
    assert np.isfinite(chances["knot"]).all()


def test_without_weights_it_says_nothing(monkeypatch):
    monkeypatch.setattr(learned, "_net", lambda: None)
    assert learned.chances_of(stretch(), np.ones((90, 300), np.bool_)) is None


@needs_weights
def test_opencv_computes_what_another_runtime_does():
    """ONNX Runtime's answers for one painted board, noted once; OpenCV 5.0 is wrong for filters of 1 x 9."""
    board = photographed(with_crack(with_knot(clear_board(400, 120), 150, 50, 18), 220, 80, 120))
    chances = learned.chances_of(board, np.ones((120, 400), np.bool_))
    noted = {
        "knot": (0.00641, 0.94028, 0.05132),
        "crack": (0.04375, 0.17618, 0.87798),
        "pocket": (0.00098, 0.01104, 0.07476),
        "stain": (0.0198, 0.01624, 0.13142),
        "pith": (2e-05, 0.0, 0.00039),
        "sapwood": (0.27396, 0.24857, 0.12659),
        "wane": (2e-05, 0.00036, 0.00088),
    }
    for name, told in noted.items():
        plane = chances[name]
        assert (plane.mean(), plane[50, 150], plane[82, 280]) == pytest.approx(told, abs=2e-3), name


def test_pixels_are_laid_into_cells_that_begin_half_a_one_earlier():
    """The net's first layer steps four pixels and looks two pixels back; looked up here one by one."""
    rgb = stretch(8, 12)
    cells = learned._in_cells(rgb, np.ones((8, 12), np.bool_), 16, 24)
    assert cells.shape == (1, 48, 5, 7)
    middle = np.median(rgb[::2, ::2].reshape(-1, 3), axis=0) / 255
    pixels = np.clip(rgb / 255 / (middle + 0.02) - 1, -1.5, 1.5)
    padded = np.pad(pixels, ((2, 2), (2, 2), (0, 0)))
    for channel in range(3):
        for y in range(4):
            for x in range(4):
                plane = cells[0, (channel * 4 + y) * 4 + x]
                assert plane == pytest.approx(padded[y::4, x::4, channel], abs=0.02)


def test_planes_of_two_by_two_are_laid_out_as_pixels():
    said = np.arange(4 * 2 * 3, dtype=np.float32).reshape(4, 2, 3)
    plane = learned._in_pixels(said)
    assert plane.shape == (4, 6)
    for row in range(4):
        for column in range(6):
            assert plane[row, column] == said[2 * (row % 2) + column % 2, row // 2, column // 2]
