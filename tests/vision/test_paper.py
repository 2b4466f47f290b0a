import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.vision.drawn import Drawn, drawn_board
from vision.frame import Frame
from vision.lens import Lens
from vision.paper import found_card, found_paper
from vision.photo import read_photo
from vision.reference import KnownSize, rough_check


def test_a_sheet_is_found_and_agrees_with_the_tape() -> None:
    board = drawn_board(1500.0, 190.0)
    w, h = KnownSize.A4.value
    true = board.frame.to_px(np.array([[0, 0], [w, 0], [w, h], [0, h]]) + np.array([500.0, -260.0]))
    rgb = board.rgb.copy()
    x, y = np.meshgrid(np.arange(rgb.shape[1]), np.arange(rgb.shape[0]))
    at = board.frame.to_mm(np.stack([x, y], axis=-1)) - np.array([500.0, -260.0])
    rgb[(at[..., 0] > 0) & (at[..., 0] < w) & (at[..., 1] > 0) & (at[..., 1] < h)] = 246
    found = found_paper(rgb)
    assert found is not None
    assert np.hypot(*(found - true).T).max() < 1.5
    assert rough_check(board.frame, found, KnownSize.A4)


def test_a_board_alone_is_no_paper_and_no_card() -> None:
    board = drawn_board(1500.0, 190.0, dots=((300.0, 90.0), (800.0, 60.0)))
    assert found_paper(board.rgb) is None
    assert found_card(board.rgb, board.frame, 1500.0, 190.0) is None


@pytest.mark.parametrize(
    ("colour", "x", "y", "angle"),
    [
        ((40, 60, 150), 420.0, 95.0, 0.3),
        ((215, 60, 50), 900.0, 260.0, -0.5),
        ((225, 225, 215), 1100.0, -70.0, 1.5),
    ],
)
def test_a_bank_card_is_found_on_the_board_and_beside_it(
    colour: tuple[int, int, int], x: float, y: float, angle: float
) -> None:
    board = drawn_board(1500.0, 190.0)
    rgb, true = with_card(board, (x, y), angle, colour)
    found = found_card(rgb, board.frame, 1500.0, 190.0)
    assert found is not None
    assert max(float(np.hypot(*(true - corner).T).min()) for corner in found) < 1.5
    assert rough_check(board.frame, found, KnownSize.BANK_CARD)


def with_card(
    board: Drawn, middle: tuple[float, float], angle: float, colour: tuple[int, int, int]
) -> tuple[np.ndarray, np.ndarray]:
    """The photograph with a round-cornered card in it, and where its sides meet [px]."""
    half = np.array(KnownSize.BANK_CARD.value) / 2
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    rows, columns = board.rgb.shape[:2]
    fine = (np.stack(np.meshgrid(np.arange(3 * columns), np.arange(3 * rows)), axis=-1) + 0.5) / 3 - 0.5
    on = np.abs((board.frame.to_mm(fine) - middle) @ spin) - (half - 3.18)  # ISO/IEC 7810, from memory
    inside = (np.hypot(*np.moveaxis(np.maximum(on, 0.0), -1, 0)) < 3.18).astype(np.float32)
    share = cv2.resize(inside, (columns, rows), interpolation=cv2.INTER_AREA)[..., None]
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half @ spin.T + middle
    rgb = board.rgb * (1 - share) + np.array(colour) * share
    return rgb.astype(np.uint8), board.frame.to_px(corners)


@pytest.mark.data
def test_sheets_on_the_bench_photos(shared_data: Path) -> None:
    """Exact truth: corners of the sheet, and a taped board a tenth too long is told from a right one."""
    seen = 0
    for path in sorted((shared_data / "data" / "bench_photos").glob("*.json"))[:6]:
        facts = json.loads(path.read_text())
        found = found_paper(read_photo(path.with_suffix(".jpg").read_bytes()).rgb)
        if facts["a4_corners_px"] is None:
            assert found is None
            continue
        assert found is not None
        true = np.array(facts["a4_corners_px"])
        assert max(float(np.hypot(*(true - corner).T).min()) for corner in found) < 4.0
        camera, bent = np.array(facts["camera_matrix"]), facts["dist_coeffs"]
        lens = Lens((camera[0, 2], camera[1, 2]), camera[0, 0], bent[0], bent[1])
        size = facts["board_length_mm"], facts["board_width_mm"]
        assert rough_check(Frame.from_corners(facts["board_corners_px"], *size, lens), found, KnownSize.A4)
        wrong = Frame.from_corners(facts["board_corners_px"], size[0] * 1.1, size[1] * 1.1, lens)
        assert not rough_check(wrong, found, KnownSize.A4)
        seen += 1
    assert seen >= 3
