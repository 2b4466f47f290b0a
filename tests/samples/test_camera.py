from dataclasses import replace

import cv2
import numpy as np
import pytest

from layout.stock import Face
from samples.wood.camera import Camera, camera_over, photograph
from samples.wood.light import Light
from samples.wood.picture import Shown, WoodClass
from samples.wood.sawn import SawnBoard
from tests.samples.boards import knotty, waney

STILL = Light(gradient=(0.0, 0.0), vignette=0.0, noise=0.0, blur=0.0)


def _dotted(board: SawnBoard) -> tuple[Shown, np.ndarray]:
    """A black board with white dots, and the dots' places in mm."""
    scale = 6.0
    rgb = np.zeros((round(board.width * scale), round(board.length * scale), 3), np.uint8)
    at = np.array([[x, y] for x in np.linspace(25, board.length - 25, 9) for y in (25.0, board.width - 25)])
    for x, y in at:
        centre = (round((x * scale - 0.5) * 16), round((y * scale - 0.5) * 16))
        cv2.circle(rgb, centre, round(6 * scale * 16), (255, 255, 255), -1, cv2.LINE_AA, 4)
    classes = np.zeros(rgb.shape[:2], np.uint8)
    return Shown(rgb, classes, np.zeros(rgb.shape[:2], np.float32), scale), at


def _camera(board: SawnBoard, k1: float, seed: int) -> Camera:
    camera = camera_over(board, np.random.default_rng(seed), 1500, 700, tilt=9.0)
    return replace(camera, k1=k1, k2=-0.2 * k1)


@pytest.mark.parametrize(("k1", "seed"), [(0.0, 1), (0.1, 2), (-0.1, 3)])
def test_the_picture_is_where_the_truth_says(k1: float, seed: int) -> None:
    """Middles of dots measured in the photograph against the projection: under a tenth of a pixel."""
    board = knotty()
    shown, at = _dotted(board)
    camera = _camera(board, k1, seed)
    photo = photograph(board, Face.FRONT, camera, 5, "concrete", STILL, quality=100, shown=shown, faults=())
    grey = cv2.cvtColor(cv2.imdecode(np.frombuffer(photo.jpeg, np.uint8), 1), cv2.COLOR_BGR2GRAY)
    offsets = []
    for x, y in at:
        # a disc's middle is not its picture's middle under tilt: compare with its projected rim's
        turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
        rim = np.column_stack([x + 6 * np.cos(turn), y + 6 * np.sin(turn), np.zeros(90)])
        ring = camera.project(rim)
        moments = cv2.moments(ring.astype(np.float32).reshape(-1, 1, 2))
        middle = np.array([moments["m10"], moments["m01"]]) / moments["m00"]
        left, top = np.floor(ring.min(axis=0)).astype(int) - 4
        right, low = np.ceil(ring.max(axis=0)).astype(int) + 5
        spot = grey[top:low, left:right].astype(float)
        spot = np.clip(spot - 20, 0, None)
        rows, columns = np.mgrid[top:low, left:right]
        found = np.array([(spot * columns).sum(), (spot * rows).sum()]) / spot.sum()
        offsets.append(np.hypot(*(found - middle)))
    assert max(offsets) < 0.1


def test_corners_are_the_faces_corners_and_the_edge_can_be_seen() -> None:
    """The ground point under a corner is seen elsewhere than the corner: the board has thickness."""
    board = knotty()
    camera = _camera(board, 0.05, 4)
    photo = photograph(board, Face.FRONT, camera, 5, "floor", STILL, faults=())
    low = camera.project(np.array([[0.0, 0.0, board.thickness], [board.length, 0.0, board.thickness]]))
    assert np.hypot(*(photo.corners_px[:2] - low).T).min() > 3.0
    assert (photo.corners_px > 0).all()


def test_faults_of_the_back_are_mirrored_in_its_photograph() -> None:
    board = knotty()
    camera, plain = _camera(board, 0.0, 6), _dotted(board)[0]
    front = photograph(board, Face.FRONT, camera, 5, "floor", STILL, shown=plain)
    back = photograph(board, Face.BACK, camera, 5, "floor", STILL, shown=plain, faults=front.faults)
    one, two = (photo.outlines_px["through"][0].mean(axis=0) for photo in (front, back))
    corners = front.corners_px
    share = [np.linalg.norm(p - corners[0]) / np.linalg.norm(corners[3] - corners[0]) for p in (one, two)]
    assert abs(one[0] - two[0]) < 40
    assert share[0] < share[1]


def test_a_waney_board_lets_the_ground_be_seen_beside_it() -> None:
    from samples.wood.picture import face_picture

    board = waney()
    shown = face_picture(board, Face.BACK, 1.0, fine=1)
    assert (shown.classes == WoodClass.NO_WOOD).any()
    camera = _camera(board, 0.0, 7)
    photo = photograph(board, Face.BACK, camera, 5, "concrete", STILL, faults=(), shown=shown)
    picture = cv2.imdecode(np.frombuffer(photo.jpeg, np.uint8), 1).astype(int)
    away = cv2.distanceTransform((shown.classes == WoodClass.NO_WOOD).astype(np.uint8), cv2.DIST_L2, 3)
    row, column = np.unravel_index(int(away.argmax()), away.shape)
    at = camera.project(np.array([[column + 0.5, row + 0.5, 0.0]]))[0].round().astype(int)
    blue, _, red = picture[at[1], at[0]]
    assert red - blue < 30  # grey concrete, not wood


def test_same_seed_same_bytes() -> None:
    board, camera = knotty(), replace(_camera(knotty(), 0.03, 8), width=700, height=400, focal=500.0)
    plain = _dotted(board)[0]
    one, two = (
        photograph(board, Face.FRONT, camera, 9, "concrete", sheet=True, shown=plain, faults=())
        for _ in range(2)
    )
    assert one.jpeg == two.jpeg
    other = photograph(board, Face.FRONT, camera, 10, "concrete", sheet=True, shown=plain, faults=())
    assert other.jpeg != one.jpeg


def test_an_unknown_ground_is_named() -> None:
    with pytest.raises(ValueError, match="ground is 'moon'"):
        photograph(knotty(), Face.FRONT, _camera(knotty(), 0.0, 1), 1, "moon")
