"""Clear-face cuttings of a board by the rules of the National Hardwood Lumber Association (NHLA).

A cutting is a rectangle of clear face, sides parallel to the board's edge. A
cutting unit is an inch of width times a foot of length. A grade asks for a share
of the board's units in not too many cuttings of a least size.

Read for this module: the rule table, as given by several mills and by NHLA's own
articles (`tests/truth/test_against_nhla.py` cites them). NOT covered: the limits
on pith, wane, splits and holes, the special rules for boards of 1 to 3 feet
surface measure, and the 97 % rule for two full-width cuttings. So a grade found
here is what the cuttings allow, no grader's word.

Cuttings are found one after the other, each the one with most units of all that
are left, with a few fresh starts; the best selection could hold more units, never
fewer.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Allowances, Shop
from layout.ground import Ground, ground_of
from layout.offcuts import largest_rectangle
from layout.stock import Board, Face, Where

__all__ = [
    "GRADES",
    "Cutting",
    "Grade",
    "cuttings_of",
    "grade_of",
    "holes_allowed",
    "standard_length",
    "surface_measure",
]

INCH, FOOT = 25.4, 304.8


@dataclass(frozen=True)
class Grade:
    """One line of the rule table.

    Parameters
    ----------
    name : str
    least_width, least_length : float
        Of the board [in], [ft].
    sizes : tuple of (float, float)
        Least cuttings, width [in] and length [ft]; any one of them will do.
    units : int
        Cutting units needed for each foot of surface measure.
    most : function
        Most cuttings for a surface measure; None where there is no limit.
    extra : tuple of int or None
        Least and greatest surface measure with one cutting more, if that gives
        one more unit for each foot.
    """

    name: str
    least_width: float
    least_length: float
    sizes: tuple[tuple[float, float], ...]
    units: int
    most: Callable[[int], int] | None
    extra: tuple[int, int] | None

    def cuttings(self, measure: int) -> int | None:
        """Most cuttings for a surface measure; fractions are dropped."""
        return None if self.most is None else self.most(measure)

    def needed(self, measure: int) -> int:
        """Cutting units needed for a surface measure."""
        return measure * self.units


GRADES: tuple[Grade, ...] = (
    Grade("FAS", 6, 8, ((4, 5), (3, 7)), 10, lambda sm: min(sm // 4, 4), (6, 15)),
    Grade("1 Common", 3, 4, ((4, 2), (3, 3)), 8, lambda sm: min((sm + 1) // 3, 5), (3, 10)),
    Grade("2A Common", 3, 4, ((3, 2),), 6, lambda sm: min(sm // 2, 7), (2, 7)),
    Grade("3A Common", 3, 4, ((3, 2),), 4, None, None),
)


@dataclass(frozen=True)
class Cutting:
    """A rectangle of clear face in the board frame [mm]."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def units(self) -> float:
        """Inches of width times feet of length."""
        return (self.y1 - self.y0) / INCH * (self.x1 - self.x0) / FOOT

    def at_least(self, width: float, length: float) -> bool:
        """Whether it is so wide [in] and long [ft]."""
        return self.y1 - self.y0 >= width * INCH - 1e-6 and self.x1 - self.x0 >= length * FOOT - 1e-6


def standard_length(length: float) -> int:
    """Length counted in whole feet; odd inches are dropped [ft] from [mm]."""
    return floor(length / FOOT + 1e-9)


def surface_measure(width: float, length: float) -> int:
    """Square feet of face, to the nearest whole; a half counts up.

    Parameters
    ----------
    width, length : float
        [mm]; fractions of an inch of width count, odd inches of length do not.
    """
    return floor(width / INCH * standard_length(length) / 12 + 0.5)


def holes_allowed(units: float) -> tuple[int, int]:
    """Holes a sound cutting may have: so many of 1/4 inch, or so many of 1/2 inch, on one side."""
    whole = floor(units / 12)
    return (1, 0) if whole == 0 else (2 * whole, whole)


def cuttings_of(board: Board, face: Face, grade: Grade) -> tuple[Cutting, ...]:
    """Clear-face cuttings of one face, as many and as small as the grade allows."""
    measure = surface_measure(board.widest, board.length)
    return _cuttings(board, face, grade, grade.cuttings(measure))


def grade_of(board: Board, face: Face) -> Grade | None:
    """The best grade whose size and clear-face cuttings one face of a board meets; None below 3A."""
    measure = surface_measure(board.widest, board.length)
    for grade in GRADES:
        if board.widest < grade.least_width * INCH or standard_length(board.length) < grade.least_length:
            continue
        most = grade.cuttings(measure)
        if _units(_cuttings(board, face, grade, most)) >= grade.needed(measure) - 1e-9:
            return grade
        if most is not None and grade.extra is not None and grade.extra[0] <= measure <= grade.extra[1]:
            more = _units(_cuttings(board, face, grade, most + 1))
            if more >= measure * (grade.units + 1) - 1e-9:
                return grade
    return None


def _units(found: tuple[Cutting, ...]) -> float:
    return sum(cutting.units for cutting in found)


def _cuttings(board: Board, face: Face, grade: Grade, most: int | None) -> tuple[Cutting, ...]:
    """The best of a few greedy selections: each begins with a cutting no wider than some limit."""
    ground, clear = _clear_face(board, face)
    limits = [clear.shape[1], *(round(clear.shape[1] * share) for share in (0.75, 0.6, 0.5, 0.34))]
    found = [_greedy(ground, clear.copy(), grade, most, limit) for limit in dict.fromkeys(limits)]
    return max(found, key=_units)


def _greedy(
    ground: Ground, free: NDArray[np.bool_], grade: Grade, most: int | None, widest: int
) -> tuple[Cutting, ...]:
    found: list[Cutting] = []
    while most is None or len(found) < most:
        best = _largest(ground, free, grade, widest if not found else free.shape[1])
        if best is None:
            break
        i0, j0, i1, j1 = best
        free[i0:i1, j0:j1] = False
        x0, y0 = ground.x0, ground.y0
        found.append(
            Cutting(
                x0 + i0 * ground.column, y0 + j0 * ground.row, x0 + i1 * ground.column, y0 + j1 * ground.row
            )
        )
    return tuple(found)


def _largest(
    ground: Ground, free: NDArray[np.bool_], grade: Grade, widest: int
) -> tuple[int, int, int, int] | None:
    """The largest free block (cells) that is a cutting of the grade and no more than so many rows wide."""
    best: tuple[int, int, int, int] | None = None
    for start in range(0, free.shape[1] - widest + 1, max(widest // 4, 1)):
        block = largest_rectangle(free[:, start : start + widest])
        if block is None:
            continue
        i0, j0, i1, j1 = block[0], block[1] + start, block[2], block[3] + start
        size = Cutting(0.0, 0.0, (i1 - i0) * ground.column, (j1 - j0) * ground.row)
        large = any(size.at_least(width, length) for width, length in grade.sizes)
        if large and (best is None or (i1 - i0) * (j1 - j0) > (best[2] - best[0]) * (best[3] - best[1])):
            best = (i0, j0, i1, j1)
    return best


def _clear_face(board: Board, face: Face) -> tuple[Ground, NDArray[np.bool_]]:
    """The face as cells (columns, rows), true where it is clear wood."""
    none = Allowances(0, 0, 0, 0, 0, 0, 0)
    outline = board.outline(face)
    seen = tuple(
        defect
        for defect in board.defects
        if defect.where is Where.THROUGH or defect.where.value == face.value
    )
    flat = Board(board.id, outline, outline, board.thickness, board.species, seen, error=0.0)
    ground = ground_of(flat, Shop(allowances=none))
    columns = floor(ground.length / ground.column + 1e-9)
    rows = ground.rows.low.shape[1]
    blocked = np.zeros((columns + 1, rows), dtype=np.int64)
    low, high = ground.rows.low, ground.rows.high
    obstacle, j = np.nonzero(low < high)
    first = np.clip(np.floor(low[obstacle, j] / ground.column + 1e-9), 0, columns).astype(np.int64)
    last = np.clip(np.ceil(high[obstacle, j] / ground.column - 1e-9), 0, columns).astype(np.int64)
    np.add.at(blocked, (first, j), 1)
    np.add.at(blocked, (last, j), -1)
    free: NDArray[np.bool_] = np.cumsum(blocked, axis=0)[:-1] == 0
    return ground, free
