import numpy as np
import pytest

from vision.light import evened, white_balanced

SCALE = 1.0


def board(seed: int = 0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    grain = rng.normal(0, 6, (150, 1)) + rng.normal(0, 2, (150, 1200))
    return np.clip(np.array([190, 150, 105]) + grain[..., None], 0, 255)


def lit(plain: np.ndarray, along: float, across: float) -> np.ndarray:
    height, width = plain.shape[:2]
    light = 1 + along * np.linspace(-1, 1, width)[None, :] + across * np.linspace(-1, 1, height)[:, None]
    return np.clip(plain * light[..., None], 0, 255).astype(np.uint8)


def unevenness(picture: np.ndarray) -> float:
    """Brightest over darkest of six stretches of the board, less one."""
    means = [part.mean() for part in np.array_split(picture.astype(float), 6, axis=1)]
    return float(max(means) / min(means) - 1)


def test_a_window_at_one_end_is_taken_out() -> None:
    seen = lit(board(), 0.3, 0.1)
    even = evened(seen, SCALE)
    assert unevenness(seen) > 0.5
    assert unevenness(even) < 0.12
    assert even.mean() == pytest.approx(seen.mean(), rel=0.06)


def test_a_knot_stays_as_dark_as_it_was() -> None:
    plain = board()
    plain[60:90, 580:620] *= 0.35
    even = evened(lit(plain, 0.2, 0.0), SCALE).astype(float)
    ratio = even[65:85, 590:610].mean() / even[65:85, 700:760].mean()
    assert ratio == pytest.approx(0.35, abs=0.04)


def test_sapwood_along_an_edge_stays() -> None:
    plain = board()
    plain[:40] *= 1.25
    even = evened(lit(plain, 0.2, 0.0), SCALE).astype(float)
    assert even[5:35].mean() / even[45:75].mean() > 1.12


def test_even_light_is_left_alone() -> None:
    seen = lit(board(), 0.0, 0.0)
    assert np.abs(evened(seen, SCALE).astype(int) - seen).max() <= 12


def test_paper_becomes_grey() -> None:
    yellow = np.full((10, 10, 3), (230, 210, 160), dtype=np.uint8)
    balanced = white_balanced(yellow, (230.0, 210.0, 160.0))
    assert np.ptp(balanced[0, 0].astype(int)) <= 1


@pytest.mark.parametrize("white", [(0.0, 100.0, 100.0), (300.0, 200.0, 200.0)])
def test_what_cannot_be_white_is_refused(white: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="white paper"):
        white_balanced(np.zeros((2, 2, 3), dtype=np.uint8), white)
