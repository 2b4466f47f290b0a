"""The lenses of the phones used on this machine: learnt once, kept with the jobs, used for every job."""

import json
from collections.abc import Sequence
from pathlib import Path

from pydantic import BaseModel, ConfigDict, FiniteFloat, TypeAdapter, ValidationError

from ui.disk import bytes_of, write_whole
from ui.files import data_folder
from ui.jobfile import Job, JobError, LensProfile
from ui.survey import photo_from
from vision.chessboard import NoProfile, lens_profile, sheet_profile
from vision.lens import LensPrior, resized
from vision.photo import Photo

__all__ = ["PhoneLens", "lens_kept", "lens_learnt", "lenses_kept", "profile_among", "profile_for"]

_SAME_FOCAL = 0.5  # mm; cameras of one phone differ by far more


class PhoneLens(BaseModel):
    """The lens of one camera of one phone.

    Two phones of one picture size are told apart by the focal length they write into a photo.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    size_px: tuple[int, int]
    focal_35mm: FiniteFloat
    prior: LensPrior


_SHELF = TypeAdapter(tuple[PhoneLens, ...])


def lens_learnt(columns: int, rows: int, files: Sequence[tuple[str, bytes]]) -> LensProfile:
    """The phone's lens from photographs of the marker sheet or of a chessboard; it is kept for later jobs.

    Parameters
    ----------
    columns, rows : int
        Inner corners of the chessboard; the marker sheet needs none.
    files : sequence of (str, bytes)
        Name and bytes of each photograph.

    Raises
    ------
    JobError
        Not pictures, or nothing could be learnt; the message says why.
    """
    if not files:
        raise JobError("give the photographs of the marker sheet or the chessboard")
    photos = [photo_from(data, name) for name, data in files]
    pictures = [photo.rgb for photo in photos]
    found = sheet_profile(pictures)
    if isinstance(found, NoProfile):
        board = lens_profile(pictures, columns, rows)
        if isinstance(board, NoProfile):
            raise JobError(f"{board.reason} (and of the marker sheet: {found.reason})")
        found = board
    lens_kept(photos[0], found)
    return LensProfile(size_px=(photos[0].width_px, photos[0].height_px), prior=found)


def lens_kept(photo: Photo, prior: LensPrior) -> bool:
    """Keep a lens for every later photo like this one; False when the photo does not say its focal length."""
    if photo.focal_35mm is None:
        return False
    fresh = PhoneLens(size_px=(photo.width_px, photo.height_px), focal_35mm=photo.focal_35mm, prior=prior)
    others = [one for one in lenses_kept() if not _is_of(one, photo)]
    write_whole(_path(), _SHELF.dump_json((*others, fresh), indent=1))
    return True


def lenses_kept() -> tuple[PhoneLens, ...]:
    """Every lens kept on this machine; none where the file is not there or is damaged."""
    try:
        return _SHELF.validate_python(json.loads(bytes_of(_path())), strict=False)
    except (JobError, ValueError, ValidationError):
        return ()


def profile_for(job: Job, photo: Photo) -> LensProfile | None:
    """The lens a photograph was taken with: the job's own if it is for such pictures, else one kept.

    Pictures of another size count as such, if they have the same form; so do those taken upright.
    """
    size = (photo.width_px, photo.height_px)
    if job.lens is not None:
        prior = resized(job.lens.prior, job.lens.size_px, size)
        if prior is not None:
            return LensProfile(size_px=size, prior=prior)
    return profile_among(lenses_kept(), photo)


def profile_among(kept: Sequence[PhoneLens], photo: Photo) -> LensProfile | None:
    """The lens a photograph was taken with, of those kept; one for its very size goes first."""
    size = (photo.width_px, photo.height_px)
    for one in sorted(kept, key=lambda one: one.size_px != size):
        if photo.focal_35mm is None or abs(one.focal_35mm - photo.focal_35mm) >= _SAME_FOCAL:
            continue
        prior = resized(one.prior, one.size_px, size)
        if prior is not None:
            return LensProfile(size_px=size, prior=prior)
    return None


def _is_of(one: PhoneLens, photo: Photo) -> bool:
    return (
        photo.focal_35mm is not None
        and one.size_px == (photo.width_px, photo.height_px)
        and abs(one.focal_35mm - photo.focal_35mm) < _SAME_FOCAL
    )


def _path() -> Path:
    return data_folder() / "lenses.json"
