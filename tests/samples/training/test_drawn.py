import numpy as np
import pytest

from samples.training.drawn import faults_drawn
from samples.training.made import BITS, SHAPE

FAULTS = ("knot", "crack", "pocket", "stain")


def plain(tone: int = 150) -> np.ndarray:
    rng = np.random.default_rng(3)
    rings = rng.normal(0, 6, (SHAPE[0], 1, 1))
    return np.clip(tone + rings + rng.normal(0, 2, (*SHAPE, 3)), 0, 255).astype(np.uint8)


def drawn(seed: int, off: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    off = np.zeros(SHAPE, np.bool_) if off is None else off
    return faults_drawn(plain(), np.zeros(SHAPE, np.uint8), off, 2.0, np.random.default_rng(seed))


def test_a_seed_draws_the_same_faults_again():
    assert all((one == other).all() for one, other in zip(drawn(5), drawn(5), strict=True))


def test_every_kind_comes_up_and_nothing_but_faults():
    seen = np.bitwise_or.reduce([np.bitwise_or.reduce(drawn(seed)[1], axis=None) for seed in range(30)])
    assert int(seen) == sum(BITS[name] for name in FAULTS)


@pytest.mark.parametrize("seed", range(8))
def test_where_a_fault_is_said_to_be_the_wood_looks_otherwise(seed: int):
    picture, bits = drawn(seed)
    change = np.abs(picture.astype(float) - plain()).mean(axis=2)
    if (bits > 0).any():
        assert np.median(change[bits > 0]) > 2 * np.median(change[bits == 0]) + 2


@pytest.mark.parametrize("seed", range(8))
def test_nothing_is_said_to_be_where_there_is_no_wood(seed: int):
    off = np.zeros(SHAPE, np.bool_)
    off[: SHAPE[0] // 2] = True
    assert not drawn(seed, off)[1][off].any()
