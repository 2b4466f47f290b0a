"""More photographs of one face, and ticks read with the tape, as changes of the job."""

from pathlib import Path

import pytest

from layout.stock import Face
from tests.ui.tiny_job import PHOTO_CORNERS, photo_of_a_board, tiny_job, tiny_job_folder
from tests.vision.drawn import pencilled
from ui.face_records import FurtherPhoto, Tick
from ui.further import (
    corners_of_photo,
    photos_kept,
    photos_of,
    tick_added,
    tick_on_line,
    tick_read_anew,
    with_further,
    without_photo,
)
from ui.jobfile import FaceRecord, Job, JobError, job_from, job_json
from ui.pictures import jpeg, picture_from
from vision.frame import Frame

MORE = (FurtherPhoto(photo="photos/b.jpg"), FurtherPhoto(photo="photos/c.jpg", corners_px=PHOTO_CORNERS))


def front(job: Job) -> FaceRecord:
    known = job.board("1").front
    assert known is not None
    return known


def test_further_photos_are_kept_and_the_picture_goes() -> None:
    job = with_further(tiny_job(), "1", Face.FRONT, MORE)
    assert [one.photo for one in photos_of(front(job))][1:] == ["photos/b.jpg", "photos/c.jpg"]
    assert front(job).corners_px is None  # found for a whole board, and the board runs on
    assert front(job).picture is None
    assert job_from(job_json(job)) == job


def test_a_photo_taken_out_leaves_the_one_before_to_be_found_anew() -> None:
    job = with_further(tiny_job(), "1", Face.FRONT, MORE)
    job = corners_of_photo(job, "1", Face.FRONT, 1, PHOTO_CORNERS)
    after = without_photo(job, "1", Face.FRONT, 2)
    assert front(after).further == (FurtherPhoto(photo="photos/b.jpg"),)
    between = without_photo(job, "1", Face.FRONT, 1)
    assert front(between).further == (MORE[1],)
    with pytest.raises(JobError, match="the first photo stays"):
        without_photo(job, "1", Face.FRONT, 0)


def test_ticks_are_added_read_anew_and_taken_away() -> None:
    job = tick_added(tiny_job(), "1", Face.FRONT, 0, (700.0, 400.0), "450")
    job = tick_added(job, "1", Face.FRONT, 0, (900.0, 400.0), "0")
    assert front(job).ticks == (
        Tick(at_px=(700, 400), reading=450),
        Tick(at_px=(900, 400), reading=0),
    )
    assert front(job).picture is None
    moved = corners_of_photo(job, "1", Face.FRONT, 0, PHOTO_CORNERS)
    assert front(moved).ticks == front(job).ticks
    job = tick_read_anew(job, "1", Face.FRONT, 0, 1, "600")
    assert front(job).ticks[1].reading == 600
    assert len(front(tick_read_anew(job, "1", Face.FRONT, 0, 0, " ")).ticks) == 1


def test_a_tap_beside_a_pencil_line_is_moved_onto_it(tmp_path: Path) -> None:
    frame = Frame.from_corners(PHOTO_CORNERS, 1000.0, 210.0)
    lined = jpeg(pencilled(picture_from(photo_of_a_board()), frame, 450.0, 210.0))
    folder = tiny_job_folder(tmp_path / "job")
    path = folder.keep("photos", lined, ".jpg")
    with_line = with_further(folder.job(), "1", Face.FRONT, (FurtherPhoto(photo=path),))
    with_line = corners_of_photo(with_line, "1", Face.FRONT, 1, PHOTO_CORNERS)
    true = frame.to_px([450.0, 60.0])
    tap = (float(true[0]) + 3.0, float(true[1]))
    assert tick_on_line(folder, with_line, "1", Face.FRONT, 1, tap) == pytest.approx(true, abs=0.4)
    assert tick_on_line(folder, folder.job(), "1", Face.FRONT, 0, tap) == tap  # no line, no move
    no_corners = with_further(folder.job(), "1", Face.FRONT, (FurtherPhoto(photo=path),))
    assert tick_on_line(folder, no_corners, "1", Face.FRONT, 1, tap) == tap


def test_a_tick_of_a_further_photo_stands_with_it() -> None:
    job = with_further(tiny_job(), "1", Face.FRONT, MORE)
    job = tick_added(job, "1", Face.FRONT, 2, (10.0, 20.0), "900")
    assert front(job).further[1].ticks == (Tick(at_px=(10, 20), reading=900),)


@pytest.mark.parametrize(
    ("text", "says"), [("far", "not a length"), ("1001", "not on the board"), ("", "tick")]
)
def test_a_reading_that_can_not_be_gets_one_sentence(text: str, says: str) -> None:
    with pytest.raises(JobError, match=says):
        tick_added(tiny_job(), "1", Face.FRONT, 0, (1.0, 1.0), text)


def test_what_is_not_there_is_said(tmp_path: Path) -> None:
    job = tiny_job()
    with pytest.raises(JobError, match="not there any more"):
        corners_of_photo(job, "1", Face.FRONT, 1, PHOTO_CORNERS)
    with pytest.raises(JobError, match="has no photo of its back"):
        with_further(job, "1", Face.BACK, MORE)
    folder = tiny_job_folder(tmp_path / "job")
    with pytest.raises(JobError, match=r"notes\.jpg: .*not a picture"):
        photos_kept(folder, [("notes.jpg", b"notes")])
    same = photos_kept(folder, [("again.jpg", photo_of_a_board())])
    assert (folder.path / same[0].photo).is_file()
    with pytest.raises(JobError, match="has that photo already"):
        with_further(job, "1", Face.FRONT, (same[0], same[0]))
