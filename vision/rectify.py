"""A photograph and a tape reading to a picture of the board at true scale, with its error in mm."""

from dataclasses import dataclass, field
from math import isfinite

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.errors import VisionError
from vision.frame import Frame
from vision.lens import Lens
from vision.photo import Photo

__all__ = ["TrueScale", "true_scale"]

_CORNER_PX = 1.0  # how well a corner is set by hand or found, one standard deviation
_MOST_PIXELS = 60_000_000


@dataclass(frozen=True, eq=False)
class TrueScale:
    """A board seen straight on.

    Parameters
    ----------
    picture : ndarray of uint8, [height, width, 3]
        RGB; pixel (0, 0) is the upper left corner of the board as seen, and the
        picture covers exactly its length x width.
    px_per_mm : float
    length_mm, width_mm : float
    frame : Frame
        Between pixels of the photograph and millimetres of the board as seen.
    error_mm : float
        How far a point of the picture may be off: the worst place, at two
        standard deviations.
    error_along : tuple of (float, float)
        (x, error) at places along the board [mm].
    notes : tuple of str
        What the maker should know, one sentence each.
    """

    picture: NDArray[np.uint8]
    px_per_mm: float
    length_mm: float
    width_mm: float
    frame: Frame
    error_mm: float
    error_along: tuple[tuple[float, float], ...] = ()
    notes: tuple[str, ...] = field(default=())


def true_scale(
    photo: Photo,
    corners_px: ArrayLike,
    length_mm: float,
    width_mm: float,
    *,
    px_per_mm: float = 2.0,
    lens: Lens | None = None,
    tape_mm: float = 1.0,
) -> TrueScale:
    """The board of a photograph at true scale.

    Parameters
    ----------
    photo : Photo
    corners_px : array-like, [4, 2]
        Corners of the board in the photograph, (x, y), in board order.
    length_mm, width_mm : float
        What the tape says.
    px_per_mm : float
        Scale of the picture.
    lens : Lens or None
        The phone's lens, if known.
    tape_mm : float
        How well the tape was read, one standard deviation [mm].

    Raises
    ------
    VisionError
        A reading or a corner that cannot be; the message says which.
    """
    _check_size("length", length_mm)
    _check_size("width", width_mm)
    if not (isfinite(px_per_mm) and 0.05 <= px_per_mm <= 20):
        raise VisionError(f"a scale of {px_per_mm} pixels per mm cannot be used; give 0.05 to 20")
    if length_mm * width_mm * px_per_mm**2 > _MOST_PIXELS:
        raise VisionError(
            f"a picture of {length_mm:g} x {width_mm:g} mm at {px_per_mm:g} pixels per mm is too big"
        )
    corners = np.asarray(corners_px, dtype=np.float64)
    frame = Frame.from_corners(corners, length_mm, width_mm, lens)
    error_along = _error_along(corners, length_mm, width_mm, lens, tape_mm)
    return TrueScale(
        picture=_straight_on(photo.rgb, frame, length_mm, width_mm, px_per_mm),
        px_per_mm=px_per_mm,
        length_mm=length_mm,
        width_mm=width_mm,
        frame=frame,
        error_mm=max(error for _, error in error_along),
        error_along=error_along,
    )


def _straight_on(
    rgb: NDArray[np.uint8], frame: Frame, length_mm: float, width_mm: float, px_per_mm: float
) -> NDArray[np.uint8]:
    """The photograph resampled over the board, smoothed first where it has more pixels than the picture."""
    columns, rows = max(1, round(length_mm * px_per_mm)), max(1, round(width_mm * px_per_mm))
    x = (np.arange(columns) + 0.5) * length_mm / columns
    y = (np.arange(rows) + 0.5) * width_mm / rows
    ends = frame.to_px([[0, width_mm / 2], [length_mm, width_mm / 2]])
    finer = float(np.hypot(*(ends[1] - ends[0]))) / columns
    halvings = max(0, int(np.floor(np.log2(max(finer, 1.0)))))
    source = rgb
    for _ in range(halvings):
        source = np.asarray(cv2.pyrDown(source), dtype=np.uint8)
    picture = np.empty((rows, columns, 3), dtype=np.uint8)
    for top in range(0, rows, 256):  # in bands, so that the maps stay small
        grid = np.stack(np.meshgrid(x, y[top : top + 256]), axis=-1)
        # pyrDown keeps pixel 0 over pixel 0, so its pixel i lies over pixel 2 i.
        where = frame.to_px(grid) / 2**halvings
        cv2.remap(
            source,
            where[..., 0].astype(np.float32),
            where[..., 1].astype(np.float32),
            cv2.INTER_LINEAR if finer > 1 else cv2.INTER_CUBIC,
            dst=picture[top : top + 256],
            borderMode=cv2.BORDER_REPLICATE,
        )
    return picture


def _error_along(
    corners: NDArray[np.float64], length_mm: float, width_mm: float, lens: Lens | None, tape_mm: float
) -> tuple[tuple[float, float], ...]:
    """Two standard deviations of a point's place at 21 stations along the board, worst across it [mm]."""
    stations = np.linspace(0, length_mm, 21)
    grid = np.stack(np.meshgrid(stations, [0, width_mm / 2, width_mm]), axis=-1)
    seen = Frame.from_corners(corners, length_mm, width_mm, lens).to_px(grid)
    variance = np.zeros(grid.shape[:2])
    for i in range(4):
        for axis in range(2):
            moved = corners.copy()
            moved[i, axis] += _CORNER_PX
            shifted = Frame.from_corners(moved, length_mm, width_mm, lens).to_mm(seen)
            variance += np.sum((shifted - grid) ** 2, axis=-1)
    variance += (tape_mm * grid[..., 0] / length_mm) ** 2 + (tape_mm * grid[..., 1] / width_mm) ** 2
    worst = 2 * np.sqrt(variance.max(axis=0))
    return tuple((float(x), float(e)) for x, e in zip(stations, worst, strict=True))


def _check_size(what: str, value: float) -> None:
    if not (isfinite(value) and value > 0):
        raise VisionError(f"the taped {what} is {value:g} mm; give a number above 0")
    if value > 20_000:
        raise VisionError(f"the taped {what} is {value:g} mm; that is longer than 20 m, give millimetres")
