import numpy as np
import pytest

from tests.vision.drawn import Drawn, drawn_board
from vision.outline import find_outline, snapped


@pytest.fixture(scope="module")
def board() -> Drawn:
    return drawn_board(1500.0, 190.0)


def worst(corners: np.ndarray, truth: np.ndarray) -> float:
    return float(np.hypot(*(corners - truth).T).max())


def test_finds_the_corners_unaided(board: Drawn) -> None:
    found = find_outline(board.rgb)
    assert found
    assert worst(found.corners_px, board.corners_px) < 0.5
    assert found.confidence > 0.5


def test_snaps_corners_set_by_hand(board: Drawn) -> None:
    by_hand = board.corners_px + np.array([[6, -4], [-5, 5], [4, 6], [-6, -5]])
    found = snapped(board.rgb, by_hand)
    assert worst(found.corners_px, board.corners_px) < 0.3


def test_an_empty_bench_is_missed_with_a_reason() -> None:
    bench = np.clip(np.random.default_rng(3).normal(120, 6, (300, 400, 3)), 0, 255).astype(np.uint8)
    found = find_outline(bench)
    assert not found or found.confidence < 0.5


def test_a_sheet_of_paper_beside_the_board_is_not_the_board(board: Drawn) -> None:
    rgb = board.rgb.copy()
    rgb[60:220, 500:730] = 250
    found = find_outline(rgb)
    assert found
    assert worst(found.corners_px, board.corners_px) < 0.5
