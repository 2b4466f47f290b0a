"""What the photographs of a job together say of the phone's lens.

One board can't tell its own crook from the lens; several can (`vision.lens`).
So each photograph is first read alone, from the same start, for what it says of
the lens, and then brought to true scale with what the OTHERS say: nothing that
a photograph says counts twice.
"""

from collections.abc import Sequence
from math import log

from layout.stock import Face
from ui.board_frame import x_seen
from ui.jobfile import BoardRecord, Job, LensProfile
from vision.evidence import Sheet
from vision.gate import told_by_others
from vision.lens import LensPrior, focal_px, resized, unknown_lens
from vision.photo import Photo
from vision.rectify import true_scale
from vision.reference import found_sheet

__all__ = ["lens_known", "lens_seen", "lenses_of", "sheets_in"]

_SAME_FOCAL = (
    0.2  # between two photos of one camera, in the logarithm; main and wide cameras are twice that apart
)
_COARSE = 0.2  # px per mm: the picture is not looked at, only the lens

Corners = tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float]]


def sheets_in(photo: Photo, record: BoardRecord) -> tuple[Sheet, ...]:
    """The marker sheet in a photograph, if one is seen.

    Raises
    ------
    VisionError
        The printed line measures what no true print's does.
    """
    found = found_sheet(
        photo.rgb,
        below_mm=record.thickness if record.sheet_on_bench else 0.0,
        printed_line_mm=record.sheet_line,
    )
    return () if found is None else (found,)


def lens_seen(
    photo: Photo,
    corners: Corners,
    record: BoardRecord,
    sheets: Sequence[Sheet] = (),
    face: Face = Face.FRONT,
) -> LensPrior:
    """What one photograph of a face, alone, says of the lens.

    Raises
    ------
    VisionError
        A reading or a corner that can't be.
    """
    found = true_scale(
        photo,
        corners,
        record.length,
        record.width,
        px_per_mm=_COARSE,
        widths_mm=[(x_seen(x, record, face), width) for x, width in record.widths],
        sheets=sheets,
        waney=record.waney,
        thickness_mm=record.thickness,
    )
    return found.lens


def lens_known(
    photo: Photo, profile: LensProfile | None, others: Sequence[LensPrior]
) -> tuple[LensPrior | None, int]:
    """What is known of the lens before a photograph is looked at, and from how many others.

    Parameters
    ----------
    photo : Photo
    profile : LensProfile or None
        From photographs of a chessboard; it goes before everything else if it is for pictures of this size.
    others : sequence of LensPrior
        What other photographs by the same phone said, each alone.
    """
    if profile is not None and profile.size_px == (photo.width_px, photo.height_px):
        return profile.prior, 0
    if not others:
        return None, 0
    start = unknown_lens(photo.width_px, photo.height_px, photo.focal_35mm)
    return told_by_others(start, others), len(others)


def lenses_of(job: Job, photo: Photo, but: tuple[str, Face] | None = None) -> tuple[LensPrior, ...]:
    """What the job's other photographs of this form said of their lens; a photo on two faces counts once."""
    focal = focal_px(photo.width_px, photo.height_px, photo.focal_35mm)
    seen: dict[str, LensPrior] = {}
    for record in job.boards:
        for face in Face:
            known = record.face(face)
            if known is None or known.lens is None or known.size_px is None or (record.id, face) == but:
                continue
            lens = resized(known.lens, known.size_px, (photo.width_px, photo.height_px))
            # A phone's other camera may give pictures of the same form.
            if lens is not None and abs(log(lens.lens.focal_px / focal)) < _SAME_FOCAL:
                seen[known.photo or f"{record.id} {face}"] = lens
    return tuple(seen.values())
