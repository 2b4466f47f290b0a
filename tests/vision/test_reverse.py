import numpy as np
import pytest

from layout.stock import Face, Turn
from samples.wood.log import grow_log
from samples.wood.picture import face_picture
from samples.wood.stock import board_at, grow_knots
from vision.reverse import registered

LENGTH, WIDTH = 900.0, 150.0
KNOTS = ((140.0, 40.0), (390.0, 110.0), (700.0, 60.0))


def face(seed: int, knots: tuple[tuple[float, float], ...], lean: float = 0.0) -> np.ndarray:
    """One face at 1 px per mm: its own grain, and knots that lean by `lean` mm along the board."""
    rng = np.random.default_rng(seed)
    streaks = rng.normal(0, 5, (int(WIDTH), 1)) + rng.normal(0, 3, (int(WIDTH), int(LENGTH)))
    picture = np.array([186.0, 150.0, 104.0]) + streaks[..., None]
    y, x = np.mgrid[: int(WIDTH), : int(LENGTH)]
    for kx, ky in knots:
        picture[np.hypot(x - kx - lean, y - ky) < 11] *= 0.45
    return np.clip(picture, 0, 255).astype(np.uint8)


def seen_from_behind(picture: np.ndarray, turned: Turn) -> np.ndarray:
    return picture[::-1].copy() if turned is Turn.ROLLED else picture[:, ::-1].copy()


@pytest.mark.parametrize("turned", list(Turn))
def test_knots_right_through_tell_the_turn(turned: Turn) -> None:
    back = seen_from_behind(face(2, KNOTS, lean=6.0), turned)
    found = registered(face(1, KNOTS), back, 1.0)
    assert found.sure
    assert found.turned is turned
    assert found.message == ""
    assert not found.same_face


@pytest.mark.parametrize("turned", list(Turn))
def test_a_wrong_turn_is_offered_right(turned: Turn) -> None:
    other = Turn.TUMBLED if turned is Turn.ROLLED else Turn.ROLLED
    back = seen_from_behind(face(2, KNOTS, lean=6.0), turned)
    found = registered(face(1, KNOTS), back, 1.0, turned=other)
    assert found.turned is other  # the maker's word stands until he changes it
    assert found.better is turned
    assert "change the turn" in found.message


def test_a_clear_board_says_nothing_and_is_not_guessed() -> None:
    found = registered(face(1, ()), face(2, ()), 1.0)
    assert not found.sure
    assert "say whether" in found.message
    assert registered(face(1, ()), face(2, ()), 1.0, turned=Turn.TUMBLED).better is None


@pytest.mark.parametrize("half_turn", [False, True])
def test_the_front_photographed_twice_is_noticed(half_turn: bool) -> None:
    front = face(1, KNOTS)
    noise = np.random.default_rng(5).normal(0, 3, front.shape)
    again = np.clip(front + noise, 0, 255).astype(np.uint8)
    found = registered(front, again[::-1, ::-1].copy() if half_turn else again, 1.0)
    assert found.same_face
    assert "same face" in found.message


def test_a_waney_outline_tells_the_turn_of_a_clear_board() -> None:
    front = ((0.0, 0.0), (LENGTH, 30.0), (LENGTH, WIDTH), (0.0, WIDTH))
    rolled = tuple((x, WIDTH - y) for x, y in front)
    found = registered(
        face(1, ()), face(2, ()), 1.0, turned=Turn.TUMBLED, front_outline=front, back_outline=rolled
    )
    assert found.better is Turn.ROLLED


@pytest.mark.parametrize("turned", list(Turn))
def test_a_board_of_the_wood_model(turned: Turn) -> None:
    log = grow_knots(grow_log("European oak", 64), 14, 5000, 3)
    board = board_at(log, "1", (1100.0, 180.0, 28.0), 300.0, 60.0, turned=turned)
    front, back = (face_picture(board, one, 1.0, fine=1).rgb for one in (Face.FRONT, Face.BACK))
    found = registered(front, back, 1.0)
    assert found.turned is turned
    assert not found.same_face
