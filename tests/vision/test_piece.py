import numpy as np
import pytest

from tests.vision.drawn import FOCAL_35MM, camera_frame, drawn_board
from vision.errors import VisionError
from vision.frame import Frame
from vision.join import Piece, joined
from vision.photo import Photo
from vision.piece import true_piece

LENGTH, WIDTH, VIEW = 2600.0, 170.0, 1250.0
SPECKS = tuple(
    (float(x), float(y))
    for x, y in zip(
        np.random.default_rng(8).uniform(20, LENGTH - 20, 70),
        np.random.default_rng(9).uniform(15, 155, 70),
        strict=True,
    )
)


def photographed(start: float, seed: int, tilt: tuple[float, float, float]) -> tuple[Photo, Frame]:
    """The stretch of the board from `start` on, filling the picture's width."""
    local = camera_frame(VIEW, WIDTH, tilt=tilt, fill=1.0)
    moved = np.array([[1, 0, start], [0, 1, 0], [0, 0, 1.0]]) @ local.to_board
    frame = Frame(moved)
    board = drawn_board(LENGTH, WIDTH, frame=frame, dots=SPECKS, seed=seed, face_seed=1)
    return Photo(board.rgb, FOCAL_35MM), frame


def piece(
    start: float, end: float, seed: int, tilt: tuple[float, float, float]
) -> tuple[Piece, Frame, Frame]:
    photo, frame = photographed(start - 20 if start > 0 else -25.0, seed, tilt)
    corners = frame.to_px([[start, 0], [end, 0], [end, WIDTH], [start, WIDTH]])
    made, own = true_piece(photo, corners, WIDTH, open_ends=(start > 0, end < LENGTH))
    return made, own, frame


@pytest.fixture(scope="module")
def pieces() -> list[tuple[Piece, Frame, Frame]]:
    return [
        piece(0.0, 1180.0, 1, (3.0, -2.0, 1.0)),
        piece(760.0, 1920.0, 2, (-3.0, 3.0, -1.0)),
        piece(1440.0, LENGTH, 3, (2.0, 2.0, 2.0)),
    ]


def test_a_piece_is_as_long_as_its_width_and_the_lens_say(pieces: list[tuple[Piece, Frame, Frame]]) -> None:
    for (made, _, _), true in zip(pieces, (1180.0, 1160.0, 1160.0), strict=True):
        assert made.length_mm == pytest.approx(true, rel=0.02)
        assert abs(made.length_mm / true - 1) < 3 * made.spread


def test_photographs_of_a_long_board_become_one_true_picture(
    pieces: list[tuple[Piece, Frame, Frame]],
) -> None:
    board = joined([made for made, _, _ in pieces], LENGTH)
    assert not any(join.weak for join in board.joins)
    off = []
    for number, (made, own, frame) in enumerate(pieces):
        for x, y in SPECKS:
            u, v = own.to_mm(frame.to_px([x, y]))
            if 0 < u < made.length_mm:
                off.append((abs(float(board.places.along(number, u, v / WIDTH - 0.5)) - x), abs(v - y)))
    along, across = np.percentile(off, 95, axis=0)
    assert along < 2.5
    assert across < 1.5
    assert board.error_mm > along


def test_a_width_that_cannot_be_is_refused() -> None:
    photo = Photo(np.zeros((60, 90, 3), dtype=np.uint8))
    with pytest.raises(VisionError, match="taped width"):
        true_piece(photo, [[5, 5], [80, 5], [80, 40], [5, 40]], 0.0, open_ends=(True, True))
