"""The inner loops of the programmes of one board (`layout.solve.priced`): worth cell by cell.

Whatever would end beyond the board is worth nothing. Worths are so small that no sum of them overflows.
Stacks are worked out place by place as slabs ask for them, and forgotten: all of them at once would take
hundreds of megabytes, which cost more time than the sums.
"""

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled

__all__ = ["fill_slabs", "fill_stacks", "lie_in_sections", "stack_from"]

Worth = NDArray[np.int16]
Whole = NDArray[np.int64]
Map = NDArray[np.bool_]

_BARRED = np.int16(-20_000)  # a worth that spoils every sum it is in


@compiled("void(int16[:, ::1], Array(boolean, 2, 'C', readonly=True), int64[:, ::1], int64)")
def _fill_stack(best: Worth, lying: Map, parts: Whole, first: int) -> None:
    """Fill in the worth of the best stacks of one place, by first row and the row they reach to.

    Rows are worked out from the last one up, some at once: those in which a part may lie one after the
    other, as many as do not know of each other. So loops are long, which pays more than what is worked out
    in vain: of rows before the first one, which are barred.

    Parameters
    ----------
    best : array of int, shape (row + 1, row + 1)
        Filled in up to that row; the other rows are right.
    lying : array of bool, shape (parts, row + 1)
        Where each part may lie.
    parts : array of int, shape (priced parts, 3)
        Width, worth and number of each, the narrowest first.
    first : int
    """
    wide = len(best)
    flat = best.reshape(wide * wide)
    # The next part of a stack lies so many rows further at least; one less, and no loop reads what it writes.
    block = max(parts[0, 0] - 1, 1) if len(parts) else wide
    end = first + 1
    while end > 0:
        begin = max(end - block, 0)
        for row in range(begin, end):
            best[row, row:] = 0
        for one in range(len(parts)):
            width, worth, may = parts[one, 0], np.int16(parts[one, 1]), lying[parts[one, 2]]
            row, stop = begin, min(end, wide - width)
            while row < stop:
                if not may[row]:
                    row += 1
                    continue
                last = row + 1
                while last < stop and may[last]:
                    last += 1
                now, rest = flat[row * wide : last * wide], flat[(row + width) * wide : (last + width) * wide]
                for cell in range((last - row) * wide):
                    now[cell] = max(now[cell], np.int16(worth + rest[cell]))
                row = last
        for row in range(min(end, wide - 1) - 1, begin - 1, -1):
            now, after = best[row], best[row + 1]
            for cell in range(wide):
                now[cell] = max(now[cell], after[cell])
        end = begin


@compiled(
    "int64(Array(boolean, 2, 'C', readonly=True), Array(boolean, 2, 'C', readonly=True), int64[:, ::1])"
)
def _last_other(lying: Map, before: Map, parts: Whole) -> int:
    """The last row in which some part may lie in one place and not in another; -1 if there is none."""
    last = -1
    for one in range(len(parts)):
        now, other = lying[parts[one, 2]], before[parts[one, 2]]
        for row in range(len(now) - 1, last, -1):
            if now[row] != other[row]:
                last = row
                break
    return last


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
    wide = best.shape[2]
    stack = np.full((wide, wide), _BARRED)
    for place in range(len(numbers)):
        now = lying[numbers[place]]
        first = wide - 1 if place == 0 else _last_other(now, lying[numbers[place - 1]], parts)
        _fill_stack(stack, now, parts, first)
        for height in range(best.shape[1]):
            for row in range(wide):
                best[place, height, row] = stack[row, row + height] if row + height < wide else 0


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
    """Fill in the worth of a slab's last part, by cells left, first row, and the row the slab reaches to.

    Parameters
    ----------
    table : array of int, shape (cells left + 1, row + 1, row + 1)
        Filled in.
    needs : array of int, shape (parts, cells left + 1, row + 1)
        Least height that holds each part.
    ones : array of int, shape (pieces, 4)
        Worth and length of single pieces, the number of their needs, and the height from which on
        stacks hold them too.
    lows : array of int, shape (pieces, cells left + 1)
        The least of their needs.
    lying, parts : array
        As of `fill_stacks`.
    sections : array of int, shape (sections, 2 + steps)
        Their length and least height, and by step of cells left the number in `lying`; -1 for none.
    step : int
        Cells left to a step.
    """
    wide = table.shape[1]
    table[0] = 0
    flat = table.reshape(len(table), wide * wide)
    stacks = np.full((len(sections), wide, wide), _BARRED)  # of the place a section was last asked at
    # The same of stacks high enough, for sections of which not all are.
    high = np.full((len(sections), wide, wide), _BARRED)
    last = np.full(len(sections), -1)
    for left in range(1, len(table)):
        table[left] = table[left - 1]
        for one in range(len(ones)):
            price, length, top = np.int16(ones[one, 0]), ones[one, 1], ones[one, 3]
            if left >= length and lows[one, left] < top:
                need = needs[ones[one, 2], left]
                for row in range(wide):
                    first, end = row + need[row], min(row + top, wide)
                    if first < end:
                        now, after = table[left, row, first:end], table[left - length, row, first:end]
                        for cell in range(end - first):
                            now[cell] = max(now[cell], np.int16(after[cell] + price))
        for section in range(len(sections)):
            length, low, place = (
                sections[section, 0],
                sections[section, 1],
                sections[section, 2 + left // step],
            )
            if left < length or place < 0:
                continue
            every = low <= parts[0, 0]
            if place != last[section]:
                before = last[section]
                first = wide - 1 if before < 0 else _last_other(lying[place], lying[before], parts)
                _fill_stack(stacks[section], lying[place], parts, first)
                for row in range(0 if every else min(first + 1, wide - low)):
                    high[section, row, row + low :] = stacks[section, row, row + low :]
                last[section] = place
            now, after = flat[left], flat[left - length]
            stack = (stacks if every else high)[section].reshape(wide * wide)
            for cell in range((wide - low) * wide):  # those of further rows end beyond the board
                now[cell] = max(now[cell], np.int16(after[cell] + stack[cell]))


@compiled("void(boolean[:, ::1], Array(boolean, 2, 'A', readonly=True), int64, int64, int64, int64, int64)")
def lie_in_sections(
    found: Map, places: Map, length: int, width: int, along: int, step: int, room: int
) -> None:
    """Mark the rows in which a part may lie somewhere in sections, by step of their place.

    Parameters
    ----------
    found : array of bool, shape (steps, row + 1)
        Marked true there. In step g a section begins where g * step to g * step + step - 1 cells are left.
    places : array of bool, shape (along, across) or less
        Cells the part's corner may lie in.
    length, width : int
        Cells the part takes.
    along, step : int
    room : int
        Cells of a section that its pieces may lie in.
    """
    rows = min(found.shape[1] - width, places.shape[1])
    last_place = min(along - length, len(places) - 1)
    for row in range(rows):
        ahead, after = last_place + 1, -1  # the places seen last: the first one of them that holds the part
        for group in range(len(found)):
            first, last = max(along - group * step - step + 1, 0), along - group * step + room - length
            for place in range(ahead - 1, first - 1, -1):
                if places[place, row]:
                    after = place
            ahead = min(ahead, first)
            if 0 <= after <= last and first <= last_place:
                found[group, row] = True
