"""What became of each defect of a board: the answer a maker looks for first.

The meaning of "shows on a side" is the one written in `layout.rules`: a defect's
outline, grown by its margin and the board's stated error, overlaps the finished
part or crosses one of its sides, and planing has not taken it away.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from layout.allowances import Allowances, Shop
from layout.checks.swell import swollen
from layout.demands import side_lines
from layout.outline import Outline, bounds_of
from layout.parts import Part, PartSide, Visibility, Zone, ZoneRule
from layout.placement import Layout, Placement, on_board
from layout.poses import Left, left_of
from layout.rules import RULES, USUAL, rule_for, tolerated
from layout.stock import Board, Defect, DefectKind, Face, Wish
from ui.drawing.pieces import listed, point_on_board

__all__ = ["DefectFate", "Fate", "Showing", "board_face_of", "fates", "grown", "showings"]


class Fate(StrEnum):
    """What became of a defect, gravest first."""

    AGAINST = "breaks the rule"
    MENDED = "made good"
    SHOWN = "shown, as you wish"
    SEEN = "seen, within its rule"
    CONCEALED = "on a concealed side"
    HIDDEN_BACK = "hidden on a back"
    PLANED_OFF = "planed off"
    IN_OFFCUT = "in an offcut"
    CUT_AWAY = "cut away"


@dataclass(frozen=True)
class Showing:
    """One side of one copy of a part on which a defect shows.

    Parameters
    ----------
    placement : Placement
    side : PartSide
    fate : Fate
    only_near : bool
        The defect itself stays clear of the part; only its margin reaches it.
    """

    placement: Placement
    side: PartSide
    fate: Fate
    only_near: bool


@dataclass(frozen=True)
class DefectFate:
    """What became of one defect: the gravest of its showings, or of what else happened to it."""

    defect: Defect
    fate: Fate
    showings: tuple[Showing, ...] = ()


_ORDER = list(Fate)
_FACES = (PartSide.FACE, PartSide.BACK)
_KNOTS = (DefectKind.SOUND_KNOT, DefectKind.DEAD_KNOT, DefectKind.PIN_KNOT)
_LEAST_AREA = 1e-3  # mm2; touching is not overlapping
_LEAST_LENGTH = 1e-3  # mm


def fates(board: Board, parts: Iterable[Part], shop: Shop, layout: Layout) -> tuple[DefectFate, ...]:
    """What became of each defect of a board, in the board's own order."""
    by_name = listed(tuple(parts), shop, layout)
    placed = [(item, by_name[item.part]) for item in layout.on(board.id)]
    offcuts = shapely.union_all(
        [shapely.box(cut.x0, cut.y0, cut.x1, cut.y1) for cut in layout.offcuts if cut.board == board.id]
    )
    mended: dict[str, set[tuple[str, int]]] = {}
    for repair in layout.repairs:
        for name in repair.defects:
            mended.setdefault(name, set()).add((repair.part, repair.copy))
    return tuple(_fate(defect, board, placed, shop.allowances, offcuts, mended) for defect in board.defects)


def _fate(
    defect: Defect,
    board: Board,
    placed: list[tuple[Placement, Part]],
    allowances: Allowances,
    offcuts: BaseGeometry,
    mended: Mapping[str, set[tuple[str, int]]],
) -> DefectFate:
    shows: list[Showing] = []
    planed = False
    for placement, part in placed:
        found = showings(defect, board, placement, part, allowances)
        if (placement.part, placement.copy) in mended.get(defect.id, ()):
            found = (
                tuple(replace(each, fate=Fate.MENDED) for each in found if each.fate is Fate.AGAINST) or found
            )
        shows.extend(found)
        planed = planed or (not found and _planed_off(defect, board, placement, part, allowances))
    if shows:
        return DefectFate(defect, min((item.fate for item in shows), key=_ORDER.index), tuple(shows))
    if planed:
        return DefectFate(defect, Fate.PLANED_OFF)
    if Polygon(defect.outline).intersection(offcuts).area > _LEAST_AREA:
        return DefectFate(defect, Fate.IN_OFFCUT)
    return DefectFate(defect, Fate.CUT_AWAY)


def grown(defect: Defect, board: Board, allowances: Allowances) -> BaseGeometry:
    """A defect's outline with its margin, in the board frame [mm]."""
    shape: BaseGeometry = Polygon(defect.outline)
    if defect.kind in _KNOTS:
        shape = affinity.scale(shape, 1 + 2 * allowances.knot_along, 1 + 2 * allowances.knot_across)
    along, across = board.off_of(defect)
    return swollen(shape, allowances.defect_margin + along, allowances.defect_margin + across)


def board_face_of(placement: Placement, side: PartSide) -> Face:
    """The board face that becomes the face or the back of a part."""
    return placement.face_from if side is PartSide.FACE else placement.face_from.other


def showings(
    defect: Defect, board: Board, placement: Placement, part: Part, allowances: Allowances
) -> tuple[Showing, ...]:
    """Every side of one copy of a part on which a defect shows, and whether its rule allows it."""
    outline = on_board(part.shape, placement, part, allowances)
    if not _near(defect, board, allowances, outline):
        return ()
    reach, finished = grown(defect, board, allowances), Polygon(outline)
    left = _left(defect, board, placement, part)
    if reach.intersection(finished).area <= _LEAST_AREA or not left.inside:
        return ()
    near = Polygon(defect.outline).intersection(finished).area <= _LEAST_AREA
    seen = {Face.FRONT: left.front, Face.BACK: left.back}
    sides = [side for side in _FACES if seen[board_face_of(placement, side)]]
    sides += _crossed_sides(reach, placement, part, allowances)
    return tuple(
        Showing(placement, side, _judged(defect, reach, side, placement, part, allowances), near)
        for side in sides
    )


def _near(defect: Defect, board: Board, allowances: Allowances, outline: Outline) -> bool:
    """Whether a defect could reach a part at all: a quick look at extents."""
    x0, y0, x1, y1 = bounds_of(defect.outline)
    more = allowances.defect_margin + max(board.off) + 0.1
    along, across = (x1 - x0) * allowances.knot_along + more, (y1 - y0) * allowances.knot_across + more
    left, top, right, foot = bounds_of(outline)
    return x0 - along < right and left < x1 + along and y0 - across < foot and top < y1 + across


def _left(defect: Defect, board: Board, placement: Placement, part: Part) -> Left:
    return left_of(defect, board, part.thickness, placement.from_front)


def _planed_off(
    defect: Defect, board: Board, placement: Placement, part: Part, allowances: Allowances
) -> bool:
    outline = on_board(part.shape, placement, part, allowances)
    if _left(defect, board, placement, part).inside or not _near(defect, board, allowances, outline):
        return False
    return bool(Polygon(defect.outline).intersection(Polygon(outline)).area > _LEAST_AREA)


def _crossed_sides(
    reach: BaseGeometry, placement: Placement, part: Part, allowances: Allowances
) -> list[PartSide]:
    crossed = []
    for side, lines in side_lines(part).items():
        laid = [
            LineString([point_on_board((x, y), placement, part, allowances) for x, y in line.coords])
            for line in lines.geoms
        ]
        if any(line.intersection(reach).length > _LEAST_LENGTH for line in laid):
            crossed.append(side)
    return crossed


def _judged(
    defect: Defect,
    reach: BaseGeometry,
    side: PartSide,
    placement: Placement,
    part: Part,
    allowances: Allowances,
) -> Fate:
    finished = Polygon(on_board(part.shape, placement, part, allowances))
    inside = reach.intersection(finished)
    rule, concealed = rule_for(part, side), part.visibility(side) is Visibility.CONCEALED
    grounds = [(zone, Polygon(on_board(zone.outline, placement, part, allowances))) for zone in part.zones]
    for zone, ground in grounds:
        sound = zone.rule is ZoneRule.SOUND and zone.side in (None, side)
        if sound and ground.intersection(inside).area > _LEAST_AREA:
            return Fate.AGAINST
    if side in _FACES:
        covers = [ground for zone, ground in grounds if _covers(zone, side)]
        if covers and inside.difference(shapely.union_all(covers)).area <= _LEAST_AREA:
            rule = RULES[part.tolerates.get(Visibility.CONCEALED, USUAL[Visibility.CONCEALED])]
            concealed = True
    if not tolerated(defect, rule):
        return Fate.AGAINST
    if concealed:
        return Fate.HIDDEN_BACK if side is PartSide.BACK else Fate.CONCEALED
    return Fate.SHOWN if defect.wish is Wish.SHOW else Fate.SEEN


def _covers(zone: Zone, side: PartSide) -> bool:
    return zone.rule is ZoneRule.COVERED and zone.side in (None, side)
