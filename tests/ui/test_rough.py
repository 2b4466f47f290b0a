"""A sheet of paper in the photograph, held against the tape."""

import numpy as np
import pytest

from tests.vision.drawn import drawn_board
from tests.vision.test_paper import with_card
from ui.jobfile import BoardRecord, JobError
from ui.rough import checked_with, paper_checked
from vision.frame import Frame
from vision.photo import Photo
from vision.reference import KnownSize

LENGTH, WIDTH = 1500.0, 190.0
RECORD = BoardRecord(id="1", length=LENGTH, widths=((0, WIDTH),), thickness=27)


@pytest.fixture(scope="module")
def beside() -> tuple[Photo, Frame]:
    """A board with an A4 sheet beside it at the height of its face."""
    board = drawn_board(LENGTH, WIDTH)
    long, wide = KnownSize.A4.value
    x, y = np.meshgrid(np.arange(board.rgb.shape[1]), np.arange(board.rgb.shape[0]))
    at = board.frame.to_mm(np.stack([x, y], axis=-1)) - np.array([500.0, -260.0])
    rgb = board.rgb.copy()
    rgb[(at[..., 0] > 0) & (at[..., 0] < long) & (at[..., 1] > 0) & (at[..., 1] < wide)] = 246
    return Photo(rgb, 26.0), board.frame


def test_a_right_tape_is_agreed_with(beside: tuple[Photo, Frame]) -> None:
    told = paper_checked(*beside, RECORD)
    assert told is not None
    assert told


@pytest.mark.parametrize("wrong", [0.94, 1.06])
def test_a_tape_misread_is_warned_of(beside: tuple[Photo, Frame], wrong: float) -> None:
    photo, frame = beside
    told = paper_checked(photo, Frame(np.diag([wrong, wrong, 1.0]) @ frame.to_board), RECORD)
    assert told is not None
    assert not told
    assert "read the tape again" in told.message


def test_what_the_lens_leaves_open_is_not_laid_on_the_tape(beside: tuple[Photo, Frame]) -> None:
    photo, frame = beside
    wide = Frame(np.diag([1.025, 1.025, 1.0]) @ frame.to_board)
    assert not paper_checked(photo, wide, RECORD)
    assert paper_checked(photo, wide, RECORD, error_mm=12.0)


def test_no_paper_no_word() -> None:
    board = drawn_board(LENGTH, WIDTH)
    assert paper_checked(Photo(board.rgb, 26.0), board.frame, RECORD) is None


@pytest.mark.parametrize(("wrong", "agrees"), [(1.0, True), (0.91, False)])
def test_a_bank_card_where_it_lies_is_held_against_the_tape(wrong: float, agrees: bool) -> None:
    board = drawn_board(LENGTH, WIDTH)
    rgb, _ = with_card(board, (700.0, 95.0), 0.2, (40, 60, 150))
    told = paper_checked(Photo(rgb, 26.0), Frame(np.diag([wrong, wrong, 1.0]) @ board.frame.to_board), RECORD)
    assert told is not None
    assert bool(told) is agrees
    assert "bank card" in told.message


def test_corners_that_go_round_nothing_get_one_sentence(beside: tuple[Photo, Frame]) -> None:
    with pytest.raises(JobError, match="set the four corners"):
        checked_with(beside[1], [(1, 1)] * 4, "card", RECORD)
    with pytest.raises(JobError, match="of no known size; give A3, A4, A5, card"):
        checked_with(beside[1], [(1, 1), (9, 1), (9, 9), (1, 9)], "stamp", RECORD)
