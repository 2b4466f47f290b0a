from itertools import pairwise

import numpy as np
import pytest

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
@pytest.mark.parametrize("shape", [(40, 60), (128, 512), (300, 1200)])
def test_any_size_of_stretch_is_covered(shape):
    chances = learned.chances_of(stretch(*shape), np.ones(shape, np.bool_))
    assert chances["knot"].shape == shape
    assert np.isfinite(chances["knot"]).all()


def test_without_weights_it_says_nothing(monkeypatch):
    monkeypatch.setattr(learned, "_net", lambda: None)
    assert learned.chances_of(stretch(), np.ones((90, 300), np.bool_)) is None


@pytest.mark.parametrize("length", [100, 128, 129, 300, 1000])
def test_tiles_cover_a_length_and_overlap(length):
    starts = learned._starts(length, 128)
    assert starts[0] == 0
    assert length <= 128 or starts[-1] == length - 128
    assert all(b - a <= 128 - learned._OVERLAP for a, b in pairwise(starts))
