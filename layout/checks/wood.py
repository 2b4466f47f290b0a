"""Whether each piece is made of wood that is there: inside the board, thick enough, straight in the grain.

Usable wood of a board: what both face outlines share, each made smaller all round
by how far that face may be off; less the end trim and the greater of the two errors
along the grain at each end; less the edge trim across the grain at each long edge.
"""

from collections.abc import Iterator, Sequence
from math import radians, tan

from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop
from layout.checks.finding import TOLERANCE, Violation, mm
from layout.checks.piece import Piece
from layout.checks.swell import swollen
from layout.stock import Board, Face

__all__ = ["inside", "kerf_between", "planing", "slopes", "solid", "usable_wood"]


def solid(board: Board) -> BaseGeometry:
    """Where a board has wood from face to face, however its two pictures may be off [mm]."""
    if board.off_on(Face.BACK) == board.off_on(Face.FRONT):
        along, across = board.off_on(Face.FRONT)
        return swollen(Polygon(board.back).intersection(Polygon(board.front)), -along, -across)
    (along, across), (over_there, aside) = board.off_on(Face.FRONT), board.off_on(Face.BACK)
    front = swollen(Polygon(board.front), -along, -across)
    return swollen(Polygon(board.back), -over_there, -aside).intersection(front)


def usable_wood(board: Board, shop: Shop) -> BaseGeometry:
    """The wood of a board a sawn piece may take, in the board frame [mm]."""
    wood = solid(board)
    edge = shop.allowances.edge_trim
    wood = wood.intersection(affinity.translate(wood, 0, edge)).intersection(
        affinity.translate(wood, 0, -edge)
    )
    end = shop.allowances.end_trim + max(board.off_on(face)[0] for face in Face)
    return wood.intersection(box(end, -board.width, board.length - end, 2 * board.width))


def inside(piece: Piece, wood: BaseGeometry) -> Iterator[Violation]:
    """A sawn piece that reaches outside the usable wood of its board."""
    if wood.contains(piece.sawn.buffer(-TOLERANCE)):
        return
    x0, y0, x1, y1 = piece.sawn.difference(wood).bounds
    trims = piece.shop.allowances
    yield _about(
        piece,
        f"{piece.name}: lies {mm(max(min(x1 - x0, y1 - y0), 0.1))} outside the sound outline near"
        f" {mm(x0)} from the datum end and {mm(y0)} from the datum edge"
        f" (end trim {mm(trims.end_trim)}, edge trim {mm(trims.edge_trim)}, picture error"
        f" {mm(piece.board.off[0])}{_across(piece.board)}); move it in.",
    )


def _across(board: Board) -> str:
    along, across = board.off
    return "" if along == across else f" along and {mm(across)} across"


def kerf_between(pieces: Sequence[Piece], shop: Shop) -> Iterator[Violation]:
    """Two sawn pieces of one board with less than a saw cut between them."""
    kerf = shop.allowances.kerf
    for number, one in enumerate(pieces):
        for other in pieces[number + 1 :]:
            if one.board.id != other.board.id:
                continue
            shared = one.sawn.intersection(other.sawn)
            if shared.area > TOLERANCE:
                x0, y0, x1, y1 = shared.bounds
                text = f"overlap by {mm(x1 - x0)} along and {mm(y1 - y0)} across"
            elif (gap := one.sawn.distance(other.sawn)) < kerf - TOLERANCE:
                text = f"leave only {mm(gap)} for a saw cut of {mm(kerf)}"
            else:
                continue
            names = f"{one.part.name} {one.placement.copy} and {other.part.name} {other.placement.copy}"
            yield _about(one, f"{names} on board {one.board.id} {text}; move them apart.")


def planing(piece: Piece) -> Iterator[Violation]:
    """A board too thin for the part, or planed more or less than there is to plane."""
    skim = piece.shop.allowances.skim
    spare = piece.board.thickness - piece.part.thickness
    if spare < 2 * skim - TOLERANCE:
        yield _about(
            piece,
            f"{piece.name}: needs {mm(piece.part.thickness + 2 * skim)} to plane down to"
            f" {mm(piece.part.thickness)}, but the board is {mm(piece.board.thickness)} thick.",
        )
        return
    for face, taken in (("front", piece.off_front), ("back", piece.off_back)):
        if taken < skim - TOLERANCE:
            yield _about(
                piece,
                f"{piece.name}: {mm(taken)} is planed off the {face} face, but the least is {mm(skim)};"
                f" {mm(spare)} is to come off in all.",
            )


def slopes(piece: Piece) -> Iterator[Violation]:
    """Grain that runs out of a part more steeply than it may, or a tilt no straight saw cut gives."""
    most = piece.shop.max_slope if piece.part.max_slope is None else piece.part.max_slope
    slope = abs(tan(radians(piece.board.grain - piece.placement.tilt)))
    if slope > most + 1e-6:
        yield _about(
            piece,
            f"{piece.name}: the grain runs out at {_one_in(slope)}, but {_one_in(most)} is the most;"
            " lay it along the grain.",
        )
    if piece.placement.end_for_end and not piece.part.turn_end_for_end:
        yield _about(piece, f"{piece.name}: lies end for end, but it may not be turned.")
    heart, up = piece.board.heart, piece.part.heart_up
    if heart is not None and up is not None and (piece.placement.face_from is heart) is not up:
        side = "up" if up else "down"
        yield _about(piece, f"{piece.name}: the heart side of the board must lie {side} in it.")


def _one_in(slope: float) -> str:
    return f"1 in {1 / slope:.0f}" if slope > 1e-9 else "no slope at all"


def _about(piece: Piece, message: str) -> Violation:
    return Violation(piece.part.name, piece.placement.copy, piece.board.id, message)
