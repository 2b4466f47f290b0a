"""Where the pieces of a long board lie: pairs of places, the ends, the tape and chalk in one least squares.

Two long edges do not say how far the camera leant over one of them, and such a lean
makes that edge run shorter. Neighbours, compared along either edge, do say it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Loose", "Tied", "tied"]

_PAIR_MM = 0.4  # a pair's spread when it agrees well
_BEGIN_MM = 0.1  # how well the first piece begins at the datum end
_CHALK_MM = 0.5  # how well a chalk line's place is told
_SURE = 1.96  # standard deviations that hold 95 % of a normal error


@dataclass(frozen=True)
class Loose:
    """What is known of a piece before it is tied to the others.

    Parameters
    ----------
    length : float
        [mm].
    spread : float
        How true that is, as a part of it.
    sag, lean : float
        As far as they may be from 0, one standard deviation [mm].
    foot : float
        Over which of its places the camera stood [mm].
    """

    length: float
    spread: float
    sag: float
    lean: float
    foot: float

    def shapes(
        self, u: NDArray[np.float64], v: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """What start, stretch, sag and lean are multiplied with."""
        part = u / self.length
        return np.ones_like(u), u, 4 * part * (1 - part), (u - self.foot) / self.length * v


@dataclass(frozen=True, eq=False)
class Tied:
    """How places u of a piece lie along the board.

    It is ::

        start + stretch u + sag 4 p (1 - p) + lean v (u - foot) / length,    p = u / length

    v goes from -1/2 at the datum edge to 1/2 at the far edge.

    Parameters
    ----------
    pieces : tuple of Loose
    starts, stretches, sags, leans : ndarray, [piece]
        [mm], the stretches pure numbers.
    error_mm : float
        95 % of places are off by less.
    lean_spreads : ndarray, [piece]
        One standard deviation of each lean [mm].
    """

    pieces: tuple["Loose", ...]
    starts: NDArray[np.float64]
    stretches: NDArray[np.float64]
    sags: NDArray[np.float64]
    leans: NDArray[np.float64]
    error_mm: float
    lean_spreads: NDArray[np.float64]

    def along(self, piece: int, u: ArrayLike, v: ArrayLike = 0.0) -> NDArray[np.float64]:
        """Places along the board of places in a piece [mm]."""
        at, across = np.asarray(u, dtype=np.float64), np.asarray(v, dtype=np.float64)
        _, ones, bend, leant = self.pieces[piece].shapes(at, across)
        straight = self.starts[piece] + self.stretches[piece] * ones
        return np.asarray(straight + self.sags[piece] * bend + self.leans[piece] * leant)

    def within(self, piece: int, x: ArrayLike, v: float = 0.0) -> NDArray[np.float64]:
        """Places in a piece of places along the board, the inverse of `along` [mm]."""
        x = np.asarray(x, dtype=np.float64)
        u = (x - self.starts[piece]) / self.stretches[piece]
        for _ in range(4):  # the sag is a few thousandths of a piece, so each step gains as many digits
            u = u - (self.along(piece, u, v) - x) / self.stretches[piece]
        return np.asarray(u)


def tied(
    pieces: Sequence[Loose],
    pairs: Sequence[NDArray[np.float64]],
    chalk: Sequence[tuple[int, float, float, float]],
    length_mm: float | None,
    tape_mm: float,
) -> Tied:
    """The pieces where they fit together best.

    Parameters
    ----------
    pieces : sequence of Loose
    pairs : sequence of ndarray, [n, 3]
        For every two neighbours the places of one spot in the one and the other [mm], and its v.
    chalk : sequence of (piece, at, v, reading)
        Marks with a tape reading [mm].
    length_mm : float or None
        Taped length; None to leave the far end untied.
    tape_mm : float
        How well the tape was read, one standard deviation [mm].
    """
    system = _System(pieces)
    for i, piece in enumerate(pieces):
        system.add([(4 * i + 1, 1.0)], 1.0, piece.spread)
        system.add([(4 * i + 2, 1.0)], 0.0, max(piece.sag, 1e-3))
        system.add([(4 * i + 3, 1.0)], 0.0, max(piece.lean, 1e-3))
    system.add([(0, 1.0)], 0.0, _BEGIN_MM)
    if length_mm is not None:
        system.add(system.at(len(pieces) - 1, pieces[-1].length), length_mm, tape_mm)
    for i, found in enumerate(pairs):
        # The windows of one join share their errors: all together they weigh as two.
        spread = _PAIR_MM * max(1.0, sqrt(len(found) / 2))
        for a, b, v in found:
            other = [(place, -weight) for place, weight in system.at(i + 1, b, v)]
            system.add([*system.at(i, a, v), *other], 0.0, spread)
    for number, at, v, reading in chalk:
        system.add(system.at(number, at, v), reading, hypot(tape_mm, _CHALK_MM))
    return system.solved()


class _System:
    """Rows of a linear least squares over (start, stretch, sag, lean) of every piece."""

    def __init__(self, pieces: Sequence[Loose]) -> None:
        self.pieces = tuple(pieces)
        self.rows: list[NDArray[np.float64]] = []
        self.values: list[float] = []

    def at(self, piece: int, u: float, v: float = 0.0) -> list[tuple[int, float]]:
        shapes = self.pieces[piece].shapes(np.array(u), np.array(v))
        return [(4 * piece + number, float(weight)) for number, weight in enumerate(shapes)]

    def row(self, terms: Sequence[tuple[int, float]]) -> NDArray[np.float64]:
        row = np.zeros(4 * len(self.pieces))
        for place, weight in terms:
            row[place] += weight
        return row

    def add(self, terms: Sequence[tuple[int, float]], value: float, spread: float) -> None:
        self.rows.append(self.row(terms) / spread)
        self.values.append(value / spread)

    def solved(self) -> Tied:
        system = np.array(self.rows)
        answer = np.linalg.lstsq(system, np.array(self.values), rcond=None)[0]
        covariance = np.linalg.pinv(system.T @ system)
        worst = 0.0
        for number, piece in enumerate(self.pieces):
            for part in (0.0, 0.25, 0.5, 0.75, 1.0):
                for v in (-0.5, 0.0, 0.5):
                    row = self.row(self.at(number, part * piece.length, v))
                    worst = max(worst, float(row @ covariance @ row))
        return Tied(
            self.pieces,
            answer[0::4],
            answer[1::4],
            answer[2::4],
            answer[3::4],
            error_mm=_SURE * sqrt(worst),
            lean_spreads=np.sqrt(np.diag(covariance)[3::4]),
        )
