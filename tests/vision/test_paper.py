import json
from pathlib import Path

import numpy as np
import pytest

from tests.vision.drawn import drawn_board
from vision.frame import Frame
from vision.lens import Lens
from vision.paper import found_paper
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


def test_a_board_alone_is_no_paper() -> None:
    assert found_paper(drawn_board(1500.0, 190.0).rgb) is None


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
