"""Tape readings that no board has are refused before a picture is made of them."""

import pytest

from tests.ui.tiny_job import photo_of_a_board
from ui.jobfile import BoardRecord, FaceRecord, JobError
from ui.survey import photo_from, surveyed_face


@pytest.mark.parametrize(
    ("length", "width", "said"),
    [
        (20_000, 20_000, "too big"),
        (20_000, 1, "too small"),
        (1, 20_000, "too small"),
        (0.001, 0.001, "too small"),
    ],
)
def test_readings_that_no_board_has(length: float, width: float, said: str) -> None:
    corners = ((75.0, 150.0), (715.0, 135.0), (722.0, 280.0), (70.0, 287.0))
    record = BoardRecord(
        id="1", length=length, widths=((0, width),), thickness=20, front=FaceRecord(corners_px=corners)
    )
    photo = photo_from(photo_of_a_board(scale=0.5), "a.jpg")
    with pytest.raises(JobError, match=said):
        surveyed_face(photo, "a.jpg", record)
