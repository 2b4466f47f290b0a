import cv2
import numpy as np
import pytest
from shapely import Polygon

from layout.outline import bounds_of
from layout.stock import DefectKind
from tests.vision.suggest.made_boards import PX_PER_MM, clear_board, photographed, with_crack
from vision.suggest.every import suggest_marks
from vision.suggest.fissures import _one_line

FISSURES = (DefectKind.CHECK, DefectKind.SPLIT)


def fissures(board):
    return [mark for mark in suggest_marks(photographed(board), PX_PER_MM) if mark.kind in FISSURES]


@pytest.mark.parametrize("rows", [slice(0, 3), slice(-4, None)])
def test_the_shadow_along_an_edge_is_no_split(rows):
    board = clear_board()
    board[rows] *= 0.35
    assert fissures(board) == []


def test_the_outline_follows_the_crack_and_not_a_cloud_round_it():
    (mark,) = fissures(with_crack(clear_board(), 150, 60, 120))
    x0, _, x1, _ = bounds_of(mark.outline)
    assert Polygon(mark.outline).area / (x1 - x0) < 3.5
    assert abs(x1 - x0 - 120) < 25


def test_a_bent_crack_is_followed_round_its_bend():
    board = clear_board()
    x = np.arange(300, 600)
    bow = np.stack([x, 120 + 12 * np.sin((x - 300) / 300 * np.pi)], axis=1).round().astype(np.int32)
    cv2.polylines(board, [bow], False, (60, 45, 30), 2)
    found = [Polygon(mark.outline) for mark in fissures(board)]
    assert found
    middle = [
        shape for shape in found if shape.buffer(1.5).intersects(Polygon([(224, 65), (226, 65), (225, 67)]))
    ]
    assert middle, "the top of the bow lies on a mark"


def test_two_cracks_side_by_side_stay_two():
    board = with_crack(with_crack(clear_board(), 150, 50, 120, rise=0), 150, 58, 120, rise=0)
    assert len(fissures(board)) == 2


def test_a_line_is_followed_without_jumping_to_one_beside_it():
    """Two lines in one patch, the stronger now this one, now that: one of them is kept to."""
    strength = np.zeros((24, 200), np.float32)
    strength[4], strength[18] = 3.0, 2.0
    strength[18, 80:120] = 5.0
    assert set(_one_line(strength)) == {4}


def test_a_mark_ends_where_its_crack_fades_and_another_begins():
    """Two cracks in line with 16 mm of sound wood between them: a mark each, not one over the gap."""
    board = with_crack(with_crack(clear_board(), 100, 60, 50, rise=0), 166, 60, 90, rise=0)
    (a0, _, a1, _), (b0, _, b1, _) = sorted(bounds_of(mark.outline) for mark in fissures(board))
    assert a0 < 105 < 145 < a1
    assert a1 < b0 < 171 < 251 < b1


def test_a_scratch_on_the_bench_beyond_the_edge_is_no_crack():
    board = clear_board()
    board[:90] = 40 + np.random.default_rng(1).normal(0, 1.5, board[:90].shape)
    cv2.line(board, (120, 40), (420, 42), (2, 2, 2), 2)
    assert fissures(board) == []
