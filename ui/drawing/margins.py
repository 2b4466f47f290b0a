"""Round the board: title, datum end and edge, scale bar, stated error, and the legend of its faults."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import ceil

from layout.parts import Visibility
from layout.stock import Turn
from ui.drawing.board_view import BoardView
from ui.drawing.draw_faults import Note
from ui.drawing.fonts import printable, width_of
from ui.drawing.palette import INK, LIGHT, PAPER, side_pen
from ui.drawing.room import Room
from ui.drawing.scene import Box, Item, Pen, Shape, Words, box_shape
from ui.lengths import INCH

__all__ = [
    "datum_lines",
    "draw_datums",
    "draw_legend",
    "draw_title",
    "error_words",
    "size_words",
    "straight_datum",
]

_LAYER = "title and scale"
_LINE = 1.5


def size_words(view: BoardView) -> str:
    """Length, width and thickness of a board as it lies there."""
    tape, board = view.tape, view.board
    sizes = (tape.words(tape.nearest(value)) for value in (board.length, board.width, board.thickness))
    return " x ".join(sizes) + (" in" if view.units == "inch" else " mm")


def error_words(view: BoardView) -> str:
    """How far the picture may be off, said plainly."""
    if view.board.error <= 0:
        return "no photograph: sizes as taped"
    off = f"{view.board.error:.1f} mm" if view.units == "mm" else f"{view.board.error / INCH:.2f} in"
    return f"picture true to {off}; tape before you cut"


def draw_title(view: BoardView, box: Box) -> tuple[list[Item], float]:
    """Board, face and size on top, and the new upper end of the picture."""
    unit, board = view.unit, view.board
    y = box[1] - 1.6 * unit
    big = f"Board {printable(board.id)} · {view.face.value} face"
    rest = f"{size_words(view)} {printable(board.species)} · {error_words(view)}"
    items: list[Item] = [Words(box[0] + 0.8 * unit, y, big, 1.9 * unit, _LAYER, INK, bold=True)]
    start = box[0] + 0.8 * unit + width_of(big, 1.9 * unit, True) + 1.2 * unit
    if start + width_of(rest, unit) <= box[2]:
        items.append(Words(start, y + 0.25 * unit, rest, unit, _LAYER, INK))
    else:
        items = [Words(box[0] + 0.8 * unit, y - 1.7 * unit, big, 1.9 * unit, _LAYER, INK, bold=True)]
        size = min(unit, unit * (box[2] - box[0] - 1.6 * unit) / width_of(rest, unit))
        items.append(Words(box[0] + 0.8 * unit, y + 0.3 * unit, rest, size, _LAYER, INK))
        y -= 1.7 * unit
    return items, y - 1.5 * unit


def straight_datum(view: BoardView) -> bool:
    """Whether the datum edge is an edge of the wood: on a waney board it is a line to be snapped."""
    outline = view.board.outline(view.face)
    ring = [*outline, outline[0]]
    along = sum(abs(b[0] - a[0]) for a, b in pairwise(ring) if abs(a[1]) < 0.5 and abs(b[1]) < 0.5)
    return along >= 0.9 * view.board.length


def datum_lines(view: BoardView) -> list[Item]:
    """The datum end and the datum edge, drawn heavy; a line to be snapped is dashed."""
    unit = view.unit
    x = 0.0 if view.datum_end_left else view.board.length
    y = 0.0 if view.datum_edge_top else view.board.width
    dash = () if straight_datum(view) else (1.4 * unit, 0.6 * unit)
    edge = ((0.0, y), (view.board.length, y))
    return [
        Shape(((x, 0.0), (x, view.board.width)), "datums", Pen(INK, 0.3 * unit), closed=False),
        Shape(edge, "datums", Pen(INK, 0.3 * unit if not dash else 0.16 * unit, dash), closed=False),
    ]


def draw_datums(view: BoardView, room: Room) -> list[Item]:
    """Which end and which edge everything is measured from, written along them."""
    unit, board = view.unit, view.board
    x = 0.0 if view.datum_end_left else board.length
    way = -1.0 if view.datum_end_left else 1.0
    end = "DATUM END"
    size, step = 0.9 * unit, 1.0
    foot = board.width / 2 + width_of(end, size, True) / 2
    words = Words(x + way * step * unit, foot, end, size, "datums", INK, bold=True, upwards=True)
    while not room.free(words.box):
        step += 0.7
        words = replace(words, x=x + way * step * unit)
    room.take(words.box)
    return [words, _datum_edge(view, room, size)]


def _datum_edge(view: BoardView, room: Room, size: float) -> Words:
    """The name of the datum edge beside it, where no reading stands in the way."""
    text = "DATUM EDGE" if straight_datum(view) else "DATUM LINE"
    wide, high = width_of(text, size, True), 1.1 * view.unit
    up = -1.0 if view.datum_edge_top else 1.0
    edge, last = 0.0 if view.datum_edge_top else view.board.width, view.board.length - wide / 2
    boxes = []
    for away in (0.95, 1.8):
        for share in (1.0, 0.97, 0.93, 0.88, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.0):
            x = wide / 2 + (share if view.datum_end_left else 1 - share) * (last - wide / 2)
            y = edge + up * away * view.unit
            boxes.append((x - wide / 2, y - high / 2, x + wide / 2, y + high / 2))
    start = last if view.datum_end_left else wide / 2
    free = next((each for each in boxes if room.free(each)), None)
    box = room.take(free or room.lane(start, wide, high, edge + up * view.unit, up * 0.8 * view.unit))
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    return Words(x, y, text, size, "datums", INK, "middle", bold=True)


def draw_legend(view: BoardView, notes: Sequence[Note], box: Box) -> tuple[list[Item], float]:
    """Scale bar, keys and the numbered faults below the picture, and the new lower end of the picture."""
    unit = view.unit
    left, y = box[0] + 0.8 * unit, box[3] + 1.2 * unit
    items, right = _scale_bar(view, left, y)
    items += _keys(view, right + 2 * unit, y, box[2])
    y += 2.2 * unit
    turned = "rolled over its long edge" if view.board.turned is Turn.ROLLED else "tumbled end over end"
    seen = "" if view.datum_end_left and view.datum_edge_top else f"Seen with the board {turned}."
    if seen:
        items.append(Words(left, y, seen, unit, _LAYER, INK))
        y += _LINE * unit
    widths = sorted(width_of(note.words, unit) + 3.4 * unit for note in notes)
    usual = widths[int(0.8 * (len(widths) - 1))] if widths else 1.0
    widest = max([usual, *(0.92 * wide for wide in widths)])  # a few long lines are set a little smaller
    columns = max(1, min(4, int((box[2] - left) / widest)))
    rows = ceil(len(notes) / columns)
    for rank, note in enumerate(notes):
        column, row = divmod(rank, max(rows, 1))
        x, line = left + column * (box[2] - left) / columns, y + row * _LINE * unit
        items += _note(note, x, line, unit, (box[2] - left) / columns)
    return items, y + max(rows, 0) * _LINE * unit + 0.3 * unit


def _note(note: Note, x: float, y: float, unit: float, most: float) -> list[Item]:
    wide = (0.7 + 0.62 * len(note.number)) * unit
    plate = box_shape((x, y - 0.6 * unit, x + wide, y + 0.6 * unit), _LAYER, None, note.colour)
    number = Words(x + wide / 2, y, note.number, 0.9 * unit, _LAYER, PAPER, "middle", bold=True)
    size = min(unit, unit * (most - wide - 1.2 * unit) / max(width_of(note.words, unit), 1e-9))
    return [plate, number, Words(x + wide + 0.5 * unit, y, note.words, size, _LAYER, INK)]


def _scale_bar(view: BoardView, x: float, y: float) -> tuple[list[Item], float]:
    """A bar of a round length, about a tenth of the board, in five fields."""
    unit = view.unit
    one = INCH if view.units == "inch" else 1.0
    rounds = [2, 5, 10, 20, 50, 100] if view.units == "inch" else [50, 100, 200, 500, 1000]
    steps = min(rounds, key=lambda each: abs(each * one - view.board.length / 8))
    long = steps * one
    items: list[Item] = []
    for field in range(5):
        box = (x + field * long / 5, y - 0.3 * unit, x + (field + 1) * long / 5, y + 0.3 * unit)
        items.append(box_shape(box, _LAYER, Pen(INK, 0.07 * unit), INK if field % 2 == 0 else PAPER))
    text = f"{steps} {'in' if view.units == 'inch' else 'mm'}"
    items.append(Words(x + long + 0.5 * unit, y, text, unit, _LAYER, INK))
    return items, x + long + 0.5 * unit + width_of(text, unit)


def _keys(view: BoardView, x: float, y: float, right: float) -> list[Item]:
    unit = view.unit
    items: list[Item] = []
    for seen in Visibility:
        text = {"show": "show face", "seen in use": "seen in use", "concealed": "concealed"}[seen.value]
        if x + 2.6 * unit + width_of(text, unit) > right:
            break
        line = ((x, y), (x + 2.2 * unit, y))
        items.append(Shape(line, _LAYER, side_pen(seen, unit), closed=False))
        items.append(Words(x + 2.6 * unit, y, text, unit, _LAYER, INK))
        x += 4.4 * unit + width_of(text, unit)
    kerf = f"kerf {view.tape.fine(view.shop.allowances.kerf)} on the waste side of the line"
    half, thin = 0.6 * unit, Pen(INK, 0.14 * unit)
    band = [
        box_shape((x, y - half, x + 0.35 * unit, y + half), _LAYER, None, LIGHT),
        Shape(((x, y - half), (x, y + half)), _LAYER, thin, closed=False),
    ]
    if x + width_of(kerf, unit) + 2.5 * unit > right:
        return items
    items += [*band, Words(x + 0.8 * unit, y, kerf, unit, _LAYER, INK)]
    x += width_of(kerf, unit) + 2.6 * unit
    vee, near = (
        ((x, y - half), (x + half, y + half), (x + 2 * half, y - half)),
        "points at the near edge, by the near end",
    )
    if view.pieces and x + width_of(near, unit) + 3 * unit <= right:
        words = Words(x + 1.6 * unit, y, near, unit, _LAYER, INK)
        items += [Shape(vee, _LAYER, thin, closed=False), words]
    return items
