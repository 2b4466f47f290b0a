from dataclasses import replace

import cv2
import numpy as np
import pytest

from vision.errors import VisionError
from vision.join import ChalkMark, Piece, joined

LENGTH, WIDTH, SCALE = 2000.0, 150.0, 2.0


def grain(seed: int = 0) -> np.ndarray:
    """A board's face: streaks along the grain that come and go, at SCALE."""
    rng = np.random.default_rng(seed)
    rough = rng.normal(0, 1, (int(WIDTH * SCALE), int(LENGTH * SCALE))).astype(np.float32)
    streaks = cv2.GaussianBlur(rough, (0, 0), sigmaX=9, sigmaY=1.0)
    return np.clip(160 + 22 * streaks / streaks.std(), 0, 255).astype(np.uint8)


def cut(
    face: np.ndarray,
    start: float,
    end: float,
    *,
    stretch: float = 1.0,
    seed: int = 0,
    light: float = 0.2,
    lean: float = 0.0,
) -> Piece:
    """A piece from `start` to `end` mm whose own millimetres are wrong by `stretch`, in its own light.

    With `lean` its far edge is so much longer than its datum edge in its own millimetres.
    """
    rng = np.random.default_rng(seed)
    columns = round((end - start) / stretch * SCALE)
    x = start + (np.arange(columns) + 0.5) / SCALE * stretch
    rows = np.arange(face.shape[0], dtype=np.float32)
    slant = np.linspace(-0.5, 0.5, columns) * lean * SCALE
    at = (x * SCALE - 0.5 + (rows[:, None] / rows.size - 0.5) * slant).astype(np.float32)
    grey = cv2.remap(face, at, np.repeat(rows[:, None], columns, 1), cv2.INTER_LINEAR).astype(np.float32)
    grey *= 1 + light * np.linspace(-1, 1, columns)
    grey += rng.normal(0, 4, grey.shape)
    return Piece(np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2), SCALE)


def test_three_pieces_make_the_board_again() -> None:
    face = grain()
    pieces = [
        cut(face, 0, 800, stretch=1.002, seed=1),
        cut(face, 580, 1380, stretch=0.998, seed=2, light=-0.2),
        cut(face, 1200, 2000, stretch=1.001, seed=3),
    ]
    board = joined(pieces, LENGTH)
    assert not any(join.weak for join in board.joins)
    assert board.notes == ()
    assert board.starts_mm == pytest.approx((0.0, 580.0, 1200.0), abs=1.0)
    assert board.stretches == pytest.approx((1.002, 0.998, 1.001), abs=0.002)
    assert board.picture.shape == (300, 4000, 3)
    assert abs(board.untied_mm - LENGTH) < 2e-3 * LENGTH
    # The grain of the joined picture is the board's, within a millimetre, from end to end.
    for x in (100, 700, 1300, 1900):
        window = face[:, int((x - 40) * SCALE) : int((x + 40) * SCALE)]
        near = board.picture[:, int((x - 44) * SCALE) : int((x + 44) * SCALE), 0]
        best = cv2.matchTemplate(near, window, cv2.TM_CCOEFF_NORMED).ravel()
        assert best.max() > 0.7
        assert abs(int(best.argmax()) / SCALE - 4.0) <= 1.5


def test_a_camera_that_leant_over_one_edge_is_found_out_by_the_neighbours() -> None:
    """Two long edges alone do not tell it, and one of them would come out 12 mm too short."""
    face = grain(7)
    pieces = [
        cut(face, 0, 800, seed=1),
        replace(cut(face, 560, 1400, seed=2, lean=12.0), lean_mm=15.0),
        cut(face, 1180, 2000, seed=3),
    ]
    board = joined(pieces, LENGTH)
    assert board.places.leans == pytest.approx((0.0, 12.0, 0.0), abs=2.0)
    for v in (-0.4, 0.4):
        true = 560 + 700 + 12.0 * v * (700 / 840 - 0.5)
        assert float(board.places.along(1, 700.0, v)) == pytest.approx(true, abs=0.6)
        assert float(board.places.within(1, true, v)) == pytest.approx(700.0, abs=0.6)
    for v in (0.15, 0.85):  # the grain of the joined picture is the board's along both edges
        lane = slice(round((v - 0.1) * 300), round((v + 0.1) * 300))
        window = face[lane, int(860 * SCALE) : int(940 * SCALE)]
        near = board.picture[lane, int(855 * SCALE) : int(945 * SCALE), 0]
        best = cv2.matchTemplate(near, window, cv2.TM_CCOEFF_NORMED).ravel()
        assert best.max() > 0.6
        assert abs(int(best.argmax()) / SCALE - 5.0) <= 1.0


def test_pieces_of_different_boards_are_a_weak_join_and_say_so() -> None:
    board = joined([cut(grain(1), 0, 1100), cut(grain(2), 900, 2000)], LENGTH)
    assert board.joins[0].weak
    assert "chalk a line" in board.notes[0]


def test_a_chalk_line_holds_what_the_grain_cannot() -> None:
    plain = np.full((300, 4000), 170, dtype=np.uint8)
    pieces = [cut(plain, 0, 1100, seed=1), cut(plain, 900, 2000, seed=2)]
    assert joined(pieces, LENGTH).joins[0].weak
    chalk = (ChalkMark(0, 1000.0, "a"), ChalkMark(1, 100.0, "a"))
    held = joined(pieces, LENGTH, chalk=chalk)
    assert held.joins[0].by_chalk
    assert not held.joins[0].weak
    assert held.starts_mm[1] == pytest.approx(900.0, abs=1.0)


def test_a_reading_on_a_chalk_line_is_a_tape_reading() -> None:
    face = grain(4)
    pieces = [cut(face, 0, 1100, stretch=1.01), cut(face, 900, 2000, stretch=1.01)]
    loose = joined(pieces, LENGTH)
    read = joined(pieces, LENGTH, chalk=(ChalkMark(0, 600 / 1.01, "a", 600.0),))
    assert read.error_mm < loose.error_mm
    assert read.stretches == pytest.approx((1.01, 1.01), abs=0.002)


def test_what_cannot_be_joined_is_refused() -> None:
    face = grain()
    with pytest.raises(VisionError, match="give two or more"):
        joined([cut(face, 0, 900)], LENGTH)
    with pytest.raises(VisionError, match="with overlaps"):
        joined([cut(face, 0, 900), cut(face, 1100, 2000)], LENGTH)
