"""Round the board: title, datum end and edge, scale bar, stated error, and the legend of its faults."""

from collections.abc import Sequence
from itertools import pairwise
from math import ceil

from layout.parts import Visibility
from layout.placement import CutKind
from layout.stock import Face, Turn
from ui.drawing.board_view import BoardView
from ui.drawing.draw_faults import Note
from ui.drawing.fonts import HALF_HEIGHT, printable, width_of
from ui.drawing.palette import INK, LIGHT, PAPER, side_pen
from ui.drawing.room import Room
from ui.drawing.scene import Anchor, Box, Item, Pen, Shape, Words, box_shape
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
_ALONG = (0.97, 0.93, 0.88, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.0)  # places along a datum, as shares


def size_words(view: BoardView) -> str:
    """Length, width and thickness of a board as it lies there."""
    tape, board = view.tape, view.board
    sizes = (tape.words(tape.nearest(value)) for value in (board.length, board.widest, board.thickness))
    return " x ".join(sizes) + (" in" if view.units == "inch" else " mm")


def error_words(view: BoardView) -> str:
    """How far the picture may be off, said plainly."""
    if max(view.board.off) <= 0:
        return "no photograph: sizes as taped"
    along, across = (
        f"{off:.1f} mm" if view.units == "mm" else f"{off / INCH:.2f} in"
        for off in view.board.off_on(view.face)
    )
    off = along if along == across else f"{along} along, {across} across"
    face = view.board.marked_on
    where = "" if face is None else f" on {'this face' if face is view.face else f'the {face.value}'}"
    return f"picture true to {off}; " + (f"mark out{where}, " if where else "") + "tape before you cut"


def draw_title(view: BoardView, box: Box) -> tuple[list[Item], float]:
    """Board, face and size on top, and the new upper end of the picture."""
    unit, board, left = view.unit, view.board, box[0] + 0.8 * view.unit
    big = f"Board {printable(board.id)} · {view.face.value} face"
    rest = [f"{size_words(view)} {printable(board.species)}", error_words(view)]
    one, room = " · ".join(rest), box[2] - 0.8 * unit - left
    head = min(1.9 * unit, 1.9 * unit * room / width_of(big, 1.9 * unit, True))
    beside = left + width_of(big, head, True) + 1.2 * unit
    if beside + width_of(one, unit) <= box[2]:
        y = box[1] - 1.6 * unit
        first = Words(left, y, big, head, _LAYER, INK, bold=True)
        return [first, Words(beside, y + 0.25 * unit, one, unit, _LAYER, INK)], y - 1.5 * unit
    lines = [one] if 0.9 * width_of(one, unit) <= room else rest
    top = box[1] - (2.0 + 1.3 * len(lines)) * unit
    items: list[Item] = [Words(left, top, big, head, _LAYER, INK, bold=True)]
    for rank, words in enumerate(lines, start=1):
        size = min(unit, unit * room / width_of(words, unit))
        items.append(Words(left, top + (0.7 + 1.3 * rank) * unit, words, size, _LAYER, INK))
    return items, top - 1.5 * unit


def straight_datum(view: BoardView) -> bool:
    """Whether the datum edge is an edge of the wood: on a waney board it is a line to be snapped."""
    outline = view.board.outline(view.face)
    ring = [*outline, outline[0]]
    along = sum(abs(b[0] - a[0]) for a, b in pairwise(ring) if abs(a[1]) < 0.5 and abs(b[1]) < 0.5)
    return along >= 0.9 * view.board.length


def datum_lines(view: BoardView) -> list[Item]:
    """The datum end and the datum edge, drawn heavy; a line to be snapped is dashed."""
    unit, board = view.unit, view.board
    dash = () if straight_datum(view) else (1.4 * unit, 0.6 * unit)
    end = (view.seen((0.0, 0.0)), view.seen((0.0, board.width)))
    edge = (view.seen((0.0, 0.0)), view.seen((board.length, 0.0)))
    return [
        Shape(end, "datums", Pen(INK, 0.3 * unit), closed=False),
        Shape(edge, "datums", Pen(INK, 0.3 * unit if not dash else 0.16 * unit, dash), closed=False),
    ]


def draw_datums(view: BoardView, room: Room) -> list[Item]:
    """Which end and which edge everything is measured from, written along them."""
    edge = "DATUM EDGE" if straight_datum(view) else "DATUM LINE"
    away = (1.0, *_ALONG) if view.datum_end_left else (0.0, *(1 - each for each in _ALONG))
    if view.upright:
        away = (1.0, *_ALONG)  # the datum end is on top
    return [
        _beside(view, room, "DATUM END", CutKind.RIP, (0.5,)),
        _beside(view, room, edge, CutKind.CROSSCUT, away),
    ]


def _beside(view: BoardView, room: Room, text: str, kind: CutKind, shares: Sequence[float]) -> Words:
    """Words along the datum that cuts of a kind are measured beside, where nothing stands in the way."""
    level, unit, size = view.level(kind), view.unit, 0.9 * view.unit
    long, thick = width_of(text, size, True), 2 * HALF_HEIGHT * size
    datum, whole = view.seen((0.0, 0.0))[1 if level else 0], view.high if level else view.wide
    way, span = -1.0 if datum < whole / 2 else 1.0, view.wide if level else view.high
    step = 0.95
    while True:
        across = datum + way * step * unit
        for share in shares:
            along = long / 2 + share * (span - long)
            x, y = (along, across) if level else (across, along)
            half_x, half_y = (long / 2, thick / 2) if level else (thick / 2, long / 2)
            box = (x - half_x, y - half_y, x + half_x, y + half_y)
            if room.free(box):
                room.take(box)
                start = (x, y) if level else (x, y + long / 2)
                anchor: Anchor = "middle" if level else "start"
                return Words(*start, text, size, "datums", INK, anchor, bold=True, upwards=not level)
        step += 0.85


def draw_legend(view: BoardView, notes: Sequence[Note], box: Box) -> tuple[list[Item], float]:
    """Scale bar, keys and the numbered faults below the picture, and the new lower end of the picture."""
    unit = view.unit
    left, y = box[0] + 0.8 * unit, box[3] + 1.2 * unit
    items, right = _scale_bar(view, left, y)
    keys, y = _keys(view, (left, right + 2 * unit, box[2]), y)
    items += keys
    y += 2.2 * unit
    turned = "rolled over its long edge" if view.board.turned is Turn.ROLLED else "tumbled end over end"
    seen = "" if view.face is Face.FRONT else f"Seen with the board {turned}."
    if seen:
        items.append(Words(left, y, seen, unit, _LAYER, INK))
        y += _LINE * unit
    widths = sorted(width_of(note.words, unit) + 3.4 * unit for note in notes)
    usual = widths[int(0.8 * (len(widths) - 1))] if widths else 1.0
    widest = max([usual, *(0.92 * wide for wide in widths)])  # a few long lines are set a little smaller
    columns = max(1, min(4, int((box[2] - left) / widest)))
    most, foot = (box[2] - left) / columns, y
    rows = ceil(len(notes) / columns)
    for column in range(columns):
        line = y
        for note in notes[column * rows : (column + 1) * rows]:
            found, lines = _note(note, left + column * most, line, unit, most, columns == 1)
            items += found
            line += (_LINE + 1.25 * (lines - 1)) * unit
        foot = max(foot, line)
    return items, foot + 0.3 * unit


def _note(
    note: Note, x: float, y: float, unit: float, most: float, may_break: bool
) -> tuple[list[Item], int]:
    """One line of the legend, or several where it is too long and may be broken; how many there are."""
    wide = (0.7 + 0.62 * len(note.number)) * unit
    plate = box_shape((x, y - 0.6 * unit, x + wide, y + 0.6 * unit), _LAYER, None, note.colour)
    number = Words(x + wide / 2, y, note.number, 0.9 * unit, _LAYER, PAPER, "middle", bold=True)
    room = most - wide - 1.2 * unit
    lines = _broken(note.words, room / unit) if may_break else [note.words]
    size = min(unit, *(unit * room / max(width_of(each, unit), 1e-9) for each in lines))
    at = x + wide + 0.5 * unit
    rows = [Words(at, y + rank * 1.25 * unit, each, size, _LAYER, INK) for rank, each in enumerate(lines)]
    return [plate, number, *rows], len(lines)


def _broken(words: str, most: float) -> list[str]:
    """Words in lines no wider than so many text heights, as far as single words allow."""
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and width_of(longer, 1.0) > most:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _scale_bar(view: BoardView, x: float, y: float) -> tuple[list[Item], float]:
    """A bar of a round length, about a tenth of the board, in five fields."""
    unit = view.unit
    one = INCH if view.units == "inch" else 1.0
    rounds = [2, 5, 10, 20, 50, 100] if view.units == "inch" else [50, 100, 200, 500, 1000]
    steps = min(rounds, key=lambda each: abs(each * one - min(view.board.length / 8, 12 * unit)))
    long = steps * one
    items: list[Item] = []
    for field in range(5):
        box = (x + field * long / 5, y - 0.3 * unit, x + (field + 1) * long / 5, y + 0.3 * unit)
        items.append(box_shape(box, _LAYER, Pen(INK, 0.07 * unit), INK if field % 2 == 0 else PAPER))
    text = f"{steps} {'in' if view.units == 'inch' else 'mm'}"
    items.append(Words(x + long + 0.5 * unit, y, text, unit, _LAYER, INK))
    return items, x + long + 0.5 * unit + width_of(text, unit)


def _keys(view: BoardView, xs: tuple[float, float, float], y: float) -> tuple[list[Item], float]:
    """What the lines mean, in as many rows as it takes; where the last row stands.

    Parameters
    ----------
    view : BoardView
    xs : (float, float, float)
        Left end of every row, start of the first, right end [mm].
    y : float
    """
    unit, thin = view.unit, Pen(INK, 0.14 * view.unit)
    left, x, right = xs
    items: list[Item] = []
    for name, wide, words in _key_list(view):
        long = wide + 0.4 * unit + width_of(words, unit)
        if x + long > right and x > left:
            x, y = left, y + _LINE * unit
        half = 0.6 * unit
        if name == "kerf":
            items.append(box_shape((x, y - half, x + 0.35 * unit, y + half), _LAYER, None, LIGHT))
            items.append(Shape(((x, y - half), (x, y + half)), _LAYER, thin, closed=False))
        elif name == "edge":
            vee = ((x, y - half), (x + half, y + half), (x + 2 * half, y - half))
            items.append(Shape(vee, _LAYER, thin, closed=False))
        else:
            pen = side_pen(Visibility(name), unit)
            items.append(Shape(((x, y), (x + wide, y)), _LAYER, pen, closed=False))
        items.append(Words(x + wide + 0.4 * unit, y, words, unit, _LAYER, INK))
        x += long + 1.8 * unit
    return items, y


def _key_list(view: BoardView) -> list[tuple[str, float, str]]:
    """Sign, its width [mm] and its meaning; only of what the picture shows."""
    unit = view.unit
    keys = [
        (Visibility.SHOW.value, 2.2 * unit, "show face"),
        (Visibility.SEEN_IN_USE.value, 2.2 * unit, "seen in use"),
        (Visibility.CONCEALED.value, 2.2 * unit, "concealed"),
    ]
    shown = {piece.seen(view.face).value for piece in view.pieces}
    keys = [key for key in keys if key[0] in shown]
    kerf = view.tape.fine(view.shop.allowances.kerf)
    keys.append(("kerf", 0.4 * unit, f"kerf {kerf} on the waste side of the line"))
    if view.pieces:
        keys.append(("edge", 1.2 * unit, "points at the near edge, by the near end"))
    return keys
