"""The inner loops of fillings slab by slab (`layout.solve.slabs`): most of a search's time goes by here.

All of them ask a view's maps, which are made when they are first asked for: a loop that comes to a part
without one breaks off, changes nothing, and answers with that part, to be run again. Each answers with
-1 first, if it came to its end.

Maps
----
ahead : array of int16, shape (cells of all maps made,)
    First allowed column at or after each cell, in its row; 32767 if there is none. Row after row of a
    column, column after column.
shapes : array of int, shape (parts, 3)
    Where each part's map begins in it, -1 as long as it is not made; its columns and its rows.
sizes : array of float, shape (parts, 2)
    Length and width of each part's sawn piece [mm].
kinds : array of int, shape (parts, 6)
    What may be taken of staves of free width, as `layout.solve.family` says: width account of the family, -1
    for other parts; own quota account or -1; size; least and greatest of the family; quota accounts
    after the first, twice as many and one more where some of its staves have none.
"""

import numpy as np
from numpy.typing import NDArray

from layout.compiled import compiled, loaded

__all__ = ["NOWHERE", "AskedMaps", "Floats", "Whole", "filled", "led", "load"]

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Ahead = NDArray[np.int16]
AskedMaps = tuple[Ahead, Whole, Floats, Whole]
Rectangle = tuple[float, float, float, float]

NOWHERE = 32767
_TINY = 1e-7
_THICKEST = 2.5  # times as thick as its leader a slab may be
_MAPS = "Tuple((int16[::1], int64[:, ::1], float64[:, ::1], int64[:, ::1]))"


@compiled("boolean(int64[:, ::1], int64[::1], int64)")
def _may(kinds: Whole, left: Whole, part: int) -> bool:
    """Whether there is one more of a part to be had."""
    width = kinds[part, 0]
    if width < 0:
        return bool(left[part] > 0)
    own, size, least, most = kinds[part, 1], kinds[part, 2], kinds[part, 3], kinds[part, 4]
    rest, quotas, owed = left[width], kinds[part, 5] // 2, 0
    if rest <= 0 or (own >= 0 and left[own] <= 0):
        return False
    for quota in range(width + 1, width + 1 + quotas):
        owed += left[quota]
    if own >= 0:
        owed -= 1
    if size >= rest:
        return bool(owed == 0 and rest >= least)
    rest -= size
    if kinds[part, 5] % 2:
        owed = max(owed, (rest + most - 1) // most)
    return bool(owed > 0 and owed * least <= rest <= owed * most)


@compiled("void(int64[:, ::1], int64[::1], int64)")
def _take(kinds: Whole, left: Whole, part: int) -> None:
    """Take one of a part."""
    width, own = kinds[part, 0], kinds[part, 1]
    if width < 0:
        left[part] -= 1
        return
    left[width] = max(left[width] - kinds[part, 2], 0)
    if own >= 0:
        left[own] = max(left[own] - 1, 0)


@compiled(
    f"Tuple((int64, float64, float64))({_MAPS}, UniTuple(float64, 3), int64, UniTuple(float64, 4), boolean)"
)
def _nearest(
    maps: AskedMaps, pitch: tuple[float, float, float], part: int, box: Rectangle, crosscut: bool
) -> tuple[int, float, float]:
    """1 and the place of a part nearest the beginning of a box; 0 for none, -1 where its map is not made.

    That is along it for crosscuts, across it for rips.
    """
    ahead, shapes, sizes, _ = maps
    column, row, _ = pitch
    x0, y0, x1, y1 = box
    length, width = sizes[part, 0], sizes[part, 1]
    if length > x1 - x0 + _TINY or width > y1 - y0 + _TINY:
        return 0, 0.0, 0.0
    begins, columns, rows = shapes[part, 0], shapes[part, 1], shapes[part, 2]
    if begins < 0:
        return -1, 0.0, 0.0
    first, line = int(x0 / column + _TINY), int(y0 / row + _TINY)
    last = min(int((y1 - width) / row + _TINY), rows - 1)
    if first >= columns or line > last:
        return 0, 0.0, 0.0
    here = ahead[begins + first * rows + line : begins + first * rows + last + 1]
    at, there = NOWHERE, 0
    if crosscut:
        for step in range(len(here)):
            at = min(at, here[step])
        while here[there] != at:
            there += 1
    else:
        limit = int((x1 - length) / column + _TINY)
        while there < len(here) and here[there] > limit:
            there += 1
        if there < len(here):
            at = here[there]
    x = x0 if at == first else at * column
    if at == NOWHERE or x + length > x1 + _TINY:
        return 0, 0.0, 0.0
    return 1, x, max(y0, (line + there) * row)


@compiled("Tuple((int64[::1], float64[:, ::1]))(int64[::1], float64[:, ::1])")
def _longer(parts: Whole, corners: Floats) -> tuple[Whole, Floats]:
    """Pieces, with room for as many more."""
    many = len(parts)
    found, places = np.empty(2 * many, dtype=np.int64), np.empty((2 * many, 2))
    for piece in range(many):
        found[piece] = parts[piece]
        places[piece, 0], places[piece, 1] = corners[piece, 0], corners[piece, 1]
    return found, places


@compiled("int64(float64[:, ::1], int64[:, ::1], int64, UniTuple(float64, 4), boolean, int64, int64)")
def _put(
    lumps: Floats, ways: Whole, top: int, box: Rectangle, crosscut: bool, stages: int, begin: int
) -> int:
    """Put one more lump upon those to be filled."""
    top += 1
    lumps[top, 0], lumps[top, 1], lumps[top, 2], lumps[top, 3] = box
    ways[top, 0], ways[top, 1], ways[top, 2], ways[top, 3] = int(crosscut), stages, begin, 0
    return top


@compiled(
    f"Tuple((int64, int64[::1], float64[:, ::1]))({_MAPS}, UniTuple(float64, 3), UniTuple(float64, 2),"
    " int64[::1], UniTuple(float64, 4), boolean, int64, int64[::1])"
)
def filled(
    maps: AskedMaps,
    pitch: tuple[float, float, float],
    least: tuple[float, float],
    left: Whole,
    box: Rectangle,
    crosscut: bool,
    stages: int,
    order: Whole,
) -> tuple[int, Whole, Floats]:
    """What a free lump is filled with: slabs one behind the other, each as thick as the first part that fits.

    Parameters
    ----------
    maps : AskedMaps
    pitch : (float, float, float)
        Of columns and rows of the maps, and the kerf [mm].
    least : (float, float)
        Length and width that a lump needs to be looked at [mm].
    left : array of int, shape (accounts,)
        Copies of each part to be had, then what is left on other accounts; counted down.
    box : (x0, y0, x1, y1)
        The lump [mm].
    crosscut : bool
        Whether its slabs are crosscut.
    stages : int
        Of cuts that it may take.
    order : array of int
        Parts, the first to be tried first, each once.

    Returns
    -------
    int
        -1, or the part whose map is not made.
    array of int, shape (pieces,)
        What parts they are.
    array of float, shape (pieces, 2)
        Corner of each [mm].
    """
    _, _, sizes, kinds = maps
    # Written out: to compile the copying of whole arrays takes seconds.
    kerf, more, many = pitch[2], np.empty(len(left), dtype=np.int64), 0
    for part in range(len(left)):
        more[part] = left[part]
    parts, corners = np.empty(16, dtype=np.int64), np.empty((16, 2))
    # Lumps not yet filled, each cut from the one before it or lying before its next slab. Parts passed
    # over do not fit a lump at all, so they fit nothing cut from it: each has its own beginning in the order.
    deep = len(order) + max(stages, 1) + 1
    lumps = np.empty(
        (deep, 6)
    )  # its box, and the corner of a part that waits until the gap before it is filled
    ways = np.empty((deep, 4), dtype=np.int64)  # crosscut, stages, beginning, whether a part waits
    top = _put(lumps, ways, -1, box, crosscut, stages, 0)
    while top >= 0:
        x0, y0, x1, y1 = lumps[top, 0], lumps[top, 1], lumps[top, 2], lumps[top, 3]
        cross, stages, begin = ways[top, 0] == 1, ways[top, 1], ways[top, 2]
        axis = 0 if cross else 1
        if ways[top, 3]:
            ways[top, 3] = 0
            x, y = lumps[top, 4], lumps[top, 5]
            if not _may(kinds, more, order[begin]):
                # A stave in the gap took the width this one was to have.
                lumps[top, axis] = x if cross else y
                continue
        else:
            fits, x, y = 0, 0.0, 0.0
            if x1 - x0 + _TINY >= least[0] and y1 - y0 + _TINY >= least[1]:
                while begin < len(order):
                    if _may(kinds, more, order[begin]):
                        fits, x, y = _nearest(maps, pitch, order[begin], (x0, y0, x1, y1), cross)
                        if fits < 0:
                            return order[begin], parts[:0], corners[:0]
                        if fits:
                            break
                    begin += 1
            if not fits:
                top -= 1
                continue
            ways[top, 2] = begin
            if (x - x0 if cross else y - y0) > kerf and len(order) - begin > 1:
                lumps[top, 4], lumps[top, 5], ways[top, 3] = x, y, 1
                gap = (x0, y0, x - kerf, y1) if cross else (x0, y0, x1, y - kerf)
                top = _put(lumps, ways, top, gap, cross, stages, begin + 1)
                continue
        part = order[begin]
        length, width = sizes[part, 0], sizes[part, 1]
        lumps[top, axis] = x + length + kerf if cross else y + width + kerf
        if stages > 1:
            slab = (x, y0, x + length, y1) if cross else (x0, y, x1, y + width)
            top = _put(lumps, ways, top, slab, not cross, stages - 1, begin)
            continue
        _take(kinds, more, part)
        if many == len(parts):
            parts, corners = _longer(parts, corners)
        parts[many], corners[many, 0], corners[many, 1] = part, x, y
        many += 1
    for part in range(len(left)):
        left[part] = more[part]
    return -1, parts[:many], corners[:many]


@compiled(
    f"Tuple((int64, float64[:, ::1], int64[:, ::1], int64[::1], int64[::1], float64[:, ::1]))({_MAPS},"
    " UniTuple(float64, 3), UniTuple(float64, 2), int64[::1], UniTuple(float64, 2), float64, boolean,"
    " int64, int64[::1], int64, int64, float64[::1])"
)
def led(
    maps: AskedMaps,
    pitch: tuple[float, float, float],
    least: tuple[float, float],
    left: Whole,
    ends_at: tuple[float, float],
    reached: float,
    crosscut: bool,
    stages: int,
    order: Whole,
    leaders: int,
    thicker: int,
    worth: Floats,
) -> tuple[int, Floats, Whole, Whole, Whole, Floats]:
    """Slabs that may come next on a board filled up to a line, each led by a part, as near as that goes.

    Parameters
    ----------
    maps, pitch, least, left, crosscut, stages, order
        As for `filled`; nothing is counted down, and there are copies of all parts in the order.
    ends_at : (float, float)
        Where the board ends along and across [mm].
    reached : float
        The line [mm].
    leaders : int
        How many of the first parts of the order may lead.
    thicker : int
        In how many ways a slab may be thicker than its leader: up to where another part ends beside it.
    worth : array of float, shape (accounts,)
        Of one copy of each part.

    Returns
    -------
    int
        -1, or the part whose map is not made.
    array of float, shape (slabs, 2)
        What each is worth with the gap before it, and where the next may begin [mm].
    array of int, shape (slabs, accounts)
        What is left after it.
    array of int, shape (slabs,)
        How many pieces are in it, and in all before it here.
    array of int, shape (pieces,)
    array of float, shape (pieces, 2)
        As from `filled`.
    """
    _, _, sizes, _ = maps
    kerf, axis, (x1, y1) = pitch[2], 0 if crosscut else 1, ends_at
    most = min(leaders, len(order)) * (1 + thicker) * 2
    slabs, lefts = np.empty((most, 2)), np.empty((most, len(left)), dtype=np.int64)
    until = np.empty(most, dtype=np.int64)
    parts, corners, many, pieces = np.empty(64, dtype=np.int64), np.empty((64, 2)), 0, 0
    # Slabs from line to line, and what leads them: what is as thick as another part may be led by it already.
    tried, tries = np.empty((most, 3)), 0
    ends, own = np.empty((2 * len(order) + 1, 2)), np.empty(len(order), dtype=np.int64)
    whole = (reached, 0.0, x1, y1) if crosscut else (0.0, reached, x1, y1)
    for leader in order[:leaders]:
        fits, x, y = _nearest(maps, pitch, leader, whole, crosscut)
        if fits < 0:
            return leader, slabs[:0], lefts[:0], until[:0], parts[:0], corners[:0]
        if not fits:
            continue
        near, thick = (x, sizes[leader, 0]) if crosscut else (y, sizes[leader, 1])
        ends[0, 0], ends[0, 1], count = near + thick, leader, 1
        for number in range(2 * len(order) if thicker else 0):
            part, far_side = order[number // 2], number % 2 == 1
            if part == leader and left[part] <= 1:
                continue
            if crosscut:
                beside = (x, y + sizes[leader, 1] + kerf, x1, y1) if far_side else (x, 0.0, x1, y - kerf)
            else:
                beside = (x + sizes[leader, 0] + kerf, y, x1, y1) if far_side else (0.0, y, x - kerf, y1)
            fits, other_x, other_y = _nearest(maps, pitch, part, beside, crosscut)
            if fits < 0:
                return part, slabs[:0], lefts[:0], until[:0], parts[:0], corners[:0]
            end = (other_x if crosscut else other_y) + sizes[part, axis]
            if not fits or not near + thick < end <= near + _THICKEST * thick:
                continue
            place = count  # in order, the first that ends there alone
            while place and ends[place - 1, 0] > end:
                place -= 1
            if ends[place - 1, 0] < end:
                for later in range(count, place, -1):
                    ends[later, 0], ends[later, 1] = ends[later - 1, 0], ends[later - 1, 1]
                ends[place, 0], ends[place, 1], count = end, part, count + 1
        for number in range(2 * min(count, 1 + thicker)):
            end, first = ends[number // 2, 0], leader if number % 2 == 0 else int(ends[number // 2, 1])
            known = 0
            while known < tries and not (
                tried[known, 0] == near and tried[known, 1] == end and tried[known, 2] == first
            ):
                known += 1
            if known < tries:
                continue
            tried[tries, 0], tried[tries, 1], tried[tries, 2], tries = near, end, first, tries + 1
            own[0], place = first, 1
            for part in order:
                if part != first:
                    own[place], place = part, place + 1
            before, gained = pieces, 0.0
            for part in range(len(left)):
                lefts[many, part] = left[part]
            for slab in range(2):
                if slab:
                    box = (near, 0.0, end, y1) if crosscut else (0.0, near, x1, end)
                elif near - reached > kerf:
                    box = (reached, 0.0, near - kerf, y1) if crosscut else (0.0, reached, x1, near - kerf)
                else:
                    continue
                lacks, more, places = filled(
                    maps,
                    pitch,
                    least,
                    lefts[many],
                    box,
                    crosscut != (slab == 1),
                    stages - slab,
                    own[1 - slab :],
                )
                if lacks >= 0:
                    return lacks, slabs[:0], lefts[:0], until[:0], parts[:0], corners[:0]
                for piece in range(len(more)):
                    if pieces == len(parts):
                        parts, corners = _longer(parts, corners)
                    parts[pieces] = more[piece]
                    corners[pieces, 0], corners[pieces, 1] = places[piece, 0], places[piece, 1]
                    gained, pieces = gained + worth[more[piece]], pieces + 1
            if pieces > before:
                slabs[many, 0], slabs[many, 1], until[many] = gained, end + kerf, pieces
                many += 1
    return -1, slabs[:many], lefts[:many], until[:many], parts[:pieces], corners[:pieces]


def load() -> None:
    """Load these loops, before time that counts begins."""
    loaded(filled, led)
