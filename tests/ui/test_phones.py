"""A phone's lens is learnt once and used for every later photo of that phone."""

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from tests.vision.test_chessboard import TILTS, sheet_photographed
from ui.files import data_folder
from ui.jobfile import Job, JobError, LensProfile
from ui.phones import lens_kept, lens_learnt, lenses_kept, profile_for
from vision.chessboard import NoProfile
from vision.lens import Lens, LensPrior
from vision.photo import Photo

PRIOR = LensPrior(Lens((399.5, 299.5), 600.0, -0.05), k1_spread=0.01)


@pytest.fixture(autouse=True)
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CLEARFACE_DATA", str(tmp_path / "data"))


def as_jpeg(rgb: NDArray[np.uint8], focal_35mm: int) -> bytes:
    """A photograph as a phone writes it, with its focal length."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = focal_35mm
    out = BytesIO()
    Image.fromarray(rgb).save(out, "JPEG", quality=95, exif=exif)
    return out.getvalue()


def taken(width: int = 800, focal: float | None = 26.0) -> Photo:
    return Photo(np.zeros((600, width, 3), dtype=np.uint8), focal)


def test_a_lens_is_used_for_photos_of_that_phone_alone() -> None:
    assert lens_kept(taken(), PRIOR)
    job = Job(name="x")
    assert profile_for(job, taken()) == LensProfile(size_px=(800, 600), prior=PRIOR)
    assert profile_for(job, taken(width=900)) is None
    assert profile_for(job, taken(focal=24.0)) is None
    assert profile_for(job, taken(focal=None)) is None


def test_a_lens_serves_pictures_of_another_size_and_upright_ones() -> None:
    lens_kept(taken(), PRIOR)
    job = Job(name="x")
    half = profile_for(job, Photo(np.zeros((300, 400, 3), dtype=np.uint8), 26.0))
    upright = profile_for(job, Photo(np.zeros((800, 600, 3), dtype=np.uint8), 26.0))
    assert half is not None
    assert upright is not None
    assert half.size_px == (400, 300)
    assert (half.prior.lens.focal_px, half.prior.lens.k1) == (300.0, -0.05)
    assert half.prior.lens.centre_px == (199.5, 149.5)
    assert half.prior.focal_spread > PRIOR.focal_spread
    assert (upright.prior.lens.focal_px, upright.prior.lens.centre_px) == (600.0, (299.5, 399.5))
    own = LensProfile(size_px=(1600, 1200), prior=PRIOR)
    served = profile_for(Job(name="x", lens=own), taken())
    assert served is not None
    assert served.prior.lens.focal_px == 300.0


def test_a_lens_made_for_a_pictures_very_size_goes_before_a_resized_one() -> None:
    small = Photo(np.zeros((300, 400, 3), dtype=np.uint8), 26.0)
    fresh = LensPrior(Lens((199.5, 149.5), 310.0, -0.04))
    lens_kept(taken(), PRIOR)
    lens_kept(small, fresh)
    assert profile_for(Job(name="x"), small) == LensProfile(size_px=(400, 300), prior=fresh)
    assert len(lenses_kept()) == 2


def test_the_jobs_own_lens_goes_first_and_a_later_one_takes_the_place() -> None:
    lens_kept(taken(), PRIOR)
    later = LensPrior(Lens((399.5, 299.5), 610.0, -0.02))
    lens_kept(taken(), later)
    assert [one.prior for one in lenses_kept()] == [later]
    own = LensProfile(size_px=(800, 600), prior=PRIOR)
    assert profile_for(Job(name="x", lens=own), taken()) == own


def test_a_photo_that_does_not_say_its_focal_length_leaves_nothing() -> None:
    assert not lens_kept(taken(focal=None), PRIOR)
    assert lenses_kept() == ()


@pytest.mark.parametrize("text", ["", "{", "[1]", '[{"size_px": [1, 2]}]'])
def test_a_damaged_file_is_as_none(text: str) -> None:
    data_folder().mkdir(parents=True)
    (data_folder() / "lenses.json").write_text(text)
    assert lenses_kept() == ()
    assert lens_kept(taken(), PRIOR)
    assert len(lenses_kept()) == 1


def test_photos_of_the_marker_sheet_teach_the_lens() -> None:
    files = [(f"{n}.jpg", as_jpeg(sheet_photographed(tilt, -0.08), 26)) for n, tilt in enumerate(TILTS)]
    found = lens_learnt(8, 5, files)
    assert found.prior.lens.k1 == pytest.approx(-0.08, abs=0.02)
    assert [one.prior for one in lenses_kept()] == [found.prior]


def test_what_is_not_seen_is_said_and_nothing_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: Sequence[NDArray[np.uint8]]) -> NoProfile:
        return NoProfile("the chessboard is seen whole in 0 of 1 pictures")

    monkeypatch.setattr("ui.phones.lens_profile", none)
    with pytest.raises(JobError, match="seen whole in 0 of 1 pictures"):
        lens_learnt(9, 6, [("a.jpg", as_jpeg(np.full((60, 90, 3), 90, np.uint8), 26))])
    assert lenses_kept() == ()
