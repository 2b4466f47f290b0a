"""Repairs where they go, and the offcut wood they are made from, each with its number."""

from dataclasses import dataclass

from layout.glue import Repair, RepairKind
from layout.outline import Outline, bounds_of
from layout.parts import PartSide
from ui.drawing.board_view import BoardView
from ui.drawing.fonts import width_of
from ui.drawing.outside import outside
from ui.drawing.palette import PAPER, REPAIR
from ui.drawing.pieces import Piece, point_on_board
from ui.drawing.room import Room
from ui.drawing.scene import LEADERS, Box, Item, Pen, Shape, Words, box_shape

__all__ = ["NumberedRepair", "draw_repairs", "label_repairs", "numbered_repairs"]

_LAYER = "repairs"
_FACES = {PartSide.FACE, PartSide.BACK}


@dataclass(frozen=True)
class NumberedRepair:
    """A repair with its number in the whole layout, R1, R2 ...; the piece it mends if that is on this board.

    Parameters
    ----------
    name : str
    repair : Repair
    piece : Piece or None
    here : bool
        Whether its donor is on this board.
    """

    name: str
    repair: Repair
    piece: Piece | None
    here: bool


def numbered_repairs(view: BoardView) -> tuple[NumberedRepair, ...]:
    """The repairs that concern a board: of its pieces, or from its wood."""
    by_copy = {(piece.placement.part, piece.copy): piece for piece in view.pieces}
    found = []
    for number, repair in enumerate(view.layout.repairs, start=1):
        piece = by_copy.get((repair.part, repair.copy))
        here = repair.donor is not None and repair.donor.board == view.board.id
        if piece is not None or here:
            found.append(NumberedRepair(f"R{number}", repair, piece, here))
    return tuple(found)


def _ground(view: BoardView, item: NumberedRepair) -> Outline | None:
    """The repair's outline as seen, if it can be seen on this face of the board."""
    repair, piece = item.repair, item.piece
    if piece is None:
        return None
    through = repair.depth >= piece.part.thickness - 1e-6 or repair.side not in _FACES
    if not through and piece.side_towards(view.face) is not repair.side:
        return None
    allowances = view.shop.allowances
    return view.seen_outline(
        point_on_board(point, piece.placement, piece.part, allowances) for point in repair.outline
    )


def _donor(view: BoardView, item: NumberedRepair) -> Box | None:
    donor = item.repair.donor
    if donor is None or not item.here:
        return None
    return view.seen_box((donor.x0, donor.y0, donor.x1, donor.y1))


def draw_repairs(view: BoardView) -> list[Item]:
    """Outlines: a repair in the part firm, its donor in the offcut dashed."""
    unit, items = view.unit, list[Item]()
    firm, dashed = Pen(REPAIR, 0.2 * unit), Pen(REPAIR, 0.16 * unit, (0.7 * unit, 0.35 * unit))
    for item in numbered_repairs(view):
        ground, donor = _ground(view, item), _donor(view, item)
        if ground is not None:
            items += [Shape(ground, _LAYER, Pen(PAPER, 0.36 * unit)), Shape(ground, _LAYER, firm)]
            items += _glue_line(view, item)
        if donor is not None:
            items.append(box_shape(donor, "donors", dashed))
    return items


def _glue_line(view: BoardView, item: NumberedRepair) -> list[Item]:
    """Where a splice's joint meets the side that is looked at."""
    repair, piece = item.repair, item.piece
    if (
        piece is None
        or repair.kind is not RepairKind.SPLICE
        or piece.side_towards(view.face) is not repair.side
    ):
        return []
    ends = [
        point_on_board((repair.at, y), piece.placement, piece.part, view.shop.allowances)
        for y in (0.0, piece.part.width)
    ]
    return [Shape(view.seen_outline(ends), _LAYER, Pen(REPAIR, 0.2 * view.unit), closed=False)]


def label_repairs(view: BoardView, room: Room) -> list[Item]:
    """The number of each repair beside it, and of each donor in it."""
    items: list[Item] = []
    for item in numbered_repairs(view):
        ground, donor = _ground(view, item), _donor(view, item)
        if ground is not None:
            kind = "" if item.repair.kind is RepairKind.FILLER else f" {item.repair.kind.value}"
            items += _tag(view, f"{item.name}{kind}", bounds_of(ground), room)
        if donor is not None:
            items += _tag(view, f"for {item.name}", donor, room)
    return items


def _tag(view: BoardView, text: str, box: Box, room: Room) -> list[Item]:
    unit, size = view.unit, 0.85 * view.unit
    wide, high = width_of(text, size, True) + 0.5 * unit, 1.15 * unit
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    places = [(x, y)]
    for away in (0.2, 1.4, 2.8, 4.5):
        up, down = box[1] - away * unit - high / 2, box[3] + away * unit + high / 2
        places += [
            (x, up),
            (x, down),
            (box[2] + away * unit + wide / 2, y),
            (box[0] - away * unit - wide / 2, y),
        ]
        places += [(box[0], up), (box[2], up), (box[0], down), (box[2], down)]
    boxes = [(px - wide / 2, py - high / 2, px + wide / 2, py + high / 2) for px, py in places]
    inside = [each for each in boxes if each[0] >= 0 and each[2] <= view.wide]
    within = [each for each in inside if each[1] >= 0 and each[3] <= view.high]
    place = room.best(within) or outside(view, room, (x, y), wide, high)[0]
    room.take(place)
    at_x, at_y = (place[0] + place[2]) / 2, (place[1] + place[3]) / 2
    items: list[Item] = []
    if (
        abs(at_x - x) > (wide + box[2] - box[0]) / 2 + unit
        or abs(at_y - y) > (high + box[3] - box[1]) / 2 + unit
    ):
        items.append(Shape(((x, y), (at_x, at_y)), LEADERS, Pen(REPAIR, 0.08 * unit), closed=False))
    words = Words(at_x, at_y, text, size, _LAYER, PAPER, "middle", bold=True)
    return [*items, box_shape(place, _LAYER, None, REPAIR), words]
