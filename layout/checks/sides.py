"""Whether each side of each part shows only what it tolerates.

Written a second time from the meaning in `layout.rules`; only the table of rules
itself (published limits) is shared.

Depth is kept as the stretch of the board's thickness a defect takes up::

    z = 0   front ==========   front defect, depth d:      0 .. d
                               back defect, depth d:       T - d .. T
            planed part        through, or depth unknown:  0 .. T
            f .. f + t
    z = T   back  ==========
"""

from collections.abc import Iterator

from shapely import affinity, unary_union
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop
from layout.checks.finding import TOLERANCE, Violation, mm
from layout.checks.piece import Piece
from layout.checks.swell import swollen
from layout.parts import PartSide, Visibility, ZoneRule
from layout.rules import RULES, USUAL, FaceRule
from layout.stock import Board, Defect, DefectKind, Face, Where, Wish

__all__ = ["depths_in", "grown", "grown_in", "remains", "shown", "shows_on_face"]

_KNOTS = (DefectKind.SOUND_KNOT, DefectKind.DEAD_KNOT, DefectKind.PIN_KNOT)
_FACES = (PartSide.FACE, PartSide.BACK)

Mended = frozenset[tuple[str, PartSide | None]]


def grown(defect: Defect, board: Board, shop: Shop) -> BaseGeometry:
    """Outline of a defect with its disturbed grain and margin, in the board frame [mm]."""
    shape: BaseGeometry = Polygon(defect.outline)
    if defect.kind in _KNOTS:
        along, across = shop.allowances.knot_along, shop.allowances.knot_across
        shape = affinity.scale(shape, 1 + 2 * along, 1 + 2 * across, origin="center")
    faces = list(Face) if defect.where is Where.THROUGH else [Face(defect.where.value)]
    along, across = (max(offs) for offs in zip(*(board.off_on(face) for face in faces), strict=True))
    return swollen(shape, shop.allowances.defect_margin + along, shop.allowances.defect_margin + across)


def remains(defect: Defect, piece: Piece) -> bool:
    """Whether any of a defect's depth is left in the planed part."""
    top, bottom = _depths(defect, piece.board)
    return top < piece.off_front + piece.part.thickness - 1e-6 and bottom > piece.off_front + 1e-6


def shows_on_face(defect: Defect, piece: Piece, face: Face) -> bool:
    """Whether a defect shows on the planed surface that lies towards a board face."""
    if defect.where is Where.THROUGH:
        return True
    if not remains(defect, piece):
        return False
    if defect.where.value == face.value:
        return True
    if defect.depth is None:
        return False
    top, bottom = _depths(defect, piece.board)
    if face is Face.BACK:
        return bottom >= piece.off_front + piece.part.thickness - 1e-6
    return top <= piece.off_front + 1e-6


def grown_in(defect: Defect, piece: Piece) -> BaseGeometry:
    """A defect's grown outline inside the finished part, in the part frame [mm]."""
    return piece.unplaced(grown(defect, piece.board, piece.shop)).intersection(Polygon(piece.part.shape))


def depths_in(defect: Defect, piece: Piece) -> tuple[float, float]:
    """Between which depths a defect lies in the planed part, from its face side [mm]."""
    top, bottom = _depths(defect, piece.board)
    thickness = piece.part.thickness
    top, bottom = max(top - piece.off_front, 0.0), min(bottom - piece.off_front, thickness)
    if piece.placement.face_from is Face.BACK:
        return thickness - bottom, thickness - top
    return top, bottom


def shown(piece: Piece, mended: Mended = frozenset()) -> Iterator[Violation]:
    """Every defect that a part shows, or holds, and may not.

    Parameters
    ----------
    piece : Piece
    mended : set of (defect, side)
        Made good there by a repair that holds; a side of None is a place that
        must be sound.
    """
    for defect in piece.board.defects:
        if not remains(defect, piece) or _is_far(defect, piece):
            continue
        reach = grown(defect, piece.board, piece.shop).buffer(-TOLERANCE)
        if not _overlap(reach, piece.finished):
            continue
        if defect.wish is Wish.KEEP_OFF:
            yield _said(piece, defect, "lies in it, and the maker wants it in no part")
            continue
        if (defect.id, None) not in mended:
            yield from _in_sound_zones(piece, defect, reach)
        if defect.wish not in (Wish.TOLERATE, Wish.SHOW):
            yield from _on_faces(piece, defect, reach, mended)
            yield from _on_edges(piece, defect, reach, mended)


def _is_far(defect: Defect, piece: Piece) -> bool:
    """Whether a defect is plainly nowhere near a part: most are, and drawing how far they reach is dear."""
    xs, ys = [x for x, _ in defect.outline], [y for _, y in defect.outline]
    more = 1.0 + piece.shop.allowances.defect_margin + max(piece.board.off)
    along = more + (max(xs) - min(xs)) * piece.shop.allowances.knot_along
    across = more + (max(ys) - min(ys)) * piece.shop.allowances.knot_across
    x0, y0, x1, y1 = piece.finished.bounds
    return bool(
        max(xs) + along < x0 or min(xs) - along > x1 or max(ys) + across < y0 or min(ys) - across > y1
    )


def _in_sound_zones(piece: Piece, defect: Defect, reach: BaseGeometry) -> Iterator[Violation]:
    for zone in piece.part.zones:
        if zone.rule is not ZoneRule.SOUND:
            continue
        if zone.side is not None and not shows_on_face(defect, piece, piece.board_face(zone.side)):
            continue
        if _overlap(reach, piece.placed(Polygon(zone.outline)).intersection(piece.finished)):
            yield _said(piece, defect, f"reaches into the {zone.name}, which must be sound")


def _on_faces(piece: Piece, defect: Defect, reach: BaseGeometry, mended: Mended) -> Iterator[Violation]:
    for side in _FACES:
        if (defect.id, side) in mended or not shows_on_face(defect, piece, piece.board_face(side)):
            continue
        covers = [
            piece.placed(Polygon(zone.outline))
            for zone in piece.part.zones
            if zone.rule is ZoneRule.COVERED and zone.side in (None, side)
        ]
        covered = unary_union(covers) if covers else Polygon()
        seen = piece.part.visibility(side)
        if _overlap(reach, piece.finished.difference(covered)):
            yield from _judged(piece, defect, f"its {side.value}", seen)
        if _overlap(reach, piece.finished.intersection(covered)):
            yield from _judged(piece, defect, f"the covered place of its {side.value}", Visibility.CONCEALED)


def _on_edges(piece: Piece, defect: Defect, reach: BaseGeometry, mended: Mended) -> Iterator[Violation]:
    for side, line in piece.sides.items():
        if (defect.id, side) not in mended and reach.intersection(line).length > 0:
            yield from _judged(piece, defect, f"its {side.value}", piece.part.visibility(side))


def _judged(piece: Piece, defect: Defect, place: str, seen: Visibility) -> Iterator[Violation]:
    rule = _rule(piece, seen)
    largest = rule.largest.get(defect.kind)
    if largest is None:
        yield _said(piece, defect, f"shows on {place} ({seen.value}), where {rule.name!r} takes none")
    elif (size := _across(defect)) > largest:
        yield _said(
            piece,
            defect,
            f"is {mm(size)} across and shows on {place} ({seen.value}), where {rule.name!r} takes"
            f" {mm(largest)} at most",
        )


def _rule(piece: Piece, seen: Visibility) -> FaceRule:
    name = piece.part.tolerates.get(seen, USUAL[seen])
    return RULES.get(name, FaceRule(name))


def _depths(defect: Defect, board: Board) -> tuple[float, float]:
    if defect.where is Where.THROUGH or defect.depth is None:
        return 0.0, board.thickness
    if defect.where is Where.FRONT:
        return 0.0, defect.depth
    return board.thickness - defect.depth, board.thickness


def _across(defect: Defect) -> float:
    ys = [y for _, y in defect.outline]
    return max(ys) - min(ys)


def _overlap(one: BaseGeometry, other: BaseGeometry) -> bool:
    return bool(one.intersection(other).area > 1e-6)


def _said(piece: Piece, defect: Defect, what: str) -> Violation:
    x = sum(x for x, _ in defect.outline) / len(defect.outline)
    message = f"{piece.name}: the {defect.kind.value} {defect.id} at {mm(x)} {what}."
    return Violation(piece.part.name, piece.placement.copy, piece.board.id, message)
