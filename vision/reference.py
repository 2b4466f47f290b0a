"""Things of known size on or beside a board: our own marker sheet, and paper or a bank card as a rough check.

The marker sheet carries a chessboard whose white squares hold numbered markers, so
that every corner is known even when half the sheet is covered::

    +--------------------------------------------------+
    |  [0]####[1]####[2]####[3]####[4]                  |   9 x 6 squares of 30 mm,
    |  ####[5]####[6]####[7]####[8]####                 |   270 x 180 mm, on A4
    |  ...                                              |
    |  |<---------------- 250 mm --------------->|      |   measure this line: printers scale
    +--------------------------------------------------+

Laid ON the board it is in the plane that is measured. Laid on the bench BESIDE a
board, it is farther away by the board's thickness: at 1.7 m a 50 mm board is 3 %
larger than the sheet says, so the thickness must be given.

References
----------
.. [1] ISO 216:2007, sizes of the A series (from memory).
.. [2] ISO/IEC 7810:2019, 5.1, card size ID-1 (from memory).
"""

from dataclasses import dataclass
from enum import Enum

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.errors import VisionError
from vision.evidence import Sheet
from vision.frame import Frame

__all__ = [
    "MARKER_SHEET",
    "Agreement",
    "KnownSize",
    "MarkerSheet",
    "found_sheet",
    "rough_check",
]


class KnownSize(Enum):
    """Length and width of things everybody has [mm]."""

    A3 = (420.0, 297.0)  # [1]
    A4 = (297.0, 210.0)  # [1]
    A5 = (210.0, 148.0)  # [1]
    BANK_CARD = (85.60, 53.98)  # [2] ID-1

    @property
    def tolerance(self) -> float:
        """How far one that keeps to its standard may be off, one side [mm]."""
        # [1]: +-1.5 mm to 150 mm, +-2 mm to 600 mm; [2]: within about 0.13 mm. From memory.
        return 0.13 if self is KnownSize.BANK_CARD else 2.0


@dataclass(frozen=True)
class MarkerSheet:
    """The design of a marker sheet.

    Parameters
    ----------
    columns, rows : int
        Squares along and across.
    square_mm, marker_mm : float
        Side of a square and of the marker inside a white one [mm].
    line_mm : float
        Length of the printed line by which the print is checked [mm].
    """

    columns: int = 9
    rows: int = 6
    square_mm: float = 30.0
    marker_mm: float = 22.0
    line_mm: float = 250.0

    def __post_init__(self) -> None:
        if not (self.columns >= 3 and self.rows >= 3 and 0 < self.marker_mm < self.square_mm):
            raise ValueError(
                f"marker sheet: {self}; give 3 squares each way, the marker smaller than the square"
            )

    @property
    def size_mm(self) -> tuple[float, float]:
        """Length and width of the chessboard [mm]."""
        return self.columns * self.square_mm, self.rows * self.square_mm

    def black_mm(self) -> tuple[tuple[float, float, float, float], ...]:
        """Everything black on it: rectangles (x, y, width, height) from its upper left corner [mm]."""
        answer = []
        number = 0
        for row in range(self.rows):
            for column in range(self.columns):
                x, y = column * self.square_mm, row * self.square_mm
                if (row + column) % 2 == 0:
                    answer.append((x, y, self.square_mm, self.square_mm))
                else:
                    answer.extend(self._marker(number, x, y))
                    number += 1
        return tuple(answer)

    def _marker(self, number: int, x: float, y: float) -> list[tuple[float, float, float, float]]:
        cells = np.asarray(cv2.aruco.generateImageMarker(_dictionary(), number, _CELLS))
        side = self.marker_mm / _CELLS
        margin = (self.square_mm - self.marker_mm) / 2
        return [
            (x + margin + float(column) * side, y + margin + float(row) * side, side, side)
            for row, column in np.argwhere(cells == 0)
        ]

    def corners_mm(self) -> NDArray[np.float64]:
        """The inner corners, row by row, from its upper left corner, [n, 2] [mm]."""
        grid = np.meshgrid(np.arange(1, self.columns), np.arange(1, self.rows))
        return np.asarray(np.stack(grid, axis=-1).reshape(-1, 2) * self.square_mm, dtype=np.float64)


MARKER_SHEET = MarkerSheet()
_CELLS = 7  # a 5 x 5 marker with its black rim


@dataclass(frozen=True)
class Agreement:
    """What a thing of known size says of the scale; truthy when it agrees.

    Parameters
    ----------
    agrees : bool
    off : float
        Measured size over known size, less one.
    allowed : float
        As far as that may be off by the thing's own tolerance and the measurement's.
    message : str
        One sentence fit to show.
    """

    agrees: bool
    off: float
    allowed: float
    message: str

    def __bool__(self) -> bool:
        return self.agrees


def found_sheet(
    rgb: NDArray[np.uint8],
    *,
    below_mm: float = 0.0,
    printed_line_mm: float | None = None,
    design: MarkerSheet = MARKER_SHEET,
) -> Sheet | None:
    """The marker sheet in a photograph; None when fewer than six of its corners are seen.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
    below_mm : float
        0 for a sheet on the board, the board's thickness for one on the bench.
    printed_line_mm : float or None
        What the printed line measures; None when it was not measured, and the
        sheet's own scale is trusted less.
    design : MarkerSheet

    Raises
    ------
    VisionError
        The printed line is more than 5 % off: that is another print.
    """
    scale = 1.0 if printed_line_mm is None else printed_line_mm / design.line_mm
    if not 0.95 <= scale <= 1.05:
        raise VisionError(
            f"the line on the marker sheet measures {printed_line_mm:g} mm and should be {design.line_mm:g}; "
            "print it at 100 %, without fitting it to the page"
        )
    board = cv2.aruco.CharucoBoard(
        (design.columns, design.rows), design.square_mm, design.marker_mm, _dictionary()
    )
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    detector = cv2.aruco.CharucoDetector(board, cv2.aruco.CharucoParameters(), settings)
    grey = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    corners, numbers, _, _ = detector.detectBoard(grey)
    if numbers is None or len(numbers) < 6:
        return None
    which = np.asarray(numbers).ravel()
    return Sheet(
        points_px=np.asarray(corners, dtype=np.float64).reshape(-1, 2),
        points_mm=design.corners_mm()[which] * scale,
        below_mm=below_mm,
        scale_spread=0.005 if printed_line_mm is None else 0.3 / design.line_mm,
    )


def rough_check(
    frame: Frame,
    corners_px: ArrayLike,
    size: KnownSize,
    *,
    error_px: float = 1.0,
    below_mm: float = 0.0,
    unsure: float = 0.0,
) -> Agreement:
    """Whether a sheet of paper or a card measures what it should in the board's frame.

    A check, never a scale: half a millimetre on an A4 sheet is 3.4 mm on a 2 m board.

    Parameters
    ----------
    frame : Frame
        Of the board, from its taped size.
    corners_px : array-like, [4, 2]
        Corners of the thing in the photograph, in order round it.
    size : KnownSize
    error_px : float
        How well the corners are set.
    below_mm : float
        0 when it lies on the board; the board's thickness when it lies on the
        bench, which is only as good as the camera's distance is known.
    unsure : float
        How far the frame's own scale may be off where the thing lies, as a part of
        it, the tape being right: a lens that is not known stretches places apart.

    Raises
    ------
    VisionError
        The corners do not go round a four-sided thing.
    """
    corners = np.asarray(corners_px, dtype=np.float64)
    if corners.shape != (4, 2) or len({tuple(corner) for corner in corners}) < 4:
        raise VisionError("set the four corners of the sheet, one after another")
    on_board = frame.to_mm(corners)
    sides = np.hypot(*(np.roll(on_board, -1, axis=0) - on_board).T)
    measured = np.sort([(sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2])[::-1]
    known = np.array(size.value)
    off = float(measured.sum() / known.sum() - 1.0)
    shrunk = below_mm / _distance_mm(frame, corners) if below_mm else 0.0
    off = (1 + off) * (1 + shrunk) - 1
    nudged = frame.to_mm(corners + np.array([error_px, 0.0])) - on_board
    per_px = float(np.hypot(*nudged.T).mean())
    allowed = (size.tolerance + 2 * per_px) / float(known.min()) + 0.3 * shrunk + unsure
    name = "bank card" if size is KnownSize.BANK_CARD else f"{size.name} sheet"
    if abs(off) <= allowed:
        return Agreement(True, off, allowed, f"the {name} agrees with the tape to {abs(off):.1%}")
    return Agreement(
        False,
        off,
        allowed,
        f"the {name} measures {abs(off):.1%} too {'large' if off > 0 else 'small'}: "
        "read the tape again, or the sheet does not lie at the board's height",
    )


def _distance_mm(frame: Frame, at_px: NDArray[np.float64]) -> float:
    """How far the camera is from the board's plane, by the lens's focal length, near a place [mm]."""
    if frame.lens is None:
        raise VisionError("how far the camera stood is not known, so a sheet on the bench cannot be compared")
    middle = at_px.mean(axis=0)
    step = frame.to_mm(middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
    area = abs(np.linalg.det(step[1:] - step[0]))
    return float(np.sqrt(area) * frame.lens.focal_px)


def _dictionary() -> cv2.aruco.Dictionary:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_100)
