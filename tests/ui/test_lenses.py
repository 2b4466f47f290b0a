"""What several photographs say together of one lens."""

import pytest

from layout.stock import Face, Turn
from tests.ui.tiny_job import PHOTO_CORNERS, photo_of_a_board, tiny_job
from ui.jobfile import BoardRecord, FaceRecord, Job, LensProfile
from ui.lenses import lens_known, lens_seen, lenses_of
from ui.survey import photo_from
from vision.lens import Lens, LensPrior
from vision.photo import Photo


@pytest.fixture(scope="module")
def photo() -> Photo:
    return photo_from(photo_of_a_board(), "a board")


def faced(id: str, k1: float, size: tuple[int, int] = (1600, 900), photo: str = "") -> BoardRecord:
    prior = LensPrior(Lens((799.5, 449.5), 1100.0, k1), k1_spread=0.01)
    face = FaceRecord(photo=photo or f"photos/{id}.jpg", size_px=size, lens=prior)
    return BoardRecord(id=id, length=1000, widths=((0, 200),), thickness=27, front=face)


def test_a_chessboard_goes_before_everything_for_pictures_of_its_size(photo: Photo) -> None:
    prior = LensPrior(Lens((799.5, 449.5), 1200.0, -0.03))
    profile = LensProfile(size_px=(1600, 900), prior=prior)
    assert lens_known(photo, profile, ()) == (prior, 0)
    other = profile.model_copy(update={"size_px": (4000, 3000)})
    assert lens_known(photo, other, ()) == (None, 0)


def test_more_photographs_leave_less_doubt(photo: Photo) -> None:
    boards = tuple(faced(str(number), 0.01 * (-1) ** number) for number in range(6))
    few, count = lens_known(photo, None, lenses_of(Job(name="x", boards=boards[:2]), photo))
    many, more = lens_known(photo, None, lenses_of(Job(name="x", boards=boards), photo))
    assert (count, more) == (2, 6)
    assert few is not None
    assert many is not None
    assert many.k1_spread < few.k1_spread
    assert abs(many.lens.k1) < 0.005


def test_a_photo_says_nothing_of_itself_and_none_of_another_size_counts(photo: Photo) -> None:
    boards = (faced("1", 0.01), faced("2", 0.01, (4000, 3000)), faced("3", 0.01))
    job = Job(name="x", boards=boards)
    assert len(lenses_of(job, photo)) == 2
    assert len(lenses_of(job, photo, ("1", Face.FRONT))) == 1


def test_one_photo_of_two_boards_counts_once(photo: Photo) -> None:
    boards = (faced("1", 0.01, photo="photos/both.jpg"), faced("2", 0.01, photo="photos/both.jpg"))
    assert len(lenses_of(Job(name="x", boards=boards), photo)) == 1


def test_a_photo_alone_says_something_of_its_lens(photo: Photo) -> None:
    record = tiny_job().boards[0]
    seen = lens_seen(photo, PHOTO_CORNERS, record)
    assert seen.k1_spread < 0.05
    assert abs(seen.lens.k1) < 3 * seen.k1_spread


def test_a_tumbled_back_reads_its_widths_from_its_other_end(photo: Photo) -> None:
    record = tiny_job().boards[0].model_copy(update={"turned": Turn.TUMBLED})
    length, width = record.length, record.width
    read = ((0.0, width - 4.0), (length / 2, width - 1.0), (length, width))
    front = lens_seen(photo, PHOTO_CORNERS, record.model_copy(update={"widths": read}))
    mirrored = tuple((length - x, at) for x, at in reversed(read))
    tumbled = record.model_copy(update={"widths": mirrored})
    focal = lens_seen(photo, PHOTO_CORNERS, tumbled, face=Face.BACK).lens.focal_px
    assert focal == pytest.approx(front.lens.focal_px, rel=1e-4)
    assert lens_seen(photo, PHOTO_CORNERS, tumbled).lens.focal_px != pytest.approx(focal, rel=1e-3)
