"""The inner loops of the programmes of one board (`layout.solve.priced`): worth cell by cell.

Whatever would end beyond the board is worth nothing. Worths are so small that no sum of them overflows.
Stacks are worked out place by place as slabs ask for them, and forgotten: all of them at once would take
hundreds of megabytes, which cost more time than the sums.
"""

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled

__all__ = ["fill_slabs", "fill_stacks", "stack_from"]

Worth = NDArray[np.int16]
Whole = NDArray[np.int64]
Map = NDArray[np.bool_]

_BARRED = np.int16(-20_000)  # a worth that spoils every sum it is in, where a part may not lie


@compiled("void(int16[:, ::1], Array(boolean, 2, 'C', readonly=True), int64[:, ::1], int16[:, ::1])")
def _fill_stack(best: Worth, lying: Map, parts: Whole, worths: Worth) -> None:
    """Fill in the worth of the best stacks of one place, by height and first row.

    Parameters
    ----------
    best : array of int, shape (height + 1, row + 1)
        Filled in.
    lying : array of bool, shape (parts, row + 1)
        Where each part may lie.
    parts : array of int, shape (priced parts, 3)
        Width, worth and number of each, the narrowest first.
    worths : array of int, shape (priced parts, row + 1)
        To work in.
    """
    high, wide = best.shape
    used = np.empty(len(parts), dtype=np.int64)
    many = 0
    for one in range(len(parts)):
        part = parts[one, 2]
        if lying[part].any():
            for row in range(wide):
                worths[many, row] = np.int16(parts[one, 1]) if lying[part, row] else _BARRED
            used[many] = parts[one, 0]
            many += 1
    best[0] = 0
    count = 0  # of parts that are no wider than the stack is high
    for height in range(1, high):
        while count < many and used[count] <= height:
            count += 1
        rows = wide - height  # from which on a stack so high ends on the board
        now, before, after = best[height], best[height - 1], best[height - 1, 1:]
        one = count % 2
        if one:
            worth, rest = worths[0], best[height - used[0], used[0] :]
            for row in range(rows):
                now[row] = max(max(before[row], after[row]), np.int16(worth[row] + rest[row]))
        else:
            for row in range(rows):
                now[row] = max(before[row], after[row])
        while one < count:  # two by two, which is faster than one by one
            worth, rest = worths[one], best[height - used[one], used[one] :]
            other, behind = worths[one + 1], best[height - used[one + 1], used[one + 1] :]
            for row in range(rows):
                two = max(np.int16(worth[row] + rest[row]), np.int16(other[row] + behind[row]))
                now[row] = max(now[row], two)
            one += 2
        now[rows:] = 0


@compiled("void(int16[:, :, ::1], Array(boolean, 3, 'C', readonly=True), int64[::1], int64[:, ::1])")
def fill_stacks(best: Worth, lying: Map, numbers: Whole, parts: Whole) -> None:
    """Fill in the worth of the best stacks of some places, by height and first row.

    Parameters
    ----------
    best : array of int, shape (places, height + 1, row + 1)
        Filled in.
    lying : array of bool, shape (numbers, parts, row + 1)
        Where each part may lie.
    numbers : array of int, shape (places,)
        Of the places in `lying`.
    parts : array of int, shape (priced parts, 3)
        Width, worth and number of each, the narrowest first.
    """
    worths = np.empty((len(parts), best.shape[2]), dtype=np.int16)
    for place in range(len(numbers)):
        _fill_stack(best[place], lying[numbers[place]], parts, worths)


@compiled("int16[::1](Array(boolean, 2, 'C', readonly=True), int64[:, ::1], int64, int64)")
def stack_from(lying: Map, parts: Whole, row: int, height: int) -> Worth:
    """Worth of the best stack up to a height, from a row on and from each one after it, shape (height + 1,).

    Parameters
    ----------
    lying, parts
        As of `fill_stacks`, of one place.
    row, height : int
    """
    found = np.zeros(height + 1, dtype=np.int16)
    for after in range(height - 1, -1, -1):
        found[after] = found[after + 1]
        for one in range(len(parts)):
            end = after + parts[one, 0]
            if end <= height and lying[parts[one, 2], row + after]:
                found[after] = max(found[after], np.int16(parts[one, 1] + found[end]))
    return found


@compiled(
    "void(int16[:, :, ::1], int16[:, :, ::1], int64[:, ::1], int64[:, ::1],"
    " Array(boolean, 3, 'C', readonly=True), int64[:, ::1], int64[:, ::1], int64)"
)
def fill_slabs(
    table: Worth,
    needs: Worth,
    ones: Whole,
    lows: Whole,
    lying: Map,
    parts: Whole,
    sections: Whole,
    step: int,
) -> None:
    """Fill in the worth of a slab's last part, by cells left, height and first row.

    Parameters
    ----------
    table : array of int, shape (cells left + 1, height + 1, row + 1)
        Filled in.
    needs : array of int, shape (parts, cells left + 1, row + 1)
        Least height that holds each part.
    ones : array of int, shape (pieces, 3)
        Worth and length of single pieces, and the number of their needs.
    lows : array of int, shape (pieces, cells left + 1)
        The least of their needs.
    lying, parts : array
        As of `fill_stacks`.
    sections : array of int, shape (sections, 2 + steps)
        Their length and least height, and by step of cells left the number in `lying`; -1 for none.
    step : int
        Cells left to a step.
    """
    high = table.shape[1]
    table[0] = 0
    stacks = np.empty((len(sections), high, high), dtype=np.int16)  # of the place a section was last asked at
    last = np.full(len(sections), -1)
    worths = np.empty((len(parts), high), dtype=np.int16)
    for left in range(1, table.shape[0]):
        table[left] = table[left - 1]
        for part in range(len(ones)):
            price, length = np.int16(ones[part, 0]), ones[part, 1]
            if left >= length:
                need = needs[ones[part, 2], left]
                for height in range(lows[part, left], high):
                    now, after, tall = table[left, height], table[left - length, height], np.int16(height)
                    for row in range(high - height):
                        more = price if need[row] <= tall else np.int16(0)
                        now[row] = max(now[row], np.int16(after[row] + more))
        for section in range(len(sections)):
            length, place = sections[section, 0], sections[section, 2 + left // step]
            if left >= length and place >= 0:
                if place != last[section]:
                    _fill_stack(stacks[section], lying[place], parts, worths)
                    last[section] = place
                for height in range(sections[section, 1], high):
                    now, after = table[left, height], table[left - length, height]
                    stack = stacks[section, height]
                    for row in range(high - height):
                        now[row] = max(now[row], np.int16(after[row] + stack[row]))
