"""A sheet of paper or a bank card in a photograph, held against the tape: a rough check, never a scale."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ui.jobfile import BoardRecord, JobError
from vision.errors import VisionError
from vision.frame import Frame
from vision.paper import found_card, found_paper
from vision.photo import Photo
from vision.reference import Agreement, KnownSize, rough_check

__all__ = ["THINGS", "checked_with", "paper_checked"]

THINGS = {"A3": KnownSize.A3, "A4": KnownSize.A4, "A5": KnownSize.A5, "card": KnownSize.BANK_CARD}
"""What the scale may be checked with, by the name a maker calls it."""
_LIKE = 0.12  # a sheet as seen is this near, in size and shape, to the one it is taken for


def paper_checked(photo: Photo, frame: Frame, record: BoardRecord, error_mm: float = 0.0) -> Agreement | None:
    """What a sheet of paper, else a bank card, seen in a photo says of the tape; None where none is seen.

    Parameters
    ----------
    photo : Photo
    frame : Frame
        From the photograph to the face, as the tape readings made it.
    record : BoardRecord
    error_mm : float
        How far the frame's own places may be off.
    """
    corners = found_paper(photo.rgb)
    size = None if corners is None else _size_of(frame, corners)
    if corners is None or size is None:
        corners, size = found_card(photo.rgb, frame, record.length, record.framed), KnownSize.BANK_CARD
    return None if corners is None else _agreement(frame, corners, size, record, error_mm)


def checked_with(
    frame: Frame, corners_px: ArrayLike, thing: str, record: BoardRecord, error_mm: float = 0.0
) -> Agreement:
    """What a thing whose corners the maker has set says of the tape readings.

    Raises
    ------
    JobError
        Corners that do not go round it, or a thing of no known size.
    """
    if thing not in THINGS:
        raise JobError(f"{thing!r} is of no known size; give {', '.join(THINGS)}")
    try:
        return _agreement(frame, np.asarray(corners_px, dtype=np.float64), THINGS[thing], record, error_mm)
    except VisionError as error:
        raise JobError(str(error)) from error


def _size_of(frame: Frame, corners_px: NDArray[np.float64]) -> KnownSize | None:
    """The sheet of paper this is, by its size on the board; None when it is like none."""
    on_board = frame.to_mm(corners_px)
    sides = np.hypot(*(np.roll(on_board, -1, axis=0) - on_board).T)
    seen = np.sort([(sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2])[::-1]
    for size in (KnownSize.A3, KnownSize.A4, KnownSize.A5):
        off = seen / np.array(size.value)
        if abs(float(np.log(off).mean())) < _LIKE and abs(float(np.log(off[0] / off[1]))) < _LIKE:
            return size
    return None


def _agreement(
    frame: Frame, corners_px: NDArray[np.float64], size: KnownSize, record: BoardRecord, error_mm: float
) -> Agreement:
    """On the board it lies in its face; beside it, it may lie on the bench too, and either is taken."""
    # Off by so much over half the board's length, a place is stretched by twice that part of it.
    unsure = 2.0 * error_mm / record.length
    told = rough_check(frame, corners_px, size, unsure=unsure)
    x, y = frame.to_mm(corners_px).mean(axis=0)
    if told or (0 <= x <= record.length and 0 <= y <= record.framed) or frame.lens is None:
        return told
    lower = rough_check(frame, corners_px, size, below_mm=record.thickness, unsure=unsure)
    return lower if lower or abs(lower.off) < abs(told.off) else told
