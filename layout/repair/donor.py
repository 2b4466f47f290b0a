"""Where the wood of a repair comes from: a place in what is really left over of the same board.

Left over is the board's wood without its end trims, less every sawn piece and
listed saw cut with a kerf round the piece, less every grown defect, less the
blanks already taken for other repairs. A blank lies along the grain in one lump
of it, so that it can be sawn out of the offcut afterwards.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop
from layout.glue import Donor, Repair
from layout.ground import grown, sure_wood
from layout.parts import Part, PartSide
from layout.placement import CutKind, Layout, on_board, sawn_on_board
from layout.repair.fault import Host
from layout.repair.idea import Blank, Idea
from layout.repair.looks import Looks, colour_between
from layout.stock import Board, Face

__all__ = ["donor_for", "left_over"]

_TINY = 1e-5  # forgives rounding [mm]
_SLIT = 0.01  # wide at least is a cut, though the kerf be nought: no blank lies across it [mm]
_CORNERS = 40  # corners of a lump a blank is tried flush with
_STEPS = 4_000  # places tried in one lump
_JUDGED = 400  # of those that hold the blank, compared in colour


def left_over(
    board: Board, parts: Sequence[Part], shop: Shop, layout: Layout, taken: Sequence[Repair] = ()
) -> tuple[BaseGeometry, ...]:
    """Lumps of sound wood left over on a board, smallest first, in the board frame [mm]."""
    kerf, end = shop.allowances.kerf, shop.allowances.end_trim + board.off[0]
    wood = sure_wood(board)
    if 2 * end >= board.length:
        return ()
    wood = shapely.clip_by_rect(wood, end, -1.0, board.length - end, board.width + 1.0)
    listed = {part.name: part for part in parts}
    gone: list[BaseGeometry] = [
        Polygon(sawn_on_board(item, listed[item.part], shop.allowances)).buffer(kerf, join_style="mitre")
        for item in layout.on(board.id)
        if item.part in listed
    ]
    gone += [
        _slot(cut.kind, cut.at, cut.start, cut.end, max(kerf, _SLIT))
        for cut in layout.cuts
        if cut.board == board.id
    ]
    gone += [grown(defect, board, shop) for defect in board.defects]
    for repair in (*layout.repairs, *taken):
        if repair.donor is not None and repair.donor.board == board.id:
            blank = repair.donor
            gone.append(box(blank.x0 - kerf, blank.y0 - kerf, blank.x1 + kerf, blank.y1 + kerf))
    rest = wood.difference(shapely.union_all(gone))
    lumps = [lump for lump in shapely.get_parts(rest) if lump.geom_type == "Polygon" and lump.area > 100]
    return tuple(sorted(lumps, key=lambda lump: float(lump.area)))


def donor_for(
    idea: Idea, host: Host, lumps: Sequence[BaseGeometry], looks: Sequence[Looks] = ()
) -> Donor | None:
    """The place in left-over wood that suits a repair best, or None.

    Parameters
    ----------
    idea : Idea
    host : Host
    lumps : sequence of shapely geometry
        From `left_over`.
    looks : sequence of Looks
        Colour and grain as measured, of any faces; without them the grain is the
        board's own and the colour is left to the eye.

    Returns
    -------
    Donor or None
        The one nearest in colour where it was measured; else from the smallest
        lump that will do.
    """
    if idea.blank is None:
        return None
    face = _outside(idea.side, host)
    seen = next((item for item in looks if item.board == host.board.id and item.face == face.value), None)
    ground = Polygon(on_board(idea.outline, host.placement, host.part, host.shop.allowances))
    best: tuple[tuple[float, float], Donor] | None = None
    for lump in lumps:
        for x, y in _places(lump, idea.blank, ground)[:_JUDGED]:
            donor = _judged(idea.blank, x, y, face, host, seen, ground)
            if donor is None:
                continue
            rank = (donor.colour or 0.0, float(lump.area))
            if best is None or rank < best[0]:
                best = (rank, donor)
            if seen is None:
                break
        if best is not None and seen is None:
            break
    return None if best is None else best[1]


def _outside(side: PartSide, host: Host) -> Face:
    """The board face that matches the outside of a repair on this side."""
    face = host.placement.face_from
    return face.other if side is PartSide.BACK else face


@dataclass(frozen=True)
class _Spot:
    x: float
    y: float
    far: float


def _places(lump: BaseGeometry, blank: Blank, ground: Polygon) -> list[tuple[float, float]]:
    """Corners at which the blank lies inside a lump, those nearest the fault first [mm]."""
    x0, y0, x1, y1 = lump.bounds
    room_x, room_y = x1 - x0 - blank.length, y1 - y0 - blank.width
    if room_x < -_TINY or room_y < -_TINY:
        return []
    corners = shapely.get_coordinates(lump)
    rows = min(max(int(room_y // 3) + 1, 1), 60)
    columns = min(max(int(room_x // 6) + 1, 1), max(_STEPS // rows, 2))
    xs, ys = np.meshgrid(
        _stops(x0, room_x, columns, corners[:, 0], blank.length),
        _stops(y0, room_y, rows, corners[:, 1], blank.width),
    )
    shapely.prepare(lump)
    fits = shapely.covers(
        lump, shapely.box(xs + _TINY, ys + _TINY, xs + blank.length - _TINY, ys + blank.width - _TINY)
    )
    middle_x, middle_y = ground.centroid.x - blank.length / 2, ground.centroid.y - blank.width / 2
    spots = [
        _Spot(float(x), float(y), hypot(x - middle_x, y - middle_y))
        for x, y in zip(xs[fits], ys[fits], strict=True)
    ]
    return [(spot.x, spot.y) for spot in sorted(spots, key=lambda spot: (spot.far, spot.x, spot.y))]


def _stops(
    low: float, room: float, count: int, corners: NDArray[np.float64], size: float
) -> NDArray[np.float64]:
    """Places along one direction: evenly spread, and flush with corners of the lump [mm]."""
    flush = np.concatenate((corners, corners - size))
    flush = flush[(flush >= low - _TINY) & (flush <= low + room + _TINY)]
    if len(flush) > 2 * _CORNERS:
        flush = flush[:: len(flush) // _CORNERS]
    return np.unique(np.round(np.concatenate((np.linspace(low, low + max(room, 0.0), count), flush)), 6))


def _judged(
    blank: Blank, x: float, y: float, face: Face, host: Host, seen: Looks | None, ground: Polygon
) -> Donor | None:
    rules, here = host.shop.repairs, (x, y, x + blank.length, y + blank.width)
    turned, colour = abs(host.placement.tilt), None
    if seen is not None:
        around = ground.buffer(5).bounds
        colour = colour_between(seen.colour_in(*around), seen.colour_in(*here))
        one, other = seen.grain_in(*around), seen.grain_in(*here)
        if one is not None and other is not None:
            turned = _between(one, other + host.placement.tilt)
        if colour > rules.colour:
            return None
    if turned > rules.grain:
        return None
    return Donor(host.board.id, *here, face, blank.thickness, turned, colour)


def _between(one: float, other: float) -> float:
    """Angle between two directions of grain [degrees]."""
    turn = radians(one - other)
    return abs(degrees(atan2(sin(turn), cos(turn))))


def _slot(kind: CutKind, at: float, start: float, end: float, kerf: float) -> Polygon:
    if kind is CutKind.CROSSCUT:
        return box(at, start, at + kerf, end)
    return box(start, at, end, at + kerf)
