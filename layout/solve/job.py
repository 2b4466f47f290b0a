"""A job made ready for the search: boards as ground, parts as kinds, a clear map for each pair."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from layout.allowances import Sawing, Shop
from layout.clear import ClearMap, clear_map
from layout.cost import price_of
from layout.cuts import Box
from layout.demands import Mending
from layout.ground import Ground, ground_of
from layout.parts import Part
from layout.stock import Board

__all__ = ["Job", "job_of"]

_MOST_CELLS = 60_000_000  # of all maps together, three bytes each


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
    maps : list of list of ClearMap
        By board, then part.
    prices : list of float
        What using each board costs [money].
    taken : list of list of Box
        Sawn pieces already fixed on each board [mm].
    """

    shop: Shop
    boards: list[Board]
    parts: list[Part]
    wanted: list[int]
    grounds: list[Ground]
    maps: list[list[ClearMap]]
    prices: list[float]
    taken: list[list[Box]] = field(default_factory=list)

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
) -> Job:
    """Grounds and maps for every board that may be cut."""
    usable = [board for board in boards if not board.forbidden]
    pairs = max(len(usable) * len(parts), 1)
    cells = int(min(max(_MOST_CELLS // pairs, 6_000), 80_000))
    grounds = [ground_of(board, shop, cells) for board in usable]
    maps = [maps_on(ground, parts, mending) for ground in grounds]
    return Job(
        shop,
        usable,
        list(parts),
        [part.quantity for part in parts] if wanted is None else list(wanted),
        grounds,
        maps,
        [price_of(board) for board in usable],
        [[] for _ in usable],
    )


def maps_on(ground: Ground, parts: Sequence[Part], mending: Mending | None = None) -> list[ClearMap]:
    """The clear map of every part on one board; parts that differ in name only share theirs."""
    known: dict[tuple[object, ...], ClearMap] = {}
    found = []
    for part in parts:
        key = _likeness(part)
        if mending is not None or key not in known:
            known[key] = clear_map(ground, part, mending)
        found.append(known[key])
    return found


def _likeness(part: Part) -> tuple[object, ...]:
    return (
        part.length,
        part.width,
        part.thickness,
        tuple(sorted(part.sides.items())),
        part.outline,
        part.zones,
        part.length_allowance,
        part.width_allowance,
        part.max_slope,
        part.turn_end_for_end,
        tuple(sorted(part.tolerates.items())),
    )


def no_map(ground: Ground) -> ClearMap:
    """The map of a part that fits nowhere."""
    return ClearMap(ground, ground.length + 1, ground.width + 1, np.zeros((1, 1), dtype=np.bool_))
