"""The inner loops of the programmes of one board (`layout.solve.priced`): worth cell by cell.

Whatever would end beyond the board stays worth nothing. Worths are so small that no sum of them overflows.
"""

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled

__all__ = ["fill_slabs", "fill_stacks"]

Worth = NDArray[np.int16]
Whole = NDArray[np.int64]


@compiled("void(int16[:, :, ::1], Array(boolean, 3, 'C', readonly=True), int64[::1], int16[::1])")
def fill_stacks(best: Worth, lying: NDArray[np.bool_], widths: Whole, prices: Worth) -> None:
    """Fill in the worth of the best stacks, by what may lie in them, height and first row.

    Parameters
    ----------
    best : array of int, shape (places, height + 1, row + 1)
        Noughts, filled in.
    lying : array of bool, shape (places, parts, row + 1)
        Where each part may lie.
    widths, prices : array of int, shape (parts,)
    """
    places, high = best.shape[0], best.shape[1]
    worths, wide = np.empty((len(widths), high), dtype=np.int16), np.empty(len(widths), dtype=np.int64)
    for place in range(places):
        many = 0
        for part in range(len(widths)):
            if prices[part] and lying[place, part].any():
                for row in range(high):
                    # A worth that spoils every sum it is in, where the part may not lie.
                    worths[many, row] = prices[part] if lying[place, part, row] else np.int16(-20_000)
                wide[many] = widths[part]
                many += 1
        for height in range(1, high):
            rows = high - height  # from which on a stack so high ends on the board
            now, before, after = best[place, height], best[place, height - 1], best[place, height - 1, 1:]
            for row in range(rows):
                now[row] = max(before[row], after[row])
            for number in range(many):
                width = wide[number]
                if width <= height:
                    worth, rest = worths[number], best[place, height - width, width:]
                    for row in range(rows):
                        now[row] = max(now[row], np.int16(worth[row] + rest[row]))


@compiled(
    "void(int16[:, :, ::1], int16[:, :, ::1], int64[:, ::1], int64[:, ::1], int16[:, :, ::1],"
    " int64[:, ::1], int64)"
)
def fill_slabs(
    table: Worth,
    needs: Worth,
    ones: Whole,
    lows: Whole,
    stacks: Worth,
    sections: Whole,
    step: int,
) -> None:
    """Fill in the worth of a slab's last part, by cells left, height and first row.

    Parameters
    ----------
    table : array of int, shape (cells left + 1, height + 1, row + 1)
        Noughts, filled in where a slab ends on the board.
    needs : array of int, shape (parts, cells left + 1, row + 1)
        Least height that holds each part.
    ones : array of int, shape (pieces, 3)
        Worth and length of single pieces, and the number of their needs.
    lows : array of int, shape (pieces, cells left + 1)
        The least of their needs.
    stacks : array of int, shape (places, height + 1, row + 1)
        Worth of the best stacks.
    sections : array of int, shape (sections, 2 + steps)
        Their length and least height, and by step of cells left the place in `stacks`; -1 for none.
    step : int
        Cells left to a step.
    """
    high = table.shape[1]
    for left in range(1, table.shape[0]):
        for height in range(1, high):
            now, before = table[left, height], table[left - 1, height]
            for row in range(high - height):
                now[row] = before[row]
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
                for height in range(sections[section, 1], high):
                    now, after = table[left, height], table[left - length, height]
                    stack = stacks[place, height]
                    for row in range(high - height):
                        now[row] = max(now[row], np.int16(after[row] + stack[row]))
