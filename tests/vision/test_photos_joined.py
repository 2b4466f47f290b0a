import numpy as np
import pytest

from tests.vision.test_piece import LENGTH, SPECKS, WIDTH, photographed
from vision.frame import Frame
from vision.photos_joined import PartSeen, PhotosJoined, joined_photos
from vision.piece import true_piece

SPANS = ((0.0, 1180.0), (760.0, 1920.0), (1440.0, LENGTH))
LEANS = ((2.0, -2.0, 1.0), (-5.0, 2.0, -1.0), (2.0, 2.0, 2.0))


@pytest.fixture(scope="module")
def parts() -> list[tuple[PartSeen, Frame]]:
    """Three photographs, the middle one from a camera that leans 5 degrees over one edge."""
    answer = []
    for number, (start, end) in enumerate(SPANS):
        photo, frame = photographed(start - 20 if start > 0 else -25.0, number + 1, LEANS[number])
        corners = frame.to_px([[start, 0], [end, 0], [end, WIDTH], [start, WIDTH]])
        answer.append((PartSeen(photo, corners, WIDTH), frame))
    return answer


@pytest.fixture(scope="module")
def made(parts: list[tuple[PartSeen, Frame]]) -> PhotosJoined:
    return joined_photos([part for part, _ in parts], LENGTH, shown_mm=WIDTH + 10.0)


def test_the_neighbours_square_a_piece_whose_camera_leant(
    parts: list[tuple[PartSeen, Frame]], made: PhotosJoined
) -> None:
    part = parts[1][0]
    alone, _ = true_piece(part.photo, part.corners_px, WIDTH, open_ends=(True, True))
    true = SPANS[1][1] - SPANS[1][0]
    assert abs(made.pieces[1].length_mm - true) < 0.5 * abs(alone.length_mm - true)
    assert made.pieces[1].lean_mm < 0.5 * alone.lean_mm
    assert abs(made.board.untied_mm - LENGTH) < 2e-3 * LENGTH


def test_every_place_of_the_joined_board_is_true(
    parts: list[tuple[PartSeen, Frame]], made: PhotosJoined
) -> None:
    off = []
    for number, (_, frame) in enumerate(parts):
        for x, y in SPECKS:
            u, v = made.frames[number].to_mm(frame.to_px([x, y]))
            if 0 < u < made.pieces[number].length_mm:
                place = made.board.places.along(number, u, v / WIDTH - 0.5)
                off.append((abs(float(place) - x), abs(v - y)))
    along, across = np.percentile(off, 95, axis=0)
    assert along < made.board.error_mm
    assert along < 0.001 * LENGTH
    assert across < 1.0
    assert made.board.picture.shape[0] == round((WIDTH + 10.0) * made.board.px_per_mm)
