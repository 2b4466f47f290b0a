"""The sample job as it opens on a maker's first day."""

from collections.abc import Iterator

import pytest

from ui import chain
from ui.files import JobFolder, samples_folder
from ui.jobfile import Job, job_from
from ui.library import folder_of, last_job, remember
from ui.pictures import size_of
from ui.sample import SAMPLE, finished_sample, sample_shelf
from vision.marks import MarkState, Origin


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[JobFolder]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CLEARFACE_DATA", str(tmp_path_factory.mktemp("data")))
        yield folder_of(sample_shelf())


def given() -> Job:
    """The sample as its maker left it: tape readings, cutting list, her marks."""
    return job_from((samples_folder() / SAMPLE / "job.json").read_bytes())


def test_every_photo_and_picture_is_there_and_of_the_size_it_says(folder: JobFolder) -> None:
    for board in folder.job().boards:
        for known in (board.front, board.back):
            assert known is not None
            assert known.photo is not None
            assert known.picture is not None
            assert known.px_per_mm is not None
            assert size_of(folder.read(known.photo)) == known.size_px
            wide, high = size_of(folder.read(known.picture))
            assert wide / known.px_per_mm == pytest.approx(board.length, abs=1)
            assert high / known.px_per_mm == pytest.approx(board.framed, abs=1)


def test_it_was_finished_from_the_sample_s_own_readings_and_list(folder: JobFolder) -> None:
    ours, theirs = folder.job(), given()
    assert ours.parts == theirs.parts
    assert [(board.id, board.length, board.widths) for board in ours.boards] == [
        (board.id, board.length, board.widths) for board in theirs.boards
    ]
    for one, other in zip(ours.boards, theirs.boards, strict=True):
        kept = {mark.id for mark in one.marks if mark.origin is Origin.DRAWN}
        assert kept == {mark.id for mark in other.marks}


def test_its_layout_places_every_part_and_the_verifier_agrees(folder: JobFolder) -> None:
    job = folder.job()
    assert chain.checked(job) == ()
    assert job.layout is not None
    assert job.layout.unplaced == ()


def test_one_board_waits_to_be_judged(folder: JobFolder) -> None:
    waiting = [
        board.id
        for board in folder.job().boards
        if any(mark.state is MarkState.PENDING for mark in board.marks)
    ]
    assert len(waiting) == 1


def test_it_is_made_once_and_then_the_maker_s_own(folder: JobFolder) -> None:
    remember(sample_shelf())
    assert last_job() == "bedside-cabinets"
    assert sample_shelf() == "bedside-cabinets"
    assert len(list(folder.path.parent.iterdir())) == 1


def test_its_files_are_no_more_than_it_names() -> None:
    job, files = finished_sample()
    named = {
        name
        for board in job.boards
        for known in (board.front, board.back)
        if known is not None
        for name in (known.photo, known.picture)
    }
    assert set(files) == named
