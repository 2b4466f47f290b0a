"""The glue-up drawing of a panel: staves in order, face and ends, the triangle, and how to glue them."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from reportlab.platypus import Flowable, KeepTogether, PageBreak, Spacer

from layout.errors import LayoutError
from layout.glue import GlueKind, GlueUp
from layout.movement import Sawn, seasonal, slot_for
from layout.outline import area_of
from layout.parts import Part
from layout.stock import Board, Face
from layout.timber import Timber, timber_called
from layout.weight import lift_of, part_weight
from ui.drawing.fonts import printable, width_of
from ui.drawing.job_values import SheetJob
from ui.drawing.measures import STEPS, Tape
from ui.drawing.palette import INK, LIGHT, PAPER, WOOD
from ui.drawing.pieces import Piece, chalk_marks
from ui.drawing.printed.ink import MM, SceneFlowable
from ui.drawing.printed.page import HEAD, MARGIN, page_size, plain_table, text
from ui.drawing.scene import Item, Pen, Scene, Shape, Words, box_shape, disc

__all__ = ["StaveRow", "glue_up_scene", "glue_up_story", "stave_rows"]

# Common practice, no source: a heated room over the year, and the screw of a shrinkage fixing.
_DRIEST, _MADE, _DAMPEST, _SCREW = 7.0, 9.0, 12.0, 4.0
_ONE_PERSON = 16.0  # kg


@dataclass(frozen=True)
class StaveRow:
    """One stave or layer: its number, piece, board, and size in the glued part [mm]."""

    number: int
    piece: Piece | None
    board: Board | None
    size: float


def stave_rows(job: SheetJob, item: GlueUp) -> tuple[StaveRow, ...]:
    """The staves of a glue-up in order, each with the piece it is, as far as it is placed."""
    found: dict[tuple[str, int], tuple[Piece, Board]] = {}
    for board in job.used:
        for piece in job.view(board, Face.FRONT).pieces:
            found[piece.placement.part, piece.copy] = (piece, board)
    rows = []
    for number, stave in enumerate(item.staves, start=1):
        known = found.get((stave.part, stave.copy))
        rows.append(StaveRow(number, known[0] if known else None, known[1] if known else None, stave.size))
    return tuple(rows)


def glue_up_story(job: SheetJob) -> list[Flowable]:
    """A sheet for each glue-up."""
    story: list[Flowable] = []
    by_name = {part.name: part for part in job.parts}
    for item in job.layout.glue_ups:
        story += [KeepTogether(_sheet(job, item, by_name[item.part])), PageBreak()]
    return story


def _sheet(job: SheetJob, item: GlueUp, part: Part) -> list[Flowable]:
    rows, tape = stave_rows(job, item), Tape(job.units, STEPS[job.units][0])
    mark = f"{chalk_marks(job.parts)[part.name]}{item.copy}"
    wide, high = page_size(job.paper, True)
    size = " x ".join(tape.words(tape.at_least(each)) for each in (part.length, part.width, part.thickness))
    unit = "in" if job.units == "inch" else "mm"
    story: list[Flowable] = [
        text(f"Glue-up {mark} {part.name}: {size} {unit}, {item.kind.value}", HEAD),
        SceneFlowable(glue_up_scene(rows, item, part, tape), 0.45 * high),
        _table(job, item, rows, tape, (wide - 2 * MARGIN) / MM),
    ]
    lines = [*_how(item, part, tape), *(f"Caution: {words}" for words in item.cautions)]
    lines += _behaviour(part, rows)
    return [*story, Spacer(1, 2 * MM), *(text(words) for words in lines)]


def glue_up_scene(rows: Sequence[StaveRow], item: GlueUp, part: Part, tape: Tape) -> Scene:
    """The part seen on its face side (layers: on its near end), staves from the near edge down.

    A panel has its clamps drawn across it and its near end beside it, with the rings as the hearts lie.
    """
    layers = item.kind is GlueKind.LAYERS
    long, high = part.width if layers else part.length, sum(row.size for row in rows)
    unit = max(long, 2.2 * high) / 70
    items: list[Item] = [] if layers else _clamps(item, long, high, unit)
    y = 0.0
    for row in rows:
        items += _stave(row, y, long, unit, tape)
        y += row.size
    pen = Pen(INK, 0.22 * unit)
    triangle = ((0.34 * long, high), (0.66 * long, high), (0.5 * long, 0.0))
    items.append(Shape(triangle, "triangle", pen))
    ends = ("face", "back") if layers else ("near edge", "far edge")
    for y, name in ((-0.9 * unit, ends[0]), (high + 0.9 * unit, ends[1])):
        items.append(Words(0.0, y, name, unit, "names", INK))
    left = -2.5 * unit
    if not layers:
        for x, name in ((-0.9 * unit, "near end"), (long + 0.9 * unit, "far end")):
            foot = high / 2 + 2.4 * unit
            items.append(Words(x, foot, name, unit, "names", INK, upwards=True))
        thick = max(part.thickness, 2.2 * unit)
        left = -3.5 * unit - thick
        items += _near_end(rows, left, thick, unit)
        left -= 2.0 * unit
    total = tape.words(tape.at_least(high), unit=True)
    sizes = max(width_of(tape.fine(row.size), unit) for row in rows)
    outer = long + 4.6 * unit + sizes
    items += _dimension(outer, 0.0, high, total, unit)
    right = outer + 1.2 * unit + width_of(total, unit)
    return Scene((left, -3.2 * unit, right, high + 3.2 * unit), items)


def _clamps(item: GlueUp, long: float, high: float, unit: float) -> list[Item]:
    """Clamps no further apart than the stress of each reaches, by turns above (firm) and below (dashed)."""
    apart = 2 * item.staves[0].size
    inset = min(0.5 * apart, 0.12 * long)
    gaps = max(1, ceil((long - 2 * inset) / apart))
    items: list[Item] = []
    for rank in range(gaps + 1):
        x = inset + rank * (long - 2 * inset) / gaps
        dash = () if rank % 2 == 0 else (0.7 * unit, 0.5 * unit)
        for top, foot in ((-1.9 * unit, 0.0), (high, high + 1.9 * unit)):
            items.append(Shape(((x, top), (x, foot)), "clamps", Pen(INK, 0.3 * unit, dash), closed=False))
        where = "above" if rank % 2 == 0 else "below"
        items.append(Words(x, -2.5 * unit, f"clamp {where}", 0.85 * unit, "clamps", LIGHT, "middle"))
    return items


def _near_end(rows: Sequence[StaveRow], left: float, thick: float, unit: float) -> list[Item]:
    """The near end, face side to the right, with the rings of the staves whose heart side is known."""
    items: list[Item] = []
    y = 0.0
    for row in rows:
        box = (left, y, left + thick, y + row.size)
        items.append(box_shape(box, "near end", Pen(INK, 0.12 * unit), WOOD))
        heart = None if row.board is None else row.board.heart
        if heart is not None and row.piece is not None:
            up = heart is row.piece.placement.face_from
            items += [_ring(box, up, share, unit) for share in (0.3, 0.55, 0.8)]
        y += row.size
    foot = y + 0.9 * unit
    items.append(Words(left + thick, foot, "face", 0.85 * unit, "near end", INK, "end"))
    items.append(Words(left + thick / 2, -0.9 * unit, "end", 0.85 * unit, "near end", INK, "middle"))
    return items


def _ring(box: tuple[float, float, float, float], heart_up: bool, share: float, unit: float) -> Shape:
    """A year ring on an end: it bulges away from the heart."""
    x0, y0, x1, y1 = box
    deep, steps = x1 - x0, 12
    points = []
    for step in range(steps + 1):
        t = 2 * step / steps - 1
        bulge = (1 - t * t) * 0.28 * deep
        from_heart = share * deep * 0.9 - 0.2 * deep + bulge
        inside = min(max(from_heart, 0.0), deep)
        x = x1 - inside if heart_up else x0 + inside
        points.append((x, (y0 + y1) / 2 + t * 0.46 * (y1 - y0)))
    return Shape(tuple(points), "rings", Pen(LIGHT, 0.08 * unit), closed=False)


def _stave(row: StaveRow, y: float, long: float, unit: float, tape: Tape) -> list[Item]:
    box, middle = (0.0, y, long, y + row.size), y + row.size / 2
    mark = row.piece.mark if row.piece else "not placed"
    source = f"board {printable(row.board.id)}" if row.board else ""
    ring = min(1.2 * unit, 0.45 * row.size)
    items: list[Item] = [
        box_shape(box, "staves", Pen(INK, 0.14 * unit), WOOD),
        disc(2.2 * unit, middle, ring, "staves", Pen(INK, 0.12 * unit), PAPER),
        Words(2.2 * unit, middle, str(row.number), 1.1 * ring, "staves", INK, "middle", bold=True),
        Words(4.6 * unit, middle, mark, min(2.2 * unit, 0.7 * row.size), "staves", INK, bold=True),
        Words(long - 1.5 * unit, middle, source, min(1.2 * unit, 0.6 * row.size), "staves", INK, "end"),
    ]
    return items + _dimension(long + 3.2 * unit, y, y + row.size, tape.fine(row.size), unit)


def _dimension(x: float, top: float, foot: float, words: str, unit: float) -> list[Item]:
    thin, half = Pen(LIGHT, 0.07 * unit), 0.3 * unit
    items: list[Item] = [Shape(((x, top), (x, foot)), "dimensions", thin, closed=False)]
    for y in (top, foot):
        tick = ((x - half, y + half), (x + half, y - half))
        items.append(Shape(tick, "dimensions", Pen(INK, 0.1 * unit), closed=False))
    return [*items, Words(x + 0.6 * unit, (top + foot) / 2, words, unit, "dimensions", INK)]


def _table(job: SheetJob, item: GlueUp, rows: Sequence[StaveRow], tape: Tape, wide: float) -> Flowable:
    what = "layer" if item.kind is GlueKind.LAYERS else "stave"
    size = "thick" if item.kind is GlueKind.LAYERS else "wide in the panel"
    head = [what, "mark", "board", "sawn", size, "face side is the board's", "end for end", "heart side"]
    cells = []
    for row in rows:
        if row.piece is None or row.board is None:
            cells.append([str(row.number), "not placed", "", "", tape.fine(row.size), "", "", ""])
            continue
        place = row.piece.placement
        sawn = " x ".join(tape.words(v) for v in job.view(row.board, Face.FRONT).sawn_size(row.piece))
        heart = "" if row.board.heart is None else ("up" if row.board.heart is place.face_from else "down")
        turned = "yes" if place.end_for_end else "no"
        first = [str(row.number), row.piece.mark, row.board.id, sawn, tape.fine(row.size)]
        cells.append([*first, place.face_from.value, turned, heart])
    widths = [16, 26, 22, 36, 40, 52, 30, 28]
    return plain_table(head, cells, [each * wide / sum(widths) for each in widths], bold=(0, 1))


def _how(item: GlueUp, part: Part, tape: Tape) -> list[str]:
    lines = [
        "Lay the pieces in this order, face side up, near ends together; draw the triangle across them.",
    ]
    if item.kind is GlueKind.LAYERS:
        return [
            *lines,
            "Glue faces freshly planed; spread both, clamp from the middle outwards on flat cauls.",
        ]
    first = item.staves[0].size
    apart = tape.words(tape.at_most(2 * first), unit=True)
    lines.append(
        f"Joint the edges fresh; glue within a day. Clamps no more than {apart} apart "
        "(twice the first stave; more with cauls), above and below by turns; "
        "wood of all staves within 2 % of moisture."
    )
    if item.loss:
        lost = tape.words(tape.at_least(item.loss), unit=True)
        lines.append(f"The staves are sawn {lost} wider in all than the part: joints and trimming.")
    long, wide = (tape.words(tape.at_least(each)) for each in (part.length, part.width))
    return [*lines, f"Then trim to {long} x {wide}."]


def _behaviour(part: Part, rows: Sequence[StaveRow]) -> list[str]:
    """Weight, movement over the year, and the slot a fixing needs; nothing for a wood without figures."""
    timber = _timber(rows)
    if timber is None:
        return []
    weight = part_weight(area_of(part.shape), part.thickness, timber)
    season = seasonal(part.width, timber, Sawn.FLAT, _MADE, _DRIEST, _DAMPEST)
    slot = slot_for(season, part.width / 2, _SCREW)
    if part.layers > 1:
        return [f"About {weight:.1f} kg."]
    lines = [
        f"About {weight:.1f} kg. Across its width it shrinks {season.shrinks:.1f} mm at {_DRIEST:g} % "
        f"and swells {season.swells:.1f} mm at {_DAMPEST:g} % of moisture (flat-sawn {timber.name}, "
        f"made at {_MADE:g} %): held in the middle, a {_SCREW:g} mm screw at the edge needs a slot "
        f"{slot.length:.1f} x {slot.width:.1f} mm."
    ]
    if weight > _ONE_PERSON:
        lines.append("Caution: " + lift_of(weight).advice)
    return lines


def _timber(rows: Sequence[StaveRow]) -> Timber | None:
    for row in rows:
        if row.board is not None:
            try:
                return timber_called(row.board.species)
            except LayoutError:
                return None
    return None
