"""A board as the engine sees it: its usable wood, and every obstacle row by row.

Usable wood is what both face outlines share, each less its own error all round,
less the edge trim (measured across) along the long edges, less the end trim and
the worse error at each end.

Rows are strips along x, `row` wide, counted from the usable wood's first edge.
An obstacle keeps, for every row, the exact stretch of x it reaches over, so maps
made from it are exact along the grain and at most two rows too careful across.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import ceil
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d
from shapely import Polygon, affinity
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop
from layout.covered import Spans, spans_of
from layout.faults import Faults
from layout.row_loops import row_extents
from layout.stock import Board, Defect, DefectKind, Face

__all__ = [
    "Ground",
    "Rows",
    "all_round",
    "extreme_rows",
    "ground_of",
    "grown",
    "rows_of",
    "sure_wood",
    "usable_wood",
]

_KNOTS = (DefectKind.SOUND_KNOT, DefectKind.DEAD_KNOT, DefectKind.PIN_KNOT)
_SLAB = 60.0  # obstacles longer than this are cut along the grain, so that each piece is nearly convex [mm]
_SAFE = 0.01  # covers the rounding of a buffer's arcs [mm]
_ROW = 0.6  # across: maps are up to two rows too careful, which loses the tight places of a board [mm]
_MOST_ROWS = 360
_THIN = 0.6  # about so thin are rows parted for hopeful maps [mm]
_TINY = 1e-6


@dataclass(frozen=True)
class Rows:
    """Obstacles row by row.

    Parameters
    ----------
    low, high : array, shape (obstacles, rows)
        Stretch of x each obstacle takes in each row, from the ground's own
        origin [mm]; inf and -inf where it takes none.
    owner : array, shape (obstacles,)
        Number of the defect each belongs to; -1 for wood that is not there.
    """

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    owner: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Ground:
    """The usable wood of one board.

    Parameters
    ----------
    board : Board
    shop : Shop
    wood : shapely geometry
        In the board frame [mm]; empty if nothing is usable.
    x0, y0 : float
        Its corner nearest the board's origin, and the origin of the rows [mm].
    length, width : float
        Extent of its bounding box [mm].
    column, row : float
        Pitch of the maps along and across [mm].
    rows : Rows
    grown : tuple of shapely geometry
        Grown outline of every defect, in the board frame [mm].
    """

    board: Board
    shop: Shop
    wood: BaseGeometry
    x0: float
    y0: float
    length: float
    width: float
    column: float
    row: float
    rows: Rows
    grown: tuple[BaseGeometry, ...]

    @cached_property
    def faults(self) -> Faults:
        """The board's defects as sets of numbers."""
        return Faults(self.board)

    @cached_property
    def hulls(self) -> Rows:
        """One obstacle for each defect, with all its pieces."""
        count = len(self.grown)
        low = np.full((count, self.rows.low.shape[1]), np.inf)
        high = np.full(low.shape, -np.inf)
        real = self.rows.owner >= 0
        np.minimum.at(low, self.rows.owner[real], self.rows.low[real])
        np.maximum.at(high, self.rows.owner[real], self.rows.high[real])
        return Rows(low, high, np.arange(count))

    @cached_property
    def _convex_pieces(self) -> tuple[list[BaseGeometry], NDArray[np.int64]]:
        """The obstacles cut until every piece is convex; slivers that are not are left out. And owners."""
        x0, y0 = self.x0, self.y0
        frame = shapely.box(x0, y0, x0 + self.length, y0 + self.width)
        found: list[BaseGeometry] = []
        owner: list[int] = []
        if not self.wood.is_empty:
            shapes = [frame.difference(self.wood), *(frame.intersection(shape) for shape in self.grown)]
            for number, shape in enumerate(shapes, start=-1):
                pieces = [part for piece in _pieces(shape, number)[0] for part in _convex(piece)]
                found += pieces
                owner += [number] * len(pieces)
        return found, np.array(owner, dtype=np.int64)

    @cached_property
    def convex_rows(self) -> Rows:
        """The obstacles again, in convex pieces.

        So a piece really reaches over every stretch said of it, also over several rows at once.
        """
        found, owner = self._convex_pieces
        low, high = rows_of(found, self.x0, self.y0, self.row, self.rows.low.shape[1])
        return Rows(low, high, owner)

    @cached_property
    def convex_lines(self) -> Rows:
        """The same pieces on the lines before, between and behind the rows; inf and -inf where there is none.

        Between two lines that meet a piece it reaches beyond the greater low and the lesser high.
        """
        found, owner = self._convex_pieces
        at = np.arange(self.rows.low.shape[1] + 1) * self.row
        low, high = np.full((len(found), len(at)), np.inf), np.full((len(found), len(at)), -np.inf)
        for number, shape in enumerate(found):
            points = shapely.get_coordinates(shapely.get_exterior_ring(shape)) - (self.x0, self.y0)
            (ax, ay), (bx, by) = points[:-1].T[:, :, None], points[1:].T[:, :, None]
            there = (np.minimum(ay, by) <= at) & (at <= np.maximum(ay, by)) & (ay != by)
            x = ax + (at - ay) * (bx - ax) / np.where(ay == by, 1.0, by - ay)
            low[number] = np.where(there, x, np.inf).min(axis=0)
            high[number] = np.where(there, x, -np.inf).max(axis=0)
        nothing = low > high
        return Rows(np.where(nothing, np.inf, low), np.where(nothing, -np.inf, high), owner)

    @cached_property
    def parted(self) -> "Ground":
        """The same with every row parted into thinner ones: for hopeful maps, which lose what is thinner.

        Its rows are the convex ones; others it has none.
        """
        more = max(round(self.row / _THIN), 1)
        none = np.zeros((0, self.rows.low.shape[1] * more))
        return replace(self, row=self.row / more, rows=Rows(none, none, np.zeros(0, dtype=np.int64)))

    @cached_property
    def spans(self) -> Spans:
        """How far the convex obstacles reach over several of its rows parted."""
        rows, lines = self.parted.convex_rows, self.parted.convex_lines
        return spans_of(rows.owner + 1, (rows.low, rows.high), (lines.low, lines.high))

    @cached_property
    def areas(self) -> list[float]:
        """Area of each grown defect [mm2]."""
        return [float(shape.area) for shape in self.grown]


def usable_wood(board: Board, shop: Shop) -> BaseGeometry:
    """The wood of a board that sawn pieces may take, in the board frame [mm]."""
    wood = sure_wood(board, join_style="mitre")
    edge, end = shop.allowances.edge_trim, shop.allowances.end_trim + board.off[0]
    if edge:
        wood = wood.intersection(affinity.translate(wood, 0.0, edge)).intersection(
            affinity.translate(wood, 0.0, -edge)
        )
    if 2 * end >= board.length:
        return Polygon()
    return shapely.clip_by_rect(wood, end, -1.0, board.length - end, board.width + 1.0)


def sure_wood(board: Board, **how: Any) -> BaseGeometry:
    """What both faces are sure to have, each its outline less its error, in the board frame [mm]."""
    if board.off_on(Face.FRONT) == board.off_on(Face.BACK):
        shared: BaseGeometry = Polygon(board.front).intersection(Polygon(board.back))
        return _less(shared, board.off, **how)
    front, back = (_less(Polygon(board.outline(face)), board.off_on(face), **how) for face in Face)
    return front.intersection(back)


def _less(shape: BaseGeometry, off: tuple[float, float], **how: Any) -> BaseGeometry:
    return all_round(shape, -off[0], -off[1], **how) if any(off) else shape


def grown(defect: Defect, board: Board, shop: Shop) -> BaseGeometry:
    """A defect with its disturbed grain and margin (meaning: `layout.rules`), in the board frame [mm]."""
    allowances = shop.allowances
    shape: BaseGeometry = Polygon(defect.outline)
    if defect.kind in _KNOTS and (allowances.knot_along or allowances.knot_across):
        shape = affinity.scale(shape, 1 + 2 * allowances.knot_along, 1 + 2 * allowances.knot_across)
    more = allowances.defect_margin + _SAFE
    along, across = (more + off for off in board.off_of(defect))
    return all_round(shape, along, across, quad_segs=8 if shape.area < 400 else 16)


def all_round(shape: BaseGeometry, along: float, across: float, **how: Any) -> BaseGeometry:
    """A shape grown, or for numbers below 0 shrunk, by an ellipse: so far along x, so far along y [mm]."""
    if along == across:
        return shape.buffer(along, **how)
    # On a board stretched across until the ellipse is a circle, it is an ordinary buffer.
    reach = max(abs(along), 1e-4)
    stretch = reach / max(abs(across), 1e-4)
    wide = affinity.scale(shape, 1.0, stretch, origin=(0.0, 0.0))
    round_it = wide.buffer(reach if along + across > 0 else -reach, **how)
    return affinity.scale(round_it, 1.0, 1.0 / stretch, origin=(0.0, 0.0))


def ground_of(
    board: Board, shop: Shop, cells: int = 100_000, pitch: tuple[float, float] | None = None
) -> Ground:
    """The usable wood of a board with all obstacles.

    Parameters
    ----------
    board, shop
    cells : int
        A map has about so many.
    pitch : (float, float), optional
        Along the board, and across it at most, if it is to be another [mm].
    """
    wood = usable_wood(board, shop)
    shapes = tuple(grown(defect, board, shop) for defect in board.defects)
    if wood.is_empty or wood.area < 1.0:
        return Ground(board, shop, Polygon(), 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, _no_rows(), shapes)
    x0, y0, x1, y1 = wood.bounds
    length, width = x1 - x0, y1 - y0
    rows = int(min(max(ceil(width / _ROW), 8), max(60.0, 0.6 * cells**0.5), _MOST_ROWS))
    row = width / rows
    column = min(max(length * rows / cells, 2.0), 12.0)
    if pitch is not None:
        rows = ceil(width / pitch[1])
        column, row = pitch[0], width / rows
    outside = shapely.box(x0, y0, x1, y1).difference(wood)
    found, owner = _pieces(outside, -1)
    for number, shape in enumerate(shapes):
        more, theirs = _pieces(shapely.clip_by_rect(shape, x0, y0, x1, y1), number)
        found += more
        owner += theirs
    extents = rows_of(found, x0, y0, row, rows)
    table = Rows(extents[0], extents[1], np.array(owner, dtype=np.int64))
    return Ground(board, shop, wood, x0, y0, length, width, column, row, table, shapes)


def rows_of(
    shapes: Sequence[BaseGeometry], x0: float, y0: float, row: float, rows: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Stretches of x that shapes take in each row; two arrays of shape (shapes, rows) [mm]."""
    low = np.full((len(shapes), rows), np.inf)
    high = np.full((len(shapes), rows), -np.inf)
    for number, shape in enumerate(shapes):
        points = shapely.get_coordinates(shapely.get_exterior_ring(shape)) - (x0, y0)
        row_extents(points, row, low[number], high[number])
    return low, high


def _pieces(shape: BaseGeometry, owner: int) -> tuple[list[BaseGeometry], list[int]]:
    """A shape cut into pieces short along the grain, with their owner."""
    if shape.is_empty or shape.area < _TINY:
        return [], []
    x0, y0, x1, y1 = shape.bounds
    if x1 - x0 > 1.5 * _SLAB or shape.geom_type != "Polygon":
        edges = np.linspace(x0, x1, max(ceil((x1 - x0) / _SLAB), 1) + 1)
        cut = shapely.intersection(
            shape, [shapely.box(a, y0 - 1, b, y1 + 1) for a, b in pairwise(edges.tolist())]
        )
        parts = shapely.get_parts(cut)
        # Geometry collections may hold stray lines; only ground counts.
        found = [
            part for part in shapely.get_parts(parts) if part.geom_type == "Polygon" and part.area > _TINY
        ]
    else:
        found = [shape]
    return found, [owner] * len(found)


def _convex(shape: BaseGeometry) -> list[BaseGeometry]:
    """Convex pieces of a shape, cut along the grain again and again."""
    if shape.area < _TINY:
        return []
    if shape.geom_type != "Polygon":
        return [part for piece in shapely.get_parts(shape) for part in _convex(piece)]
    if float(shape.convex_hull.area) - float(shape.area) < 0.2:
        return [shape]
    x0, y0, x1, y1 = shape.bounds
    if x1 - x0 < 1.5:
        return []
    middle = (x0 + x1) / 2
    halves = (
        shapely.clip_by_rect(shape, x0, y0, middle, y1),
        shapely.clip_by_rect(shape, middle, y0, x1, y1),
    )
    return [part for half in halves for piece in shapely.get_parts(half) for part in _convex(piece)]


def _no_rows() -> Rows:
    empty = np.zeros((0, 0))
    return Rows(empty, empty, np.zeros(0, dtype=np.int64))


def extreme_rows(
    low: NDArray[np.float64], high: NDArray[np.float64], first: int, last: int, rows: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Least low and greatest high over obstacle rows j + first .. j + last, for places in rows j [mm].

    Parameters
    ----------
    low, high : ndarray of float, [obstacles, rows]
        From where to where along the board each obstacle reaches in each row.
    first, last : int
        The rows a part covers, counted from its own first one.
    rows : int
        Rows of places asked for.

    Returns
    -------
    two ndarrays of float, [obstacles, rows]
    """
    size = last - first + 1
    before = max(-first, 0) + size
    start = before + first + size // 2
    after = max(start + rows - low.shape[1] - before, 0) + size
    filters = (minimum_filter1d, np.inf, low), (maximum_filter1d, -np.inf, high)
    found = []
    for filtered, nothing, values in filters:
        wide = np.full((len(values), before + values.shape[1] + after), nothing)
        wide[:, before : before + values.shape[1]] = values
        done = filtered(wide, size, axis=1, mode="constant", cval=nothing)
        found.append(done[:, start : start + rows])
    return found[0], found[1]
