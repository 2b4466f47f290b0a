"""A phone's lens profile from a few photographs of our marker sheet, or of a plain chessboard.

The marker sheet is the better one: its numbered markers say which corner is which,
so it may run out of the picture, and it is the sheet the maker has printed anyway.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.lens import Lens, LensPrior
from vision.reference import MARKER_SHEET, MarkerSheet, found_sheet

__all__ = ["NoProfile", "chessboard_corners", "lens_profile", "sheet_profile"]

_LEAST_PICTURES = 3
_MOST_OFF_PX = 2.0  # of a 4000 px picture; more means that the board was bent or the pictures shaken


@dataclass(frozen=True)
class NoProfile:
    """No profile could be made; falsy.

    Parameters
    ----------
    reason : str
        One sentence fit to show.
    """

    reason: str

    def __bool__(self) -> bool:
        return False


def chessboard_corners(rgb: NDArray[np.uint8], columns: int, rows: int) -> NDArray[np.float64] | None:
    """The inner corners of a chessboard in a picture, by rows, [rows * columns, 2]; None unless seen whole.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
    columns, rows : int
        Inner corners along a row, and rows of them.
    """
    grey = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    flags = cv2.CALIB_CB_EXHAUSTIVE | cv2.CALIB_CB_ACCURACY | cv2.CALIB_CB_NORMALIZE_IMAGE
    found, corners = cv2.findChessboardCornersSB(grey, (columns, rows), flags=flags)
    return np.asarray(corners, dtype=np.float64).reshape(-1, 2) if found else None


def lens_profile(
    pictures: Sequence[NDArray[np.uint8]], columns: int, rows: int, square_mm: float = 25.0
) -> LensPrior | NoProfile:
    """The lens of the phone that took these pictures.

    Parameters
    ----------
    pictures : sequence of ndarray of uint8, [height, width, 3]
        Of one flat chessboard from several sides, all of one size.
    columns, rows : int
        Inner corners along a row, and rows of them.
    square_mm : float
        Does not change the profile.

    Returns
    -------
    LensPrior or NoProfile
        For pictures of this size.
    """
    grid = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1).reshape(-1, 2)
    flat = np.asarray(grid * square_mm, dtype=np.float64)
    seen = [
        (corners, flat)
        for picture in pictures
        if (corners := chessboard_corners(picture, columns, rows)) is not None
    ]
    return _profile(pictures, seen, "the chessboard is seen whole")


def sheet_profile(
    pictures: Sequence[NDArray[np.uint8]], design: MarkerSheet = MARKER_SHEET
) -> LensPrior | NoProfile:
    """The lens of the phone that took these pictures of the marker sheet.

    Parameters
    ----------
    pictures : sequence of ndarray of uint8, [height, width, 3]
        Of the flat sheet from several sides, all of one size; it may be partly covered.
    design : MarkerSheet

    Returns
    -------
    LensPrior or NoProfile
        For pictures of this size.
    """
    sheets = [found_sheet(picture, design=design) for picture in pictures]
    enough = design.corners_mm().shape[0] // 2
    seen = [(s.points_px, s.points_mm) for s in sheets if s is not None and len(s.points_px) >= enough]
    return _profile(pictures, seen, "at least half of the marker sheet is seen")


def _profile(
    pictures: Sequence[NDArray[np.uint8]],
    seen: list[tuple[NDArray[np.float64], NDArray[np.float64]]],
    what: str,
) -> LensPrior | NoProfile:
    sizes = {picture.shape[:2] for picture in pictures}
    if len(sizes) > 1:
        return NoProfile("the pictures are not all of one size; use one phone, held one way, at one setting")
    if len(seen) < _LEAST_PICTURES:
        return NoProfile(
            f"{what} in {len(seen)} of {len(pictures)} pictures; "
            f"{_LEAST_PICTURES} are needed, better ten, from different sides"
        )
    height, width = next(iter(sizes))
    return _calibrated(seen, (width, height))


def _calibrated(
    seen: list[tuple[NDArray[np.float64], NDArray[np.float64]]], size: tuple[int, int]
) -> LensPrior | NoProfile:
    start = np.array([[max(size), 0, size[0] / 2], [0, max(size), size[1] / 2], [0, 0, 1]], dtype=np.float64)
    flags = (
        cv2.CALIB_USE_INTRINSIC_GUESS
        | cv2.CALIB_FIX_ASPECT_RATIO
        | cv2.CALIB_ZERO_TANGENT_DIST
        | cv2.CALIB_FIX_K3
    )
    off, camera, bent, _, _, spread, _, _ = cv2.calibrateCameraExtended(
        [np.column_stack([flat, np.zeros(len(flat))]).astype(np.float32) for _, flat in seen],
        [corners.astype(np.float32) for corners, _ in seen],
        size,
        start,
        np.zeros(5),
        flags=flags,
    )
    if off > max(0.5, _MOST_OFF_PX * max(size) / 4000):
        return NoProfile(
            f"the pictures disagree by {off:.1f} pixels; lay the sheet flat and hold the phone still"
        )
    focal, sure = float(camera[0, 0]), np.asarray(spread).ravel()
    bent = np.asarray(bent).ravel()
    return LensPrior(
        Lens((float(camera[0, 2]), float(camera[1, 2])), focal, float(bent[0]), float(bent[1])),
        # A phone refocuses and its stabiliser shifts the lens: never trusted closer than this.
        focal_spread=max(0.005, 2 * float(sure[0]) / focal),
        centre_spread=max(0.003, 2 * float(max(sure[2], sure[3])) / float(np.hypot(*size))),
        k1_spread=max(0.003, 2 * float(sure[4])),
    )
