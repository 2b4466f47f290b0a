"""A crooked piece is found where the wood's own edges are cut off, not where straight ones would be."""

import numpy as np
import pytest

from tests.vision.drawn import camera_frame, drawn_board
from vision.frame import Frame
from vision.piece_outline import find_piece_outline
from vision.waney_piece import stands_out

LENGTH, WIDTH, VIEW, CROOK = 2600.0, 220.0, 1250.0, 50.0


def crook(x: np.ndarray) -> np.ndarray:
    return CROOK * 4 * x / LENGTH * (1 - x / LENGTH)


def piece(start: float) -> tuple[np.ndarray, Frame]:
    local = camera_frame(VIEW, WIDTH, fill=1.0)
    frame = Frame(np.array([[1, 0, start], [0, 1, crook(np.array(start))], [0, 0, 1.0]]) @ local.to_board)
    return drawn_board(LENGTH, WIDTH, frame=frame, crook=CROOK).rgb, frame


@pytest.mark.parametrize("start", [-90.0, 600.0])
def test_corners_lie_on_the_edges_and_at_the_end(start: float) -> None:
    rgb, frame = piece(start)
    found = find_piece_outline(rgb, (start > 0, True), straight=False, width_mm=WIDTH)
    assert found
    at = frame.to_mm(found.corners_px)
    assert at[:, 1] == pytest.approx(np.array([0, 0, WIDTH, WIDTH]) + crook(at[:, 0]), abs=3.0)
    if start < 0:
        assert at[[0, 3], 0] == pytest.approx(0.0, abs=3.0)
    assert found.confidence < 0.5


def test_what_does_not_part_from_its_ground_is_no_board() -> None:
    rgb, frame = piece(600.0)
    board = frame.to_px([[650, 45], [1800, 45], [1800, WIDTH + 80], [650, WIDTH + 80]])
    within = frame.to_px([[650, 150], [1800, 150], [1800, 230], [650, 230]])
    thin = frame.to_px([[650, 75], [1800, 75], [1800, 120], [650, 120]])
    assert stands_out(rgb, board) > 4 * stands_out(rgb, within)
    assert stands_out(rgb, thin) == 0.0
