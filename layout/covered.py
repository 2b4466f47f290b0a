"""Cells of a hopeful map that obstacles cover: a part lies in none of them, wherever in the cell.

For each row of places an obstacle takes one stretch along the board in which the part's corner may
not lie. Stretches of one fault's pieces are joined first, and lose a little at both ends; then
all of them are joined, as one may end in a cell in which another has begun.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled

__all__ = ["Asked", "Spans", "covered", "spans_of"]

Map = NDArray[np.bool_]
Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Joined = tuple[Floats, Floats]

_MEETING = 1e-6  # stretches nearer than this are one [mm]


@dataclass(frozen=True)
class Spans:
    """From where to where obstacles reach along the board, over several rows or lines at once.

    Parameters
    ----------
    owner : array of int, shape (obstacles,)
        Number of the defect each belongs to, and one more; nought for wood that is not there. In order.
    rows : two arrays of float, shape (steps, obstacles, rows)
        Least low and greatest high over 2 ** step rows from one on [mm].
    lines : two arrays of float, shape (steps, obstacles, lines)
        Greatest low and least high over so many lines between rows [mm].
    """

    owner: Whole
    rows: Joined
    lines: Joined


@dataclass(frozen=True)
class Asked:
    """A rectangle of a part that some faults may not touch.

    Parameters
    ----------
    x0, x1 : float
        From where to where along the part [mm].
    first, last : int
        Rows or lines of the obstacles it covers, counted from the first of its own place's.
    line : bool
        Whether lines are meant.
    owners : array of bool, shape (defects + 1,)
        Whose obstacles, as numbered in `Spans.owner`.
    """

    x0: float
    x1: float
    first: int
    last: int
    line: bool
    owners: Map


def spans_of(owner: Whole, rows: Joined, lines: Joined) -> Spans:
    """The spans of convex obstacles.

    Parameters
    ----------
    owner : array of int, shape (obstacles,)
        As in `Spans`.
    rows, lines : two arrays of float, shape (obstacles, rows), or (obstacles, lines)
        Low and high of each; inf and -inf where there is nothing [mm].
    """
    return Spans(
        owner,
        (_over(np.minimum, rows[0]), _over(np.maximum, rows[1])),
        (_over(np.maximum, lines[0]), _over(np.minimum, lines[1])),
    )


def _over(least: np.ufunc, values: Floats) -> Floats:
    """By step, the least (or greatest) of 2 ** step values from one on; where there are fewer, of no use."""
    found = [values]
    while 2 ** len(found) <= values.shape[1]:
        last, step = found[-1], 2 ** (len(found) - 1)
        more = last.copy()
        more[:, :-step] = least(last[:, :-step], last[:, step:])
        found.append(more)
    return np.stack(found)


def covered(
    spans: Spans, asked: Sequence[Asked], shape: tuple[int, int], parts: int, column: float, less: float
) -> Map:
    """Cells, of this shape (columns, rows), in which the part cannot lie.

    Parameters
    ----------
    spans : Spans
    asked : sequence of Asked
    shape : (int, int)
    parts : int
        Rows of obstacles to a row of cells.
    column : float
        Pitch along [mm].
    less : float
        What stretches of one fault lose at both ends [mm].
    """
    found = np.zeros(shape, dtype=np.bool_)
    if asked and len(spans.owner):
        where = np.array([(item.x0, item.x1) for item in asked])
        which = np.array([(item.first, item.last, item.line) for item in asked], dtype=np.int64)
        owners = np.stack([item.owners for item in asked])
        _covered(*spans.rows, *spans.lines, spans.owner, where, which, owners, parts, column, less, found)
    return found


@compiled(
    "void(float64[:, :, ::1], float64[:, :, ::1], float64[:, :, ::1], float64[:, :, ::1], int64[::1],"
    " float64[:, ::1], int64[:, ::1], boolean[:, ::1], int64, float64, float64, boolean[:, ::1])"
)
def _covered(
    row_low: Floats,
    row_high: Floats,
    line_low: Floats,
    line_high: Floats,
    owner: Whole,
    where: Floats,
    which: Whole,
    owners: Map,
    parts: int,
    column: float,
    less: float,
    found: Map,
) -> None:
    """As `covered`, marked in `found`."""
    columns, rows = found.shape
    own_near, own_far = np.empty(len(owner)), np.empty(len(owner))
    near, far = np.empty(len(owner) * len(where)), np.empty(len(owner) * len(where))
    for row in range(rows):
        many = 0
        for item in range(len(where)):
            first, last = which[item, 0] + row * parts, which[item, 1] + row * parts
            if which[item, 2]:
                low, high, end = line_low, line_high, line_low.shape[2]
                if first < 0 or last >= end:
                    continue
            else:
                low, high, end = row_low, row_high, row_low.shape[2]
                first, last = max(first, 0), min(last, end - 1)
            if last < first:
                continue
            step, size = 0, 1
            while 2 * size <= last - first + 1:
                step, size = step + 1, 2 * size
            second = last - size + 1
            own = 0
            for piece in range(len(owner) + 1):
                if piece == len(owner) or (piece and owner[piece] != owner[piece - 1]):
                    # A fault was cut into pieces: where one ends the next begins, and nothing lies between.
                    at = 0
                    while at < own:
                        begins, ends = own_near[at], own_far[at]
                        at += 1
                        while at < own and own_near[at] <= ends + _MEETING:
                            ends = max(ends, own_far[at])
                            at += 1
                        if begins + less < ends - less:
                            near[many], far[many] = begins + less, ends - less
                            many += 1
                    own = 0
                if piece < len(owner) and owners[item, owner[piece]]:
                    one, other = low[step, piece, first], low[step, piece, second]
                    begins = (max(one, other) if which[item, 2] else min(one, other)) - where[item, 1]
                    one, other = high[step, piece, first], high[step, piece, second]
                    ends = (min(one, other) if which[item, 2] else max(one, other)) - where[item, 0]
                    if begins < ends:
                        place = own
                        while place and own_near[place - 1] > begins:
                            own_near[place], own_far[place] = own_near[place - 1], own_far[place - 1]
                            place -= 1
                        own_near[place], own_far[place] = begins, ends
                        own += 1
        order = np.argsort(near[:many])
        at = 0
        while at < many:
            begins, ends = near[order[at]], far[order[at]]
            at += 1
            while at < many and near[order[at]] <= ends + _MEETING:
                ends = max(ends, far[order[at]])
                at += 1
            start = min(max(np.floor(begins / column) + 1.0, 0.0), float(columns))
            stop = min(max(np.ceil(ends / column) - 1.0, 0.0), float(columns))
            for cell in range(int(start), int(stop)):
                found[cell, row] = True
