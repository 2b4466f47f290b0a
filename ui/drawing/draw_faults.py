"""Defects and marks on the board: outline by what became of them, a number each, and a legend in words."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import cos, pi, sin

from layout.outline import Outline, bounds_of
from layout.parts import PartSide
from layout.rules import size_across
from layout.stock import Defect, DefectKind
from ui.drawing.board_view import BoardView
from ui.drawing.fates import DefectFate, Fate
from ui.drawing.outside import outside
from ui.drawing.palette import FATE_COLOURS, LIGHT, PAPER, fate_pen
from ui.drawing.pieces import Piece
from ui.drawing.room import Room
from ui.drawing.scene import LEADERS, Box, Item, Pen, Shape, Words, box_shape
from vision.marks import Mark, MarkState

__all__ = ["Note", "defect_words", "draw_faults", "fate_words", "number_faults", "pending_marks"]

_LARGE_KINDS = (DefectKind.SAPWOOD, DefectKind.WANE, DefectKind.STAIN)


@dataclass(frozen=True)
class Note:
    """One numbered line of the legend."""

    number: str
    words: str
    colour: str


def defect_words(defect: Defect, view: BoardView) -> str:
    """Kind and size of a defect, for example "dead knot 32 mm"."""
    long = bounds_of(defect.outline)[2] - bounds_of(defect.outline)[0]
    across = size_across(defect)
    tape = view.tape
    if long > 2.5 * across:
        size = f"{tape.words(tape.at_least(long), unit=True)} long"
    else:
        size = tape.words(tape.at_least(across), unit=True)
    return f"{defect.kind.value} {size}"


def fate_words(found: DefectFate, pieces: Mapping[tuple[str, int], Piece]) -> str:
    """What became of a defect, and of which parts it is a matter."""
    if not found.showings:
        return found.fate.value
    gravest = [each for each in found.showings if each.fate is found.fate]
    places = []
    for each in gravest:
        mark = pieces[(each.placement.part, each.placement.copy)].mark
        side = "back" if each.side is PartSide.BACK else each.side.value
        near = " (margin only)" if each.only_near else ""
        places.append(f"{mark} {side}{near}")
    unique = list(dict.fromkeys(places))
    shown = ", ".join(unique[:3]) + (f" and {len(unique) - 3} more" if len(unique) > 3 else "")
    return f"{found.fate.value}: {shown}"


def pending_marks(view: BoardView, marks: Iterable[Mark]) -> tuple[Mark, ...]:
    """Marks that still wait for the maker's word."""
    known = {defect.id for defect in view.board.defects}
    return tuple(mark for mark in marks if mark.state is MarkState.PENDING and mark.id not in known)


def draw_faults(view: BoardView, marks: Sequence[Mark]) -> list[Item]:
    """The outlines of what shows on this face."""
    unit = view.unit
    items: list[Item] = []
    for found in view.fates:
        if found.defect.shows_on(view.face):
            items += _outline(view.seen_outline(found.defect.outline), found.fate, unit)
    for mark in pending_marks(view, marks):
        if mark.where.value in (view.face.value, "through"):
            pen = Pen(LIGHT, 0.1 * unit, (0.15 * unit, 0.3 * unit))
            items.append(Shape(view.seen_outline(mark.outline), "marks not confirmed", pen))
    return items


def _outline(outline: Outline, fate: Fate, unit: float) -> list[Item]:
    pen = fate_pen(fate, unit)
    layer = f"defects {fate.value}"
    light = Shape(outline, layer, Pen(PAPER, pen.width + 0.14 * unit))
    return [light, Shape(outline, layer, pen)]


def number_faults(view: BoardView, marks: Sequence[Mark], room: Room) -> tuple[list[Item], list[Note]]:
    """A number beside each defect that shows on this face, and the legend lines of all of them."""
    pieces = {(each.part.name, each.placement.copy): each for each in view.pieces}
    items: list[Item] = []
    notes: list[Note] = []
    for rank, found in enumerate(view.fates, start=1):
        if not found.defect.shows_on(view.face):
            continue
        colour = FATE_COLOURS[found.fate]
        items += _number(view, str(rank), found.defect.outline, colour, room)
        notes.append(
            Note(str(rank), f"{defect_words(found.defect, view)}: {fate_words(found, pieces)}", colour)
        )
    for rank, mark in enumerate(pending_marks(view, marks), start=1):
        if mark.where.value in (view.face.value, "through"):
            items += _number(view, f"?{rank}", mark.outline, LIGHT, room)
            notes.append(Note(f"?{rank}", f"{mark.kind.value}: not confirmed, so not planned for", LIGHT))
    return items, notes


def _number(view: BoardView, text: str, outline: Outline, colour: str, room: Room) -> list[Item]:
    unit = view.unit
    box = view.seen_box(bounds_of(outline))
    wide, high = (0.7 + 0.62 * len(text)) * unit, 1.2 * unit
    place = room.best(_around(box, wide, high, view))
    if place is None:
        place = outside(view, room, ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), wide, high)[0]
    room.take(place)
    x, y = (place[0] + place[2]) / 2, (place[1] + place[3]) / 2
    near = (min(max(x, box[0]), box[2]), min(max(y, box[1]), box[3]))
    items: list[Item] = []
    if abs(near[0] - x) > wide or abs(near[1] - y) > high:
        items.append(Shape((near, (x, y)), LEADERS, Pen(colour, 0.08 * unit), closed=False))
    items.append(box_shape(place, "defect numbers", Pen(colour, 0.1 * unit), colour))
    items.append(Words(x, y, text, 0.9 * unit, "defect numbers", PAPER, "middle", bold=True))
    return items


def _around(box: Box, wide: float, high: float, view: BoardView) -> Iterator[Box]:
    """Places beside a defect, first touching its corners, then further and further out."""
    x0, y0, x1, y1 = box
    if x1 - x0 > 3 * wide and y1 - y0 > 3 * high:
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        yield x - wide / 2, y - high / 2, x + wide / 2, y + high / 2
    for away in (0.1, 0.6, 1.2, 2.0, 3.0, 4.5, 6.0):
        for step in range(12):
            turn = -pi / 4 + step * pi / 6
            reach_x, reach_y = (x1 - x0) / 2 + away * high + wide / 2, (y1 - y0) / 2 + away * high + high / 2
            x = (x0 + x1) / 2 + max(-1.0, min(1.0, 1.42 * cos(turn))) * reach_x
            y = (y0 + y1) / 2 + max(-1.0, min(1.0, 1.42 * sin(turn))) * reach_y
            place = (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
            inside_x = place[0] >= 0 and place[2] <= view.wide
            if inside_x and place[1] >= 0 and place[3] <= view.high:
                yield place
