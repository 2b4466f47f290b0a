"""A job made ready for the search: boards as ground, parts as kinds, a clear map for each pair."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import ceil, floor, inf
from typing import overload

import numpy as np

from layout.allowances import Sawing, Shop
from layout.clear import ClearMap, clear_map
from layout.cost import price_of
from layout.cuts import Box, sawn_box
from layout.demands import Mending
from layout.ground import Ground, usable_wood
from layout.parts import Part
from layout.placement import Placement
from layout.poses import box_size
from layout.solve.family import Books, Family, Left
from layout.solve.few import Few, Picked
from layout.solve.memory import known_ground, known_map
from layout.solve.strips import stave_map
from layout.stock import Board

__all__ = ["Job", "Maps", "job_of", "without"]

_MOST_CELLS = 16_000_000  # of all maps together, as far as that leaves each fine enough,
_CELLS = (20_000, 300_000)  # which is between these
_MOST_GROUNDS = 500  # kept ready
_MOST_KEPT = 120_000_000  # cells of maps kept ready
_FEWEST = 4  # boards whose maps are kept in any case


class Maps(Sequence[ClearMap]):
    """The clear maps of one board, each made when it is first asked for.

    Parameters
    ----------
    parts : sequence of Part
    ground : function
        Answers with the board's ground.
    sizes : sequence of (float, float)
        Length and width of the box round every part's sawn piece on this board [mm].
    make : function of (Ground, Part)
    """

    def __init__(
        self,
        parts: Sequence[Part],
        ground: Callable[[], Ground],
        sizes: Sequence[tuple[float, float]],
        make: Callable[[Ground, Part], ClearMap],
    ) -> None:
        self.sizes = sizes
        self._parts, self._ground, self._make = parts, ground, make
        self._made: list[ClearMap | None] = [None] * len(parts)

    def __len__(self) -> int:
        return len(self._parts)

    @overload
    def __getitem__(self, number: int) -> ClearMap: ...
    @overload
    def __getitem__(self, number: slice) -> list[ClearMap]: ...
    def __getitem__(self, number: int | slice) -> ClearMap | list[ClearMap]:
        if isinstance(number, slice):
            return [self[item] for item in range(*number.indices(len(self)))]
        found = self._made[number]
        if found is None:
            found = self._made[number] = self._make(self._ground(), self._parts[number])
        return found


@dataclass
class Job:
    """What the search works on; boards and parts are known by their number.

    Parameters
    ----------
    boards : list of Board
        Those that may be cut, in the given order.
    parts : list of Part
    wanted : list of int
        Copies of each part still to be placed.
    woods : list of float
        Area of every board's usable wood, 1 at least [mm2].
    grounds : sequence of Ground
        Made when first asked for, as are the maps.
    maps : sequence of Maps
        By board, then part.
    prices : list of float
        What using each board costs [money].
        0 for a board that already holds locked parts.
    taken : list of list of Box
        Sawn pieces fixed on each board, in its own frame [mm].
    mended : bool
        Whether some places are allowed only with a repair.
    books : Books
        The accounts of staves of free width: they stand at the end of `wanted`,
        and the panels they are of at the end of `parts`.
    """

    shop: Shop
    boards: list[Board]
    parts: list[Part]
    wanted: list[int]
    woods: list[float]
    grounds: Sequence[Ground]
    maps: Sequence[Maps]
    prices: list[float]
    taken: list[list[Box]] = field(default_factory=list)
    mended: bool = False
    books: Books = field(default_factory=lambda: Books((), ()))

    @property
    def kerf(self) -> float:
        return self.shop.allowances.kerf

    @property
    def sawing(self) -> Sawing:
        return self.shop.sawing

    def areas(self) -> list[float]:
        """Finished-size areas of the parts, the usual value of placing one [mm2]."""
        plain = len(self.parts) - len(self.books.extra)
        sizes = [part.length * part.width for part in self.parts[:plain]]
        return [*sizes, *(area for _, area in self.books.extra)]

    def copies(self) -> int:
        """How many copies are wanted in all; of staves of free width, about."""
        found = sum(self.wanted[: len(self.parts) - len(self.books.extra)])
        for family, (width, _) in zip(self.books.families, self.books.accounts, strict=True):
            found += ceil(self.wanted[width] / max(kind.size for kind in family.kinds))
        return found

    def weights(self) -> list[float]:
        """What leaving out one copy of each part weighs, by size and priority."""
        weights = [area * 10.0**part.priority for area, part in zip(self.areas(), self.parts, strict=True)]
        for number in self.books.quotas:
            staves = self.parts[number].staves
            assert staves is not None
            # An outer stave missing is a stave missing, though its width is on another account.
            weights[number] = self.parts[number].length * staves.least * 10.0 ** self.parts[number].priority
        return weights

    def left(self, missing: Sequence[int]) -> Left:
        """What of the copies missing may be placed next, to be counted down."""
        return self.books.left(missing)

    def counts(self, missing: Sequence[int], left: Left) -> tuple[int, ...]:
        """What was placed of `missing` since `left` was made of it."""
        return self.books.counts(missing, left)

    def only(self, numbers: Sequence[int]) -> "Job":
        """The job with these boards only; what is made for one is made for both."""
        return replace(
            self,
            boards=[self.boards[number] for number in numbers],
            woods=[self.woods[number] for number in numbers],
            grounds=Picked(self.grounds, numbers),
            maps=Picked(self.maps, numbers),
            prices=[self.prices[number] for number in numbers],
            taken=[self.taken[number] for number in numbers],
        )


def job_of(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    wanted: Sequence[int] | None = None,
    mending: Mending | None = None,
    locked: Sequence[Placement] = (),
    families: Sequence[Family] = (),
) -> Job:
    """What the search needs to know of every board that may be cut.

    Parameters
    ----------
    boards, parts, shop
    wanted : sequence of int, optional
        Copies of each part to place; all if not given.
    mending : function, optional
        See `layout.demands`.
    locked : sequence of Placement
        Their wood is taken, and their boards are paid for.
    families : sequence of Family
        Staves of free width; their kinds are among the parts.
    """
    books = Books(parts, families)
    usable = [board for board in boards if not board.forbidden]
    listed = {part.name: part for part in parts}
    boxes: dict[str, list[Box]] = {}
    for item in locked:
        boxes.setdefault(item.board, []).append(sawn_box(item, listed[item.part], shop))
    taken = [boxes.get(board.id, []) for board in usable]
    every = [*parts, *(panel for panel, _ in books.extra)]
    grounds, maps = _made_late(usable, every, shop, mending, taken, books)
    return Job(
        shop,
        usable,
        every,
        books.wanted(()) if wanted is None else list(wanted),
        [max(float(usable_wood(board, shop).area), 1.0) for board in usable],
        grounds,
        maps,
        [0.0 if box else price_of(board) for board, box in zip(usable, taken, strict=True)],
        taken,
        mending is not None,
        books,
    )


def _made_late(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    mending: Mending | None,
    taken: Sequence[Sequence[Box]],
    books: Books,
) -> tuple[Few[Ground], Few[Maps]]:
    """Grounds and maps of boards, to be made when they are asked for.

    Staves of free width are not laid where only a repair would help; the parts
    that stand for accounts of theirs lie nowhere.
    """
    # The many widths of a stave are no reason for coarser maps.
    most = len(parts) - len(books.members) - len(books.extra) + 3 * len(books.families)
    cells = int(min(max(_MOST_CELLS // max(len(boards) * most, 1), _CELLS[0]), _CELLS[1]))
    grounds = Few(len(boards), lambda number: known_ground(boards[number], shop, cells), _MOST_GROUNDS)
    sizes: dict[float, list[tuple[float, float]]] = {}

    def maps(number: int) -> Maps:
        board = boards[number]
        if board.grain not in sizes:
            nowhere = [(inf, inf)] * len(books.extra)
            real = parts[: len(parts) - len(nowhere)]
            sizes[board.grain] = [*(box_size(part, board, shop) for part in real), *nowhere]

        def make(ground: Ground, part: Part) -> ClearMap:
            if part.staves is not None:
                return ClearMap(ground, inf, inf, np.zeros((1, 1), dtype=np.bool_))
            kind = books.kinds.get(part.name)
            if kind is not None:
                return without(stave_map(ground, kind), taken[number])
            found = known_map(ground, part) if mending is None else clear_map(ground, part, mending)
            return without(found, taken[number])

        return Maps(parts, lambda: grounds[number], sizes[board.grain], make)

    return grounds, Few(len(boards), maps, max(_MOST_KEPT // (cells * max(len(parts), 1)), _FEWEST))


def without(clear: ClearMap, taken: Sequence[Box]) -> ClearMap:
    """A map without the places nearer than a kerf to pieces already there [mm]."""
    if not taken:
        return clear
    ground, kerf = clear.ground, clear.ground.shop.allowances.kerf
    ok = clear.ok.copy()
    mend = None if clear.mend is None else clear.mend.copy()
    for x0, y0, x1, y1 in taken:
        i0 = max(floor((x0 - kerf - clear.length - ground.x0) / ground.column + 1e-6), 0)
        j0 = max(floor((y0 - kerf - clear.width - ground.y0) / ground.row + 1e-6), 0)
        i1 = max(ceil((x1 + kerf - ground.x0) / ground.column - 1e-6), 0)
        j1 = max(ceil((y1 + kerf - ground.y0) / ground.row - 1e-6), 0)
        ok[i0:i1, j0:j1] = False
        if mend is not None:
            mend[i0:i1, j0:j1] = np.inf
    return replace(clear, ok=ok, mend=mend)
