"""A board as a grid for the programmes of straight cuts: hopeful, so that what it cannot give no board can.

A place p becomes cell floor(p / pitch); a piece of size s with its kerf k moves on what
follows it by floor((s + k - 0.1 mm) / pitch) cells, never more than it truly does. A
cell may hold a piece's corner if any place in it may (`layout.hopeful`). So every layout
that straight cuts can free is a layout of the grid too.

The careful grid beside it errs the other way: sizes are rounded up, and a cell holds a
corner if its own first place may. What lies on it can be sawn out as it lies.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Sawing, Shop, sawn_length, sawn_width
from layout.clear import clear_map
from layout.cuts import Box
from layout.ground import Ground, Rows, ground_of, usable_wood
from layout.hopeful import hopeful_map
from layout.parts import Part
from layout.poses import box_size
from layout.stock import Board

__all__ = [
    "Careful",
    "Field",
    "Level",
    "careful_field",
    "careful_level",
    "careful_map",
    "careful_near",
    "field_of",
    "hopeful_map_of",
    "levels",
]

Map = NDArray[np.bool_]
Level = tuple[float, float]  # pitch along x and y [mm]
Sizes = NDArray[np.float64]
Lost = Callable[[Sizes, Sizes], Sizes]  # of sizes, by pitches, a line for each [mm]

_TINY = 1e-6
_SMALL = 0.1  # conceded on the size of every piece with its kerf [mm]
_GIVE = 0.06  # conceded at the edge of the wood [mm]
_ENDS = 0.3  # of a cell, that a piece loses or gains where clear wood ends
_LEVELS: tuple[Level, ...] = ((16.0, 5.0), (9.0, 2.7), (5.0, 1.6), (3.0, 0.95), (1.8, 0.6))


@dataclass(frozen=True)
class Field:
    """One board as a grid, turned so that slabs follow each other across.

    Parameters
    ----------
    along, across : int
        Its cells, a kerf added.
    lengths, widths : tuple of int
        Cells each part takes along and across.
    places : tuple of (array of bool, shape (along, across) or less)
        For each part, cells its corner may lie in.
    """

    along: int
    across: int
    lengths: tuple[int, ...]
    widths: tuple[int, ...]
    places: tuple[Map, ...]


def levels(parts: Sequence[Part], shop: Shop, about: Sequence[Level] = _LEVELS) -> list[Level]:
    """Pitches along x and y near those asked for, that round the sizes of the parts down by little [mm]."""
    lengths, widths, areas = _sizes(parts, shop)
    return [
        (
            _least_lost(_near(along, lengths), lengths, areas, _down),
            _least_lost(_near(across, widths), widths, areas, _down),
        )
        for along, across in about
    ]


def careful_level(board: Board, parts: Sequence[Part], shop: Shop, about: Level) -> Level:
    """Pitches of a board's careful grid near those asked for, that round sizes up by little [mm].

    Across the board whole rows make up its width.
    """
    lengths, widths, areas = _sizes(parts, shop)
    wood = usable_wood(board, shop)
    width = 0.0 if wood.is_empty else wood.bounds[3] - wood.bounds[1]
    along, across = (_near(pitch, sizes) for pitch, sizes in zip(about, (lengths, widths), strict=True))
    rows = np.arange(max(ceil(width / across[-1]), 1), floor(width / across[0]) + 1)
    divided = (width / rows).tolist() or across
    return _least_lost(along, lengths, areas, _up), _least_lost(divided, widths, areas, _up)


def _sizes(parts: Sequence[Part], shop: Shop) -> tuple[Sizes, Sizes, Sizes]:
    """Lengths and widths of parts with a kerf [mm], and their areas."""
    kerf = shop.allowances.kerf
    lengths = np.array([sawn_length(part, shop.allowances) + kerf for part in parts])
    widths = np.array([sawn_width(part, shop.allowances) + kerf for part in parts])
    return lengths, widths, np.array([part.quantity * part.length * part.width for part in parts])


def _near(about: float, sizes: Sizes) -> list[float]:
    """Pitches near the one asked for, in order [mm]."""
    about = min(about, float(sizes.min()) / 4)
    return [about * step / 200 for step in range(164, 237)]


def _up(sizes: Sizes, pitch: Sizes) -> Sizes:
    return -(sizes - _TINY) % pitch


def _down(sizes: Sizes, pitch: Sizes) -> Sizes:
    return (sizes - _SMALL) % pitch


def _least_lost(pitches: Sequence[float], sizes: Sizes, areas: Sizes, lost: Lost) -> float:
    """The pitch by which little is lost of the sizes by rounding, and where clear wood ends."""
    mean = float(np.average(sizes, weights=areas))
    every = np.array(pitches)[:, None]
    losses = np.average(lost(sizes, every) / sizes, axis=1, weights=areas) + _ENDS * every[:, 0] / mean
    return float(every[losses.argmin(), 0])


def field_of(
    board: Board,
    parts: Sequence[Part],
    shop: Shop,
    level: Level,
    taken: Sequence[Box] = (),
    wanted: Sequence[int] | None = None,
) -> Field:
    """The hopeful grid of a board for the shop's class of sawing.

    Parameters
    ----------
    board, parts, shop
    level : (float, float)
        Pitch along x and y [mm].
    taken : sequence of (x0, y0, x1, y1)
        Sawn pieces that stay where they are [mm].
    wanted : sequence of int, optional
        Copies of each part of interest; those of none get no places.
    """
    ground = _pitched(ground_of(board, shop, 1_000), *level)
    kerf, (column, row) = shop.allowances.kerf, level
    sizes = [box_size(part, board, shop) for part in parts]
    lengths = tuple(max(floor((length + kerf - _SMALL) / column), 1) for length, _ in sizes)
    widths = tuple(max(floor((width + kerf - _SMALL) / row), 1) for _, width in sizes)
    nowhere = np.zeros((1, 1), dtype=np.bool_)
    maps = tuple(
        nowhere if wanted is not None and not wanted[t] else hopeful_map_of(ground, part, sizes[t], taken)
        for t, part in enumerate(parts)
    )
    long = floor((ground.length + kerf + _GIVE) / column)
    wide = floor((ground.width + kerf + _GIVE) / row)
    return _turned(shop, Field(long, wide, lengths, widths, maps))


def _turned(shop: Shop, field: Field) -> Field:
    """A field whose first axis is the one that the shop saws first."""
    if shop.sawing is Sawing.RIP_FIRST:
        return field
    maps = tuple(found.T for found in field.places)
    return Field(field.across, field.along, field.widths, field.lengths, maps)


@dataclass(frozen=True)
class Careful:
    """A careful grid, and how its cells lie on the board.

    Parameters
    ----------
    field : Field
    ground : Ground
    rip_first : bool
        Whether the grid's first axis is the board's own.
    """

    field: Field
    ground: Ground
    rip_first: bool

    def corner(self, along: int, across: int) -> tuple[float, float]:
        """A cell's first place, in the board frame [mm]."""
        i, j = (along, across) if self.rip_first else (across, along)
        return self.ground.x0 + i * self.ground.column, self.ground.y0 + j * self.ground.row


def careful_field(
    board: Board,
    parts: Sequence[Part],
    shop: Shop,
    level: Level,
    taken: Sequence[Box] = (),
    wanted: Sequence[int] | None = None,
) -> Careful:
    """The careful grid of a board for the shop's class of sawing; arguments as for `field_of`."""
    ground = ground_of(board, shop, pitch=(level[0], level[1] * (1.0 + _TINY)))
    kerf = shop.allowances.kerf
    sizes = [box_size(part, board, shop) for part in parts]
    lengths = tuple(max(ceil((length + kerf) / ground.column - _TINY), 1) for length, _ in sizes)
    widths = tuple(max(ceil((width + kerf) / ground.row - _TINY), 1) for _, width in sizes)
    nowhere = np.zeros((1, 1), dtype=np.bool_)
    maps = tuple(
        nowhere if wanted is not None and not wanted[t] else careful_map(ground, part, sizes[t], taken)
        for t, part in enumerate(parts)
    )
    long = floor((ground.length + kerf) / ground.column + _TINY)
    wide = floor((ground.width + kerf) / ground.row + _TINY)
    field = _turned(shop, Field(long, wide, lengths, widths, maps))
    return Careful(field, ground, shop.sawing is Sawing.RIP_FIRST)


def hopeful_map_of(ground: Ground, part: Part, size: tuple[float, float], taken: Sequence[Box]) -> Map:
    """The hopeful map of a part whose box is so large [mm], less what locked pieces bar for sure."""
    return _without(hopeful_map(ground, part), ground, size, taken)


def careful_near(
    board: Board,
    parts: Sequence[Part],
    shop: Shop,
    about: Level,
    taken: Sequence[Box] = (),
    wanted: Sequence[int] | None = None,
) -> Careful:
    """The careful grid of a board, of the pitches near those asked for that suit it best."""
    return careful_field(board, parts, shop, careful_level(board, parts, shop, about), taken, wanted)


def careful_map(ground: Ground, part: Part, size: tuple[float, float], taken: Sequence[Box]) -> Map:
    """The careful map of a part whose box is so large [mm], less what locked pieces may bar."""
    return _clear_of(clear_map(ground, part).ok, ground, size, taken)


def _clear_of(
    found: NDArray[np.bool_], ground: Ground, size: tuple[float, float], taken: Sequence[Box]
) -> NDArray[np.bool_]:
    """A careful map less the cells that have a place nearer than a kerf to pieces already there."""
    kerf = ground.shop.allowances.kerf
    for x0, y0, x1, y1 in taken:
        i0 = max(floor((x0 - kerf - size[0] - ground.x0) / ground.column), 0)
        j0 = max(floor((y0 - kerf - size[1] - ground.y0) / ground.row), 0)
        i1 = max(ceil((x1 + kerf - ground.x0) / ground.column), 0)
        j1 = max(ceil((y1 + kerf - ground.y0) / ground.row), 0)
        found[i0:i1, j0:j1] = False
    return found


def _pitched(ground: Ground, column: float, row: float) -> Ground:
    """A ground whose maps have another pitch; it is good for hopeful maps only."""
    none = np.zeros((0, max(ceil(ground.width / row), 1)))
    return replace(ground, column=column, row=row, rows=Rows(none, none, np.zeros(0, dtype=np.int64)))


def _without(
    found: NDArray[np.bool_], ground: Ground, size: tuple[float, float], taken: Sequence[Box]
) -> NDArray[np.bool_]:
    """A hopeful map less the cells all of whose places are nearer than a kerf to pieces already there."""
    kerf = ground.shop.allowances.kerf - _SMALL
    for x0, y0, x1, y1 in taken:
        i0 = max(ceil((x0 - kerf - size[0] - ground.x0) / ground.column), 0)
        j0 = max(ceil((y0 - kerf - size[1] - ground.y0) / ground.row), 0)
        i1 = max(floor((x1 + kerf - ground.x0) / ground.column), 0)
        j1 = max(floor((y1 + kerf - ground.y0) / ground.row), 0)
        found[i0:i1, j0:j1] = False
    return found
