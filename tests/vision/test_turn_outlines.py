"""A waney board's outlines tell how it was turned over: by the way it swells, and by the way it bends."""

import numpy as np
import pytest

from layout.stock import Turn
from vision.reverse import registered
from vision.turn_outlines import rolled_by_outlines

LENGTH, WIDTH, THICK = 1000.0, 220.0, 30.0
X = np.linspace(0.0, LENGTH, 101)


def ring(upper: np.ndarray, lower: np.ndarray) -> np.ndarray:
    return np.concatenate([np.column_stack([X, upper]), np.column_stack([X, lower])[::-1]])


def both(swells: float, bend: float, turned: Turn) -> tuple[np.ndarray, np.ndarray]:
    """Outlines of a front and of a narrower back as seen, of a board that swells and bends by so much."""
    middle, half = (
        WIDTH / 2 + bend * np.sin(np.pi * X / LENGTH),
        80.0 - swells * np.sin(3.0 * X / LENGTH) ** 8 * X / LENGTH,
    )
    upper, lower = middle - half + 9.0, middle + half - 6.0 - 2.0 * np.sin(X / 150.0)
    if turned is Turn.ROLLED:
        upper, lower = WIDTH - lower, WIDTH - upper
    else:
        upper, lower = upper[::-1], lower[::-1]
    return ring(middle - half, middle + half), ring(upper, lower)


@pytest.mark.parametrize("turned", list(Turn))
@pytest.mark.parametrize(("swells", "bend"), [(40.0, 0.0), (0.0, 12.0), (-20.0, 10.0)])
def test_a_swelling_and_a_bend_tell_the_turn(turned: Turn, swells: float, bend: float) -> None:
    found = rolled_by_outlines(*both(swells, bend, turned), LENGTH, THICK)
    assert found > 2.0 if turned is Turn.ROLLED else found < -2.0


def test_a_straight_board_and_one_that_only_tapers_tell_nothing() -> None:
    """A taper is as it was read, from the end that the turn says."""
    front, back = both(0.0, 0.0, Turn.ROLLED)
    assert abs(rolled_by_outlines(front, back, LENGTH, THICK)) < 1.0
    for ring in (front, back):
        ring[len(X) :, 1] += 0.03 * ring[len(X) :, 0]
    assert abs(rolled_by_outlines(front, back, LENGTH, THICK)) < 1.0


@pytest.mark.parametrize("turned", list(Turn))
def test_the_other_turn_is_offered_and_the_bench_beside_the_wood_is_not_looked_at(turned: Turn) -> None:
    front, back = both(30.0, 14.0, turned)
    rng = np.random.default_rng(1)
    pictures = []
    for seen in (front, back):
        picture = rng.normal(60, 25, (int(WIDTH), int(LENGTH), 3))  # a bench full of dark things
        half = len(X)
        rows = np.arange(WIDTH)[:, None]
        upper, lower = (np.interp(np.arange(LENGTH), X, y) for y in (seen[:half, 1], seen[half:][::-1, 1]))
        wood = (rows > upper) & (rows < lower)
        picture[wood] = rng.normal(180, 6, (int(wood.sum()), 1))
        pictures.append(np.clip(picture, 0, 255).astype(np.uint8))
    outlines = [tuple((float(x), float(y)) for x, y in seen) for seen in (front, back)]
    wrong = Turn.TUMBLED if turned is Turn.ROLLED else Turn.ROLLED
    found = registered(
        pictures[0],
        pictures[1],
        1.0,
        turned=wrong,
        front_outline=outlines[0],
        back_outline=outlines[1],
        waney_mm=THICK,
    )
    assert found.better is turned
    assert "change the turn" in found.message
