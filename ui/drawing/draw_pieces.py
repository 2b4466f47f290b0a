"""Parts on the board: outline, which side is towards you, and a label that can be read."""

from collections.abc import Iterator
from math import radians, tan

import shapely
from shapely.geometry import LineString, Polygon

from layout.outline import Point
from layout.parts import PartSide, Visibility
from layout.stock import Face
from ui.drawing.board_view import BoardView
from ui.drawing.fonts import HALF_HEIGHT, printable, width_of
from ui.drawing.outside import outside
from ui.drawing.palette import INK, PAPER, PLATE, SIDE_COLOURS, side_pen
from ui.drawing.pieces import Piece, point_on_board
from ui.drawing.room import Room
from ui.drawing.scene import LEADERS, Box, Item, Pen, Shape, Words, box_shape
from ui.drawing.wood import rings_of

__all__ = ["draw_pieces", "edge_mark", "label_pieces", "lies_words", "side_words"]

_SLENDER = 9.0  # text heights; a piece that stands upright and is narrower has no room for lines of words
_STACKED = 14.0  # text heights; narrower ones have their words below their mark
_LINE = 1.28  # line spacing, as a share of the text size
_CONCEALED_TINT = 0.1  # a show face is left as clear as its wood


def side_words(piece: Piece, face: Face) -> str:
    """What the side towards you will be, for example "show face" or "back, concealed"."""
    side, seen = piece.side_towards(face), piece.seen(face)
    return f"{seen.value} face" if side is PartSide.FACE else f"back, {seen.value}"


def lies_words(piece: Piece) -> str:
    """How a part lies on its board."""
    which = "face side on the board's " + piece.placement.face_from.value
    return which + (", end for end" if piece.placement.end_for_end else "")


def draw_pieces(view: BoardView) -> list[Item]:
    """Every sawn piece: firm where a show face is towards you, hatched where a hidden one is."""
    items: list[Item] = []
    for piece in view.pieces:
        seen = piece.seen(view.face)
        sawn = view.seen_outline(piece.sawn)
        if seen is Visibility.CONCEALED:
            items.append(Shape(sawn, "parts concealed", None, SIDE_COLOURS[seen], _CONCEALED_TINT))
            items += _hatch(view, piece)
        pen = side_pen(seen, view.unit)
        inside = Polygon(sawn).buffer(-0.6 * pen.width, join_style="mitre")  # clear of the saw line
        items += [Shape(ring, f"parts {seen.value}", pen) for ring in rings_of(inside)]
        if piece.part.outline is not None:
            finished = view.seen_outline(piece.finished)
            items.append(Shape(finished, "finished shape", Pen(INK, 0.1 * view.unit)))
        items.append(_edge_mark(view, piece))
    return items


def _hatch(view: BoardView, piece: Piece) -> list[Item]:
    shape = Polygon(view.seen_outline(piece.sawn))
    x0, y0, x1, y1 = shape.bounds
    high, gap = y1 - y0, 1.6 * view.unit
    lines = []
    start = x0 - high
    while start < x1:
        start += gap
        lines.append(LineString([(start, y1), (start + high, y0)]))
    pen = Pen(SIDE_COLOURS[Visibility.CONCEALED], 0.06 * view.unit)
    clipped = shapely.intersection(shapely.MultiLineString(lines), shape)
    parts = clipped.geoms if hasattr(clipped, "geoms") else [clipped]
    return [
        Shape(tuple((float(x), float(y)) for x, y in line.coords), "parts concealed", pen, closed=False)
        for line in parts
        if isinstance(line, LineString) and line.length > 0
    ]


def edge_mark(view: BoardView, piece: Piece) -> tuple[Point, ...]:
    """The joiner's V as seen: its point on the near edge, an eighth of the length from the near end."""
    part, size = piece.part, min(0.9 * view.unit, 0.3 * piece.part.width, 0.1 * piece.part.length)
    middle = part.length / 8
    corners = ((middle - 0.5 * size, size), (middle, 0.0), (middle + 0.5 * size, size))
    return view.seen_outline(
        point_on_board(each, piece.placement, part, view.shop.allowances) for each in corners
    )


def _edge_mark(view: BoardView, piece: Piece) -> Shape:
    pen = Pen(SIDE_COLOURS[piece.seen(view.face)], 0.13 * view.unit)
    return Shape(edge_mark(view, piece), "face edge marks", pen, closed=False)


def label_pieces(view: BoardView, room: Room, *, small: bool) -> list[Item]:
    """A label for each piece, inside it if it can be read there, else beside the board with a leader.

    Parameters
    ----------
    view : BoardView
    room : Room
    small : bool
        Whether to label the small pieces, which have room for little else and so
        go before anything else, or all the others.
    """
    items: list[Item] = []
    for piece in sorted(view.pieces, key=lambda each: -Polygon(each.sawn).area):
        if _is_small(view, piece) is small:
            items += _label(view, piece, room)
    return items


def _is_small(view: BoardView, piece: Piece) -> bool:
    x0, y0, x1, y1 = view.seen_box(piece.box)
    return x1 - x0 < (12 if y1 - y0 < 3.2 * view.unit else 8) * view.unit


def _label(view: BoardView, piece: Piece, room: Room) -> list[Item]:
    box = view.seen_box(_inner_box(piece, view.unit))
    slender = view.upright and box[2] - box[0] < _SLENDER * view.unit
    stacked = view.upright and box[2] - box[0] < _STACKED * view.unit
    chosen: tuple[Box, list[Words]] | None = None
    for must_clear in (True, False):
        bare = slender or _is_small(view, piece)
        for mark_size, lines in _bare(view, box) if bare else _choices(view, piece, box):
            wide, high = _label_size(piece, mark_size, lines, view.unit, stacked)
            for x0, y0 in _places(box, wide, high):
                ground = (x0, y0, x0 + wide, y0 + high)
                if room.free(ground) and (not must_clear or room.covers(ground) <= 0.0):
                    chosen = ground, _words(piece, mark_size, lines, ground, view, stacked)
                    break
            if chosen:
                break
        if chosen:
            break
    if chosen is None:
        marked = _upwards(view, piece, box, room, f"{piece.mark} ") if slender else []
        return marked or _outside(view, piece, room)
    room.take(chosen[0])
    plate = box_shape(chosen[0], "labels", None, PLATE, opacity=0.86)
    return [plate, *chosen[1], *(_upwards(view, piece, box, room) if slender else [])]


def _upwards(view: BoardView, piece: Piece, box: Box, room: Room, mark: str = "") -> list[Item]:
    """Name and size of a slender piece, written along it, where there is room for them."""
    unit, size = view.unit, 0.85 * view.unit
    long, wide = view.sawn_size(piece)
    sizes = f"{view.tape.words(long)} x {view.tape.words(wide)}"
    words = [f"{printable(piece.part.name)} {sizes}", sizes] + ([""] if mark else [])
    for text in (f"{mark}{each}".strip() for each in words):
        high, across = width_of(text, size, bool(mark)) + 0.5 * unit, 1.2 * size
        places = [(x, y, x + across, y + high) for x, y in _places(box, across, high)]
        clear = [each for each in places if room.free(each) and room.covers(each) <= 0.0]
        if clear:
            ground = room.take(clear[0])
            x, y = (ground[0] + ground[2]) / 2, ground[3] - 0.25 * unit
            plate = box_shape(ground, "labels", None, PLATE, opacity=0.86)
            return [plate, Words(x, y, text, size, "labels", INK, bold=bool(mark), upwards=True)]
    return []


def _inner_box(piece: Piece, unit: float) -> Box:
    """An upright box well inside the sawn piece."""
    shape = Polygon(piece.sawn)
    x0, y0, x1, y1 = shape.bounds
    inset = 0.12 * unit
    if piece.placement.tilt:
        inset += (x1 - x0) * abs(tan(radians(piece.placement.tilt))) / 2
    inset = min(inset, 0.4 * (y1 - y0))
    return x0 + 0.12 * unit, y0 + inset, x1 - 0.12 * unit, y1 - inset


def _choices(view: BoardView, piece: Piece, box: Box) -> Iterator[tuple[float, list[str]]]:
    """Mark size and lines of text, richest first."""
    high, unit = box[3] - box[1], view.unit
    long, wide = view.sawn_size(piece)
    size = f"{view.tape.words(long)} x {view.tape.words(wide, unit=True)}"
    name, side = printable(piece.part.name), side_words(piece, view.face)
    full, two, one = [name, size, side], [name, size], [size]
    for big, lines in (
        *((big, lines) for big in (4.6, 3.2, 2.4) for lines in (full, two)),
        *((big, one) for big in (3.2, 2.4, 1.7)),
        *((1.7, lines) for lines in (full, two, one, [name])),
        *((1.2, lines) for lines in (full, two, one, [name])),
        *((big, [name]) for big in (2.4, 1.7)),
        *((big, []) for big in (3.2, 2.4, 1.7, 1.2)),
    ):
        # a shaped part's outline must be seen beside its label
        mark = min(big * unit, (0.8 if piece.part.outline is None else 0.4) * high)
        if mark >= 1.0 * unit and len(lines) * _LINE * 0.95 * unit <= max(high, mark):
            yield mark, lines
    for small in (1.0, 0.8):
        yield small * unit, []


def _bare(view: BoardView, box: Box) -> Iterator[tuple[float, list[str]]]:
    """The mark alone, as large as a small piece bears beside the number of a cut."""
    high, unit = box[3] - box[1], view.unit
    sizes = (2.4 * unit, 1.7 * unit, 1.3 * unit, 1.0 * unit) if view.upright else (0.8 * high, 0.6 * high)
    for size in sizes:
        yield min(2.4 * unit, size), []


def _label_size(
    piece: Piece, mark: float, lines: list[str], unit: float, stacked: bool
) -> tuple[float, float]:
    text = max((width_of(line, 0.95 * unit) for line in lines), default=-0.4 * unit)
    if stacked:
        wide = max(width_of(piece.mark, mark, True), text) + 0.5 * unit
        return wide, 2 * HALF_HEIGHT * mark + len(lines) * _LINE * 0.95 * unit
    wide = width_of(piece.mark, mark, True) + 0.4 * unit + text + 0.5 * unit
    return wide, max(2 * HALF_HEIGHT * mark, len(lines) * _LINE * 0.95 * unit)


def _places(box: Box, wide: float, high: float) -> Iterator[tuple[float, float]]:
    free_x, free_y = box[2] - box[0] - wide, box[3] - box[1] - high
    if free_x < 0 or free_y < 0:
        return
    for along in (0.5, 0.3, 0.7, 0.1, 0.9, 0.0, 1.0, 0.2, 0.4, 0.6, 0.8):
        for across in (0.5, 0.15, 0.85):
            yield box[0] + along * free_x, box[1] + across * free_y


def _words(
    piece: Piece, mark: float, lines: list[str], ground: Box, view: BoardView, stacked: bool
) -> list[Words]:
    unit, middle = view.unit, (ground[1] + ground[3]) / 2
    colour, line = SIDE_COLOURS[piece.seen(view.face)], _LINE * 0.95 * view.unit
    if stacked:
        x, y = (ground[0] + ground[2]) / 2, ground[1] + HALF_HEIGHT * mark
        big = Words(x, y, piece.mark, mark, "labels", colour, "middle", bold=True)
        first = y + HALF_HEIGHT * mark + line / 2
        return [
            big,
            *(
                Words(x, first + rank * line, words, 0.95 * unit, "labels", INK, "middle")
                for rank, words in enumerate(lines)
            ),
        ]
    x = ground[0] + 0.25 * unit
    found = [Words(x, middle, piece.mark, mark, "labels", colour, bold=True)]
    x += width_of(piece.mark, mark, True) + 0.4 * unit
    first = middle - (len(lines) - 1) * line / 2
    found += [
        Words(x, first + rank * line, words, 0.95 * unit, "labels", INK) for rank, words in enumerate(lines)
    ]
    return found


def _outside(view: BoardView, piece: Piece, room: Room) -> list[Item]:
    unit = view.unit
    x0, y0, x1, y1 = view.seen_box(piece.box)
    x, text = (x0 + x1) / 2, f"{piece.mark} {printable(piece.part.name)}"
    wide, high = width_of(text, unit, True) + 0.6 * unit, _LINE * unit
    ground, end = outside(view, room, (x, (y0 + y1) / 2), wide, high)
    middle = (ground[1] + ground[3]) / 2
    return [
        Shape(((x, (y0 + y1) / 2), end), LEADERS, Pen(INK, 0.07 * unit), closed=False),
        box_shape(ground, "labels", None, PAPER),
        Words(
            (ground[0] + ground[2]) / 2,
            middle,
            text,
            unit,
            "labels",
            SIDE_COLOURS[piece.seen(view.face)],
            "middle",
            bold=True,
        ),
    ]
