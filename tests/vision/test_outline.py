import numpy as np
import pytest

from tests.vision.drawn import Drawn, camera_frame, drawn_board
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


def test_a_bench_of_the_same_wood_is_told_from_the_board_by_its_edges(board: Drawn) -> None:
    rng = np.random.default_rng(2)
    planks = np.repeat(rng.normal(0, 9, 16), 50)[:, None] + rng.normal(0, 4, (800, 1200))
    x, y = np.meshgrid(np.arange(1200), np.arange(800))
    at = board.frame.to_mm(np.stack([x, y], axis=-1))
    on = (at[..., 0] > 0) & (at[..., 0] < 1500) & (at[..., 1] > 0) & (at[..., 1] < 190)
    bench = np.array([176.0, 146.0, 104.0]) + planks[..., None]
    bench[::50] *= 0.6  # gaps between the planks: long straight lines too
    rgb = np.where(on[..., None], board.rgb, np.clip(bench, 0, 255)).astype(np.uint8)
    found = find_outline(rgb)
    assert found
    assert worst(found.corners_px, board.corners_px) < 1.5


def test_the_arris_is_measured_not_the_edge_that_shows_beside_it() -> None:
    board = drawn_board(1500.0, 190.0, streak=1.0)
    rgb = board.rgb.copy()
    x, y = np.meshgrid(np.arange(1200), np.arange(800))
    at = board.frame.to_mm(np.stack([x, y], axis=-1))
    side = (at[..., 0] > 0) & (at[..., 0] < 1500) & (at[..., 1] > 190) & (at[..., 1] < 204)
    rgb[side] = np.clip(
        np.array([172, 138, 94]) + np.random.default_rng(0).normal(0, 3, (side.sum(), 3)), 0, 255
    )
    found = snapped(rgb, board.corners_px + 2.0)
    assert worst(found.corners_px, board.corners_px) < 1.0
    assert found.edges[2] is not None
    assert 6 < found.edges[2].side_px < 11


def test_a_board_that_runs_out_of_the_picture_is_never_taken_as_sure() -> None:
    frame = camera_frame(1500.0, 190.0, fill=1.15)
    found = find_outline(drawn_board(1500.0, 190.0, frame=frame).rgb)
    assert not found or found.confidence < 0.5


def test_an_upright_board_is_read_from_its_upper_end(board: Drawn) -> None:
    found = find_outline(np.ascontiguousarray(np.rot90(board.rgb, -1)))  # turned clockwise
    assert found
    first, second = found.corners_px[:2]
    assert second[1] > first[1] + 500  # the datum edge runs downwards, on the right
    assert first[0] > found.corners_px[3][0]


@pytest.mark.parametrize("size", [(600, 800), (40, 30), (1, 1), (12, 2000)])
def test_a_picture_of_one_colour_or_of_hardly_any_size_is_missed(size: tuple[int, int]) -> None:
    assert not find_outline(np.full((*size, 3), 128, dtype=np.uint8))
