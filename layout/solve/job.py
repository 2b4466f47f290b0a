"""A job made ready for the search: boards as ground, parts as kinds, a clear map for each pair."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from math import ceil, floor
from typing import overload

import numpy as np

from layout.allowances import Sawing, Shop
from layout.clear import ClearMap, clear_map
from layout.cost import price_of
from layout.cuts import Box, sawn_box
from layout.demands import Mending
from layout.ground import Ground
from layout.parts import Part
from layout.placement import Placement
from layout.solve.memory import known_ground, known_map
from layout.stock import Board

__all__ = ["Job", "job_of", "maps_on", "without"]

_MOST_CELLS = 16_000_000  # of all maps together, as far as that leaves each fine enough


class Maps(Sequence[list[ClearMap]]):
    """The clear maps of every board, made when they are first asked for.

    A search among five hundred boards looks at few of them closely.
    """

    def __init__(self, makers: Sequence[Callable[[], list[ClearMap]]]) -> None:
        self._makers = makers
        self._made: dict[int, list[ClearMap]] = {}

    def __len__(self) -> int:
        return len(self._makers)

    @overload
    def __getitem__(self, number: int) -> list[ClearMap]: ...
    @overload
    def __getitem__(self, number: slice) -> list[list[ClearMap]]: ...
    def __getitem__(self, number: int | slice) -> list[ClearMap] | list[list[ClearMap]]:
        if isinstance(number, slice):
            return [self[item] for item in range(*number.indices(len(self)))]
        if number not in self._made:
            self._made[number] = self._makers[number]()
        return self._made[number]


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
    grounds : list of Ground
    maps : sequence of list of ClearMap
        By board, then part; made when first asked for.
    prices : list of float
        What using each board costs [money].
        0 for a board that already holds locked parts.
    taken : list of list of Box
        Sawn pieces fixed on each board, in its own frame [mm].
    mended : bool
        Whether some places are allowed only with a repair.
    """

    shop: Shop
    boards: list[Board]
    parts: list[Part]
    wanted: list[int]
    grounds: list[Ground]
    maps: Sequence[list[ClearMap]]
    prices: list[float]
    taken: list[list[Box]] = field(default_factory=list)
    mended: bool = False

    @property
    def kerf(self) -> float:
        return self.shop.allowances.kerf

    @property
    def sawing(self) -> Sawing:
        return self.shop.sawing

    def areas(self) -> list[float]:
        """Finished-size areas of the parts, the usual value of placing one [mm2]."""
        return [part.length * part.width for part in self.parts]


def job_of(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    wanted: Sequence[int] | None = None,
    mending: Mending | None = None,
    locked: Sequence[Placement] = (),
) -> Job:
    """Grounds and maps for every board that may be cut.

    Parameters
    ----------
    boards, parts, shop
    wanted : sequence of int, optional
        Copies of each part to place; all if not given.
    mending : function, optional
        See `layout.demands`.
    locked : sequence of Placement
        Their wood is taken, and their boards are paid for.
    """
    usable = [board for board in boards if not board.forbidden]
    pairs = max(len(usable) * len(parts), 1)
    cells = int(min(max(_MOST_CELLS // pairs, 20_000), 80_000))
    grounds = [known_ground(board, shop, cells) for board in usable]
    listed = {part.name: part for part in parts}
    taken = [
        [sawn_box(item, listed[item.part], shop) for item in locked if item.board == board.id]
        for board in usable
    ]
    maps = Maps(
        [
            partial(maps_on, ground, parts, mending, boxes)
            for ground, boxes in zip(grounds, taken, strict=True)
        ]
    )
    return Job(
        shop,
        usable,
        list(parts),
        [part.quantity for part in parts] if wanted is None else list(wanted),
        grounds,
        maps,
        [0.0 if boxes else price_of(board) for board, boxes in zip(usable, taken, strict=True)],
        taken,
        mending is not None,
    )


def maps_on(
    ground: Ground, parts: Sequence[Part], mending: Mending | None = None, taken: Sequence[Box] = ()
) -> list[ClearMap]:
    """The clear map of every part on one board; parts that differ in name only share theirs.

    Parameters
    ----------
    ground, parts, mending
    taken : sequence of (x0, y0, x1, y1)
        Sawn pieces already on the board; places within a kerf of them are not clear [mm].
    """
    if mending is not None:
        return [without(clear_map(ground, part, mending), taken) for part in parts]
    return [without(known_map(ground, part), taken) for part in parts]


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
