"""What no layout can undercut: a bound on the money for boards, for any way of sawing.

Everything here stands on hopeful maps (`layout.hopeful`), sizes up to 0.6 mm
small (whole half millimetres), and straight cuts forgotten, so the bound holds for every
layout of every class; it is weak where there is much choice.

The quick bound relaxes a board to a store of area. Take every piece with a kerf
on two sides; such pieces do not overlap. Along any line across the board they
fill stretches that can be covered at all, each by whole pieces only, so a
stretch of length s holds at most the largest sum of piece lengths up to s. Summed
over all lines this caps the area a board can give; a small integer programme then
picks the cheapest boards with enough of it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from layout.allowances import Sawing, Shop, sawn_length, sawn_width
from layout.clear import clear_map
from layout.cost import price_of
from layout.ground import Ground, ground_of
from layout.hopeful import hopeful_map, hopeful_rectangles
from layout.parts import Part
from layout.placement import Placement
from layout.poses import poses
from layout.solve.outside import Outside
from layout.stock import Board

__all__ = ["CORNERED", "Question", "Store", "outside_of", "question_of", "quick_bound"]

Rectangle = tuple[float, float, float, float]

CORNERED = sqrt(0.5)  # of a kerf between two pieces that are a kerf apart, along or across at least
_QUICK = 1.0  # time for the quick bound [s]
_SMALL = 0.1  # conceded on the size of every piece with its kerf [mm]


@dataclass(frozen=True)
class Store:
    """What one board could give at most.

    Parameters
    ----------
    price : float
    length, width : float
        Of its usable wood, a kerf added [mm].
    area : float
        Most area of pieces with their kerf [mm2].
    places : tuple of tuple of Rectangle
        For each part, where its corner might lie [mm].
    most : tuple of int
        For each part, how many copies it might give.
    loose : bool
        Parts lie tilted on it: only its area counts.
    """

    price: float
    length: float
    width: float
    area: float
    places: tuple[tuple[Rectangle, ...], ...]
    most: tuple[int, ...]
    loose: bool = False


@dataclass(frozen=True)
class Question:
    """The cheapest boards that could hold all parts: what is known of parts and boards.

    Parameters
    ----------
    wanted : tuple of int
    sizes : tuple of (float, float)
        Length and width of each part's sawn piece with its kerf, rounded down to
        half millimetres [mm].
    stores : tuple of Store
    spent : float
        On boards that hold locked parts, whatever happens [money].
    """

    wanted: tuple[int, ...]
    sizes: tuple[tuple[float, float], ...]
    stores: tuple[Store, ...]
    spent: float = 0.0


def question_of(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    locked: Sequence[Placement] = (),
    cells: int = 40_000,
    careful: bool = False,
) -> Question:
    """The question for a job; boards that hold locked parts count as free and empty.

    With `careful`, maps and sizes err the other way: what answers the question
    then can be sawn out with a band saw. For comparison with the search.
    """
    held = {item.board for item in locked}
    number = {part.name: 0 for part in parts}
    for item in locked:
        number[item.part] = number.get(item.part, 0) + 1
    usable = [board for board in boards if not board.forbidden]
    wanted = tuple(max(part.quantity - number[part.name], 0) for part in parts)
    # Sawn out freely, two pieces may come near each other corner to corner.
    kerf = shop.allowances.kerf * (CORNERED if shop.sawing is Sawing.BAND_SAW and not careful else 1.0)
    sizes = tuple(
        (
            _rounded(sawn_length(part, shop.allowances) + kerf, careful),
            _rounded(sawn_width(part, shop.allowances) + kerf, careful),
        )
        for part in parts
    )
    stores = tuple(
        _store(
            ground_of(board, shop, cells),
            parts,
            wanted,
            sizes,
            0.0 if board.id in held else price_of(board),
            careful,
        )
        for board in usable
    )
    return Question(wanted, sizes, stores, sum(price_of(board) for board in usable if board.id in held))


def outside_of(question: Question) -> Outside:
    """What is known of the boards of a question: the area each gives at most, and the copies."""
    known = Outside(
        question.wanted, [store.price for store in question.stores], [store.most for store in question.stores]
    )
    for number, store in enumerate(question.stores):
        known.price(number, [length * width for length, width in question.sizes], store.area)
    return known


def quick_bound(question: Question, seconds: float = _QUICK) -> float | None:
    """Money no layout of all parts can undercut, as far as that is known in time [s].

    None if not all parts can be placed at all.
    """
    if not sum(question.wanted):
        return question.spent
    if not question.stores:
        return None
    known = outside_of(question)
    # On a busy machine the integer programme may have said nothing when its time is up.
    relaxed, answer = known.relaxed(), known.whole(seconds)
    if relaxed is None or answer is None:
        return None
    return question.spent + max(relaxed.money, answer.money)


def _rounded(size: float, careful: bool) -> float:
    return ceil(2.0 * size) / 2.0 if careful else floor(2.0 * (size - _SMALL)) / 2.0


def _store(
    ground: Ground,
    parts: Sequence[Part],
    wanted: Sequence[int],
    sizes: Sequence[tuple[float, float]],
    price: float,
    careful: bool,
) -> Store:
    if any(pose.tilt for part in parts for pose in poses(part, ground.board, ground.shop, 1)):
        return _loose(ground, wanted, sizes, price)
    maps = [clear_map(ground, part).ok if careful else hopeful_map(ground, part) for part in parts]
    there = [bool(found.any()) and wanted[t] > 0 for t, found in enumerate(maps)]
    covers = [_cover(ground, found, *sizes[t]) if there[t] else None for t, found in enumerate(maps)]
    whole = np.zeros((1, 1), dtype=np.bool_)
    for cover in covers:
        if cover is not None:
            whole = cover if whole.size == 1 else whole | cover
    area = _capacity(ground, whole, [sizes[t] for t in range(len(parts)) if there[t]])
    most = []
    for t, cover in enumerate(covers):
        if cover is None:
            most.append(0)
            continue
        alone = min(_capacity(ground, cover, [sizes[t]]), area)
        most.append(min(floor(alone / (sizes[t][0] * sizes[t][1]) + 1e-6), wanted[t]))
    kerf = ground.shop.allowances.kerf
    places = tuple(
        tuple(hopeful_rectangles(found, ground)) if most[t] else () for t, found in enumerate(maps)
    )
    return Store(price, ground.length + kerf, ground.width + kerf, area, places, tuple(most))


def _loose(
    ground: Ground, wanted: Sequence[int], sizes: Sequence[tuple[float, float]], price: float
) -> Store:
    """A board on which parts lie tilted: nothing but its area is counted on."""
    kerf = ground.shop.allowances.kerf
    area = float(ground.wood.buffer(kerf, join_style="mitre").area)
    whole = ((0.0, 0.0, ground.length, ground.width),)
    return Store(
        price,
        ground.length + kerf,
        ground.width + kerf,
        area,
        tuple(whole for _ in wanted),
        tuple(
            min(floor(area / (length * width)), number)
            for (length, width), number in zip(sizes, wanted, strict=True)
        ),
        loose=True,
    )


def _cover(ground: Ground, found: NDArray[np.bool_], length: float, width: float) -> NDArray[np.bool_]:
    """Cells of the board, a kerf added, that the part with its kerf might cover."""
    kerf = ground.shop.allowances.kerf
    shape = (
        floor((ground.length + kerf) / ground.column) + 2,
        floor((ground.width + kerf) / ground.row) + 2,
    )
    cover = np.zeros(shape, dtype=np.uint8)
    cover[: found.shape[0], : found.shape[1]] = found
    for axis, (size, pitch) in enumerate(((length, ground.column), (width, ground.row))):
        reach = floor(size / pitch) + 2
        origin = (reach - 1) // 2 if reach % 2 else reach // 2 - 1
        cover = maximum_filter1d(cover, reach, axis=axis, mode="constant", origin=origin)
    return cover.astype(np.bool_)


def _capacity(ground: Ground, cover: NDArray[np.bool_], sizes: Sequence[tuple[float, float]]) -> float:
    """Most area that whole pieces can fill of the cells that can be covered [mm2]."""
    if not cover.any():
        return 0.0
    along = _filled(cover, ground.column, [length for length, _ in sizes]) * ground.row
    across = _filled(cover.T, ground.row, [width for _, width in sizes]) * ground.column
    return float(min(along, across))


def _filled(cover: NDArray[np.bool_], pitch: float, lengths: Sequence[float]) -> float:
    """Sum over all lines (second axis) of the most length that whole pieces fill of their stretches [mm]."""
    sums = _sums(lengths, pitch * len(cover) + 1.0)
    padded = np.zeros((cover.shape[0] + 2, cover.shape[1]), dtype=np.int8)
    padded[1:-1] = cover
    steps = np.diff(padded, axis=0)
    # Line by line, beginnings and ends come in the same order.
    stretches = (np.nonzero(steps.T == -1)[1] - np.nonzero(steps.T == 1)[1]) * pitch
    return float(sums[np.searchsorted(sums, stretches + 1e-6, side="right") - 1].sum())


def _sums(lengths: Sequence[float], most: float) -> NDArray[np.float64]:
    """All sums of piece lengths, which are whole half millimetres, up to a limit [mm]."""
    steps = sorted({round(2.0 * length) for length in lengths})
    limit = floor(2.0 * most)
    reached = 1
    mask = (1 << (limit + 1)) - 1
    for step in steps:
        shift = step
        while shift <= limit:
            reached |= (reached << shift) & mask
            shift *= 2
    bits = np.frombuffer(reached.to_bytes(limit // 8 + 1, "little"), dtype=np.uint8)
    found = np.flatnonzero(np.unpackbits(bits, bitorder="little")[: limit + 1])
    return found / 2.0
