"""What is known about a photographed board before it is measured: each piece with its own uncertainty.

Nothing is computed here; `vision.adjust` weighs these against one another.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vision.lens import LensPrior

__all__ = ["Evidence", "Readings", "Sheet"]

# A sawn board bends rather than bellies: the scanned boards of Kodytek et al. (doi
# 10.5281/zenodo.4694695) bow 1.05 mm over 1.8 m and their edges differ by 0.27 mm, root mean square;
# twice that much is allowed.
ALIKE = 0.55


@dataclass(frozen=True)
class Readings:
    """What the maker read off, and how well.

    Parameters
    ----------
    length : float
        Taped length [mm].
    widths : tuple of (float or None, float)
        Station along the board (None: anywhere, the board being parallel) and width there [mm].
    ticks : tuple of ((float, float), float)
        A pencil tick's place in the photograph (x, y) [px] and its tape reading
        from the datum end [mm].
    ticks_px : tuple of float
        How well each of those places is known, one standard deviation; empty for
        places as well known as a corner set by hand [px].
    tape_mm, rule_mm : float
        One standard deviation of a reading along and across the board [mm].
    parallel_mm : float
        How far from parallel the edges may be when only one width was read [mm].
    straight_mm : float
        How far an edge may bow over its length [mm].
    alike : float
        How far the two edges may differ in that, as a part of it, unless three widths say
        otherwise: those of a sawn board bow much alike. 2 for edges that know nothing of each other.
    square : float
        How far from square an end may be [mm per mm of width].
    """

    length: float
    widths: tuple[tuple[float | None, float], ...]
    ticks: tuple[tuple[tuple[float, float], float], ...] = ()
    tape_mm: float = 0.7
    rule_mm: float = 0.3
    parallel_mm: float = 0.5
    straight_mm: float = 1.5
    alike: float = ALIKE
    square: float = 0.01
    ticks_px: tuple[float, ...] = ()

    @property
    def width(self) -> float:
        """Mean of the widths read [mm]."""
        return float(np.mean([width for _, width in self.widths]))


@dataclass(frozen=True, eq=False)
class Sheet:
    """A sheet of known points that lies flat beside or on the board.

    Parameters
    ----------
    points_px, points_mm : ndarray, [n, 2]
        In the photograph, and on the sheet.
    below_mm : float
        How far under the board's face it lies: 0 on the board, the board's
        thickness on the bench.
    spread_px : float
    scale_spread : float
        How true the sheet's own size is, as a part of it.
    """

    points_px: NDArray[np.float64]
    points_mm: NDArray[np.float64]
    below_mm: float = 0.0
    spread_px: float = 0.3
    scale_spread: float = 0.001


@dataclass(frozen=True, eq=False)
class Evidence:
    """Everything one photograph and one maker say about one board.

    Parameters
    ----------
    corners_px : ndarray, [4, 2]
        In board order.
    edges_px : tuple of (ndarray or None), four
        Points found on datum edge, far end, far edge and datum end, [n, 2].
    readings : Readings
    prior : LensPrior
    sheets : tuple of Sheet
    diagonal_px : float
        Of the picture.
    open_ends : tuple of bool
        Whether the board runs on beyond the near end, and beyond the far end, as
        on one of several photographs of a long board.
    level_px : tuple of ((float, float), (float, float), float)
        Two places in the photograph that lie square across the board from one another,
        (x, y), and how well that is known [mm]; told by the neighbours of a piece.
    across_px : tuple of ((float, float), (float, float), float)
        Two places in the photograph on either edge of a waney board, square across from one
        another, (x, y), and the width read there [mm].
    across_mm : float
        How well such a width and its places agree, one standard deviation [mm].
    corner_px, edge_px, seat_px : float
        One standard deviation of a corner set by hand, of an averaged edge point,
        and of where as a whole an edge seems to lie [px].
    """

    corners_px: NDArray[np.float64]
    edges_px: tuple[NDArray[np.float64] | None, ...]
    readings: Readings
    prior: LensPrior
    diagonal_px: float
    sheets: tuple[Sheet, ...] = ()
    open_ends: tuple[bool, bool] = (False, False)
    level_px: tuple[tuple[tuple[float, float], tuple[float, float], float], ...] = ()
    across_px: tuple[tuple[tuple[float, float], tuple[float, float], float], ...] = ()
    across_mm: float = 1.0
    corner_px: float = 1.0
    edge_px: float = 0.25
    seat_px: float = 0.35
