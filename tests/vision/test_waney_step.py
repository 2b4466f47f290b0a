import numpy as np
import pytest

from vision.waney_step import stepped

WOOD, BARK, BENCH = (70.0, 8.0, 28.0), (28.0, 6.0, 8.0), (55.0, 0.0, -2.0)
ROWS, STATIONS, PER_MM = 240, 60, 2.0


def seen(edge: np.ndarray, bark_rows: float) -> np.ndarray:
    """Colours of a bench, then bark, then wood from the edge on, each border a part of a row."""
    rows = np.arange(ROWS)[:, None] + 1.0
    wood = np.clip(rows - edge[None, :], 0, 1)[..., None]
    bark = np.clip(rows - edge[None, :] + bark_rows, 0, 1)[..., None]
    plain = wood * WOOD + (1 - wood) * (bark * np.array(BARK) + (1 - bark) * np.array(BENCH))
    noise = np.random.default_rng(2).normal(0, 1.5, plain.shape)
    return np.asarray(plain + noise, dtype=np.float32)


@pytest.mark.parametrize("way", [1, -1])
def test_the_arris_is_found_though_colours_suggest_the_bark(way: int) -> None:
    edge = 90.0 + 8.0 * np.sin(np.arange(STATIONS) / 12.0)
    lab, border = seen(edge, 24.0), edge - 15.0
    if way < 0:
        lab, border, edge = lab[::-1], ROWS - 1 - border, ROWS - edge
    found = stepped(lab, border, way, PER_MM)
    assert found + (0 if way > 0 else 1) == pytest.approx(edge, abs=0.3)


def test_a_border_astray_over_a_quarter_of_the_board_comes_back() -> None:
    edge = np.full(STATIONS, 110.0)
    border = edge.copy()
    border[10:25] = 20.0
    assert stepped(seen(edge, 20.0), border, 1, PER_MM) == pytest.approx(edge, abs=0.3)


def test_where_no_border_is_suggested_none_is_made_up() -> None:
    nothing = np.full(STATIONS, np.nan)
    assert np.isnan(stepped(seen(np.full(STATIONS, 90.0), 20.0), nothing, 1, PER_MM)).all()
