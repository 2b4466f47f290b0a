"""What the wood of a board looks like, as plain values: colour and grain on a grid.

Whoever has the true-scale picture measures them; the layout only compares.
"""

from dataclasses import dataclass
from math import hypot, sqrt

__all__ = ["Lab", "Looks", "colour_between"]

Lab = tuple[float, float, float]


@dataclass(frozen=True)
class Looks:
    """Colour and grain of one face.

    Parameters
    ----------
    board : str
    face : str
        "front" or "back".
    pitch : float
        Size of a cell [mm].
    colour : tuple of tuple of (L, a, b)
        colour[i][j] is the cell i pitches along and j pitches across the board
        frame (CIELAB).
    grain : tuple of tuple of float, or empty
        Angle of the grain in each cell, positive from x towards y [degrees].
    """

    board: str
    face: str
    pitch: float
    colour: tuple[tuple[Lab, ...], ...]
    grain: tuple[tuple[float, ...], ...] = ()

    def __post_init__(self) -> None:
        if not self.pitch > 0:
            raise ValueError(
                f"looks of board {self.board}: pitch is {self.pitch}; give a number above 0 (mm)"
            )
        if not self.colour or not self.colour[0]:
            raise ValueError(f"looks of board {self.board}: no colour; give at least one cell")

    def colour_in(self, x0: float, y0: float, x1: float, y1: float) -> Lab:
        """Mean colour of a rectangle of the board frame [mm]."""
        cells = [self.colour[i][j] for i, j in self._cells(x0, y0, x1, y1)]
        count = len(cells)
        return (
            sum(cell[0] for cell in cells) / count,
            sum(cell[1] for cell in cells) / count,
            sum(cell[2] for cell in cells) / count,
        )

    def grain_in(self, x0: float, y0: float, x1: float, y1: float) -> float | None:
        """Mean grain of a rectangle [degrees]; None if it was not measured."""
        if not self.grain:
            return None
        cells = [self.grain[i][j] for i, j in self._cells(x0, y0, x1, y1)]
        return sum(cells) / len(cells)

    def _cells(self, x0: float, y0: float, x1: float, y1: float) -> list[tuple[int, int]]:
        columns, rows = len(self.colour), len(self.colour[0])
        first_i, last_i = self._range(x0, x1, columns)
        first_j, last_j = self._range(y0, y1, rows)
        return [(i, j) for i in range(first_i, last_i + 1) for j in range(first_j, last_j + 1)]

    def _range(self, low: float, high: float, count: int) -> tuple[int, int]:
        first = min(max(int(low // self.pitch), 0), count - 1)
        last = min(max(int((high - 1e-9) // self.pitch), first), count - 1)
        return first, last


def colour_between(one: Lab, other: Lab) -> float:
    """How far two colours lie apart (CIELAB distance of 1976); about 2 is just seen side by side."""
    return sqrt(hypot(one[0] - other[0], one[1] - other[1]) ** 2 + (one[2] - other[2]) ** 2)
