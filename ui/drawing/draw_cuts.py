"""Saw cuts: the line to saw to, the kerf beyond it on the waste side, its number and its reading."""

from layout.placement import Cut, CutKind
from ui.drawing.board_view import BoardView
from ui.drawing.fonts import width_of
from ui.drawing.outside import outside
from ui.drawing.palette import CUT, PAPER
from ui.drawing.room import Room
from ui.drawing.scene import LEADERS, Anchor, Box, Item, Pen, Shape, Words, box_shape, disc

__all__ = ["cut_badge", "draw_cuts", "label_inner_cuts"]


_RING = 0.72  # radius of the ring round a cut's number, in text heights


def draw_cuts(view: BoardView) -> list[Item]:
    """Every slot at its true width, and the line to saw to along the side of the measured piece."""
    items: list[Item] = []
    for cut in view.cuts:
        slot = view.slot(cut)
        items.append(box_shape(view.seen_box(slot), "kerf", None, CUT, opacity=0.5))
        x0, y0, x1, y1 = slot
        if cut.kind is CutKind.CROSSCUT:
            x = x0 if cut.kept_before else x1
            line = ((x, y0), (x, y1))
        else:
            y = y0 if cut.kept_before else y1
            line = ((x0, y), (x1, y))
        items.append(Shape(view.seen_outline(line), "cut lines", Pen(CUT, 0.14 * view.unit), closed=False))
    return items


def cut_badge(x: float, y: float, order: int, unit: float, layer: str = "cut numbers") -> list[Item]:
    """The number of a cut in a ring."""
    size = 0.9 * unit if order < 10 else 0.72 * unit
    ring = disc(x, y, _RING * unit, layer, Pen(CUT, 0.1 * unit), PAPER)
    return [ring, Words(x, y, str(order), size, layer, CUT, "middle", bold=True)]


def label_inner_cuts(view: BoardView, room: Room) -> list[Item]:
    """Number and reading of every cut after the first stage, on the board beside its line."""
    items: list[Item] = []
    for cut in view.cuts:
        if cut.stage > 1:
            items += _label(view, cut, room)
    return items


def _label(view: BoardView, cut: Cut, room: Room) -> list[Item]:
    unit = view.unit
    text = view.tape.words(view.reading(cut))
    long = width_of(text, 0.85 * unit, True)
    full = 1.84 * unit + long
    ways = [(text, full, 1.0)]
    if not view.upright:  # which has no table of cuts beside it, so that no reading may be left out
        ways += [("", 1.44 * unit, 1.0), ("", 1.0 * unit, 0.69)]
    for words, wide, share in ways:
        boxes = _boxes(view, cut, wide, 1.44 * share * unit)
        box = room.best(boxes)
        if box is not None:
            return _badge_and_reading(room.take(box), cut.order, words, share * unit, boxes[box])
    return _outside(view, cut, room, text)


def _badge_and_reading(box: Box, order: int, text: str, unit: float, ring_right: bool = False) -> list[Item]:
    x, y = box[2] - _RING * unit if ring_right else box[0] + _RING * unit, (box[1] + box[3]) / 2
    items = cut_badge(x, y, order, unit)
    if text:
        ends, start = ((box[0], x), x - 1.0 * unit) if ring_right else ((x, box[2]), x + 1.0 * unit)
        plate = (ends[0], y - 0.55 * unit, ends[1], y + 0.55 * unit)
        anchor: Anchor = "end" if ring_right else "start"
        words = Words(start, y, text, 0.85 * unit, "cut numbers", CUT, anchor, bold=True)
        items = [box_shape(plate, "cut numbers", None, PAPER, opacity=0.9), *items, words]
    return items


def _boxes(view: BoardView, cut: Cut, wide: float, high: float) -> dict[Box, bool]:
    """Boxes over the cut's line, centred on it or with the ring on it, from the end where the saw enters.

    Each says whether its ring is at the right.
    """
    x0, y0, x1, y1 = view.seen_box(view.slot(cut))
    places: list[tuple[float, float, bool]] = []
    for share in (0.06, 0.94, 0.2, 0.8, 0.35, 0.65, 0.5, 0.0, 1.0):
        if not view.level(cut.kind):
            x = x0 + share * max(0.0, x1 - x0 - wide)
            places.append((x, (y0 + y1) / 2 - high / 2, False))
        else:
            line, y = (x0 + x1) / 2, y0 + share * max(0.0, y1 - y0 - high)
            ring, over = _RING * view.unit, 0.4 * view.unit
            places += [(line - wide / 2, y, False), (max(line - ring, -over), y, False)]
            places.append((min(line + ring, view.wide + over) - wide, y, True))
    boxes = {(x, y, x + wide, y + high): right for x, y, right in places}
    return {box: right for box, right in boxes.items() if _on_board(view, box)}


def _on_board(view: BoardView, box: Box) -> bool:
    most = 0.9 * view.unit  # a label may lean a little over the board's edge, not into the margin's words
    inside_x = box[0] >= -most and box[2] <= view.wide + most
    return inside_x and box[1] >= -most and box[3] <= view.high + most


def _outside(view: BoardView, cut: Cut, room: Room, text: str) -> list[Item]:
    unit = view.unit
    x0, y0, x1, y1 = view.seen_box(view.slot(cut))
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    wide = 1.44 * unit + 0.4 * unit + width_of(text, 0.85 * unit, True)
    box, end = outside(view, room, middle, wide, 1.5 * unit)
    leader = Shape((middle, end), LEADERS, Pen(CUT, 0.06 * unit), closed=False)
    return [leader, *_badge_and_reading(box, cut.order, text, unit)]
