"""Sets of parts, packed, that grow piece by piece: with every move, and each once where it leads.

What is open stands on a line (a first row, say), has a set, what it is worth, and how far it reaches (a
height, or a row). It goes on only where the best that may follow makes it worth enough.
"""

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled
from layout.solve.packed import Whole

__all__ = ["each_once", "most_before", "to_gain", "with_moves"]

Best = NDArray[np.int32]


@compiled(
    "Tuple((int64[::1], int64[::1], int64[::1], int64[::1]))"
    "(int64[::1], int64[::1], int64[::1], int64[::1], int32[:, ::1], int64)"
)
def each_once(
    lines: Whole, codes: Whole, worths: Whole, reaches: Whole, best: Best, least: int
) -> tuple[Whole, Whole, Whole, Whole]:
    """Each set once on its line, where it reaches least, if it may still be worth so much.

    Parameters
    ----------
    lines, codes, worths, reaches : array of int, shape (sets,)
        One set is worth the same wherever it is.
    best : array of int, shape (reach + 1, lines)
        Most worth of what may follow.
    least : int

    Returns
    -------
    four arrays of int, shape (sets,)
        The same of what is left: line by line, dearest first.
    """
    many, size = 0, 2
    while size < 2 * len(lines):
        size *= 2
    table, kept = np.full(size, -1), np.empty(len(lines), dtype=np.int64)
    for one in range(len(lines)):
        if worths[one] + best[reaches[one], lines[one]] < least:
            continue
        key = (codes[one] * 0x9E3779B97F4A7 + lines[one]) * 0x2545F4914F6C5  # any two large odd numbers
        place = (key ^ (key >> 29)) & (size - 1)
        while True:
            other = table[place]
            if other < 0:
                table[place], kept[many] = many, one
                many += 1
                break
            if codes[kept[other]] == codes[one] and lines[kept[other]] == lines[one]:
                if reaches[one] < reaches[kept[other]]:
                    kept[other] = one
                break
            place = (place + 1) & (size - 1)
    kept = kept[:many]
    kept = kept[np.argsort((lines[kept] << 32) - worths[kept])]
    return lines[kept], codes[kept], worths[kept], reaches[kept]


@compiled(
    "Tuple((int64[::1], int64[::1], int64[::1], int64[::1]))(int64[::1], UniTuple(int64[::1], 3),"
    " UniTuple(int64[::1], 4), int32[:, ::1], int32[:, ::1], int64, int64, int64, int64)"
)
def with_moves(
    starts: Whole,
    now: tuple[Whole, Whole, Whole],
    moves: tuple[Whole, Whole, Whole, Whole],
    gain: Best,
    best: Best,
    least: int,
    room: int,
    guard: int,
    most: int,
) -> tuple[Whole, Whole, Whole, Whole]:
    """What is open, with every move that may be made on its line.

    Parameters
    ----------
    starts : array of int, shape (lines + 1,)
        Where what is open on a line begins.
    now : three arrays of int, shape (sets,)
        Sets, worths and reaches of what is open; on each line dearest first.
    moves : four arrays of int, shape (moves,)
        Lines, sets, worths, and how far they reach at least.
    gain, best : array of int, shape (reach + 1, lines)
        Most worth of all but a move that reaches so far, and of what may follow; no more for more reach.
    least : int
        What leads to less is left out.
    room, guard : int
        Of the sets (`layout.solve.packed`): those with too many copies are left out.
    most : int
        If it comes to more, it is not gone on with.

    Returns
    -------
    four arrays of int, shape (sets,)
        Lines, sets, worths and reaches; more than `most` if there was no end.
    """
    codes, worths, reaches = now
    lines, found = np.empty(256, dtype=np.int64), np.empty((3, 256), dtype=np.int64)
    many = 0
    for move in range(len(moves[0])):
        line, more, worth, far = moves[0][move], moves[1][move], moves[2][move], moves[3][move]
        if far >= len(best) or gain[far, line] + worth < least:
            continue
        for one in range(starts[line], starts[line + 1]):
            if worths[one] + worth + best[far, line] < least:
                break
            reach, code = max(reaches[one], far), codes[one] + more
            if worths[one] + worth + best[reach, line] < least or (code + room) & guard:
                continue
            if many == len(lines):
                if many > most:
                    return lines, found[0], found[1], found[2]
                wider, others = np.empty(2 * many, dtype=np.int64), np.empty((3, 2 * many), dtype=np.int64)
                wider[:many], others[:, :many] = lines, found
                lines, found = wider, others
            lines[many] = line
            found[0, many], found[1, many], found[2, many] = code, worths[one] + worth, reach
            many += 1
    return lines[:many].copy(), found[0, :many].copy(), found[1, :many].copy(), found[2, :many].copy()


@compiled("int32[:, ::1](int64[::1], int64[::1], int64[::1], int64, int64)")
def most_before(lines: Whole, worths: Whole, reaches: Whole, far: int, many: int) -> Best:
    """Most worth of what is open and reaches no farther, shape (far, lines); below nought for nothing."""
    found = np.full((far, many), -20_000, dtype=np.int32)
    for one in range(len(lines)):
        found[reaches[one], lines[one]] = max(found[reaches[one], lines[one]], np.int32(worths[one]))
    for reach in range(1, far):
        now, before = found[reach], found[reach - 1]
        for line in range(many):
            now[line] = max(now[line], before[line])
    return found


@compiled("int32[:, ::1](int32[:, ::1], int32[:, ::1])")
def to_gain(before: Best, after: Best) -> Best:
    """Most worth of what is before and after a move, by how far it reaches at least and line."""
    found = before + after
    for reach in range(len(found) - 2, -1, -1):
        now, farther = found[reach], found[reach + 1]
        for line in range(found.shape[1]):
            now[line] = max(now[line], farther[line])
    return found
