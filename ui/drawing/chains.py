"""Dimension chains round a board: running from the datum, and part to part.

Running readings stand on the datum side, each at the line to saw to; part-to-part
sizes stand on the far side, between the lines. Both use the readings of
`BoardView.tape`, so what is written adds up.
"""

from dataclasses import dataclass

from layout.placement import CutKind
from ui.drawing.board_view import BoardView
from ui.drawing.draw_cuts import cut_badge
from ui.drawing.fonts import width_of
from ui.drawing.palette import CUT, INK, LIGHT, PAPER
from ui.drawing.room import Room, spread
from ui.drawing.scene import Item, Pen, Shape, Words, box_shape, disc

__all__ = ["Span", "Station", "draw_chains", "spans_of", "stations_of"]

_LAYER = "dimensions"


@dataclass(frozen=True)
class Station:
    """A line across a chain: where it truly is, what the tape reads there, and the cut made at it."""

    at: float
    reading: float
    order: int | None = None


@dataclass(frozen=True)
class Span:
    """One size of a part-to-part chain: where it truly begins and ends, and the size to saw [mm]."""

    begin: float
    end: float
    size: float


def stations_of(view: BoardView, kind: CutKind) -> tuple[Station, ...]:
    """The lines of the running chain along the board (crosscuts) or across it (rips).

    The cuts of the first stage; without any cuts (a band-saw layout) both ends of every piece.
    """
    kerf = view.shop.allowances.kerf
    found = {}
    for cut in view.cuts:
        if cut.stage == 1 and cut.kind is kind:
            at = cut.at if cut.kept_before else cut.at + kerf
            found[(at, cut.order)] = Station(at, view.reading(cut), cut.order)
    if not view.cuts:
        low, high = (0, 2) if kind is CutKind.CROSSCUT else (1, 3)
        for piece in view.pieces:
            begin, end = piece.box[low], piece.box[high]
            found[(round(begin, 3), 0)] = Station(begin, view.tape.nearest(begin))
            found[(round(end, 3), 1)] = Station(end, view.tape.nearest(end))
    return tuple(sorted(found.values(), key=lambda each: each.at))


def spans_of(view: BoardView, kind: CutKind) -> tuple[Span, ...]:
    """The sizes between first-stage saw slots, each from the end of one slot to the start of the next."""
    kerf, tape = view.shop.allowances.kerf, view.tape
    slots = sorted(cut.at for cut in view.cuts if cut.stage == 1 and cut.kind is kind)
    whole = view.board.length if kind is CutKind.CROSSCUT else view.board.width
    if not slots:
        return ()
    begins, ends = [0.0, *(at + kerf for at in slots)], [*slots, whole]
    spans = []
    for begin, end in zip(begins, ends, strict=True):
        size = max(tape.nearest(end - begin), _least(view, kind, begin, end))
        if end - begin > tape.step / 2:
            spans.append(Span(begin, end, size))
    return tuple(spans)


def _least(view: BoardView, kind: CutKind, begin: float, end: float) -> float:
    """The largest finished size among the pieces of a lump, which must not be undercut [mm]."""
    low, high = (0, 2) if kind is CutKind.CROSSCUT else (1, 3)
    inside = [each for each in view.pieces if begin - 0.1 <= each.box[low] and each.box[high] <= end + 0.1]
    sizes = [each.part.length if kind is CutKind.CROSSCUT else each.part.width for each in inside]
    return view.tape.at_least(max(sizes, default=0.0))


@dataclass(frozen=True)
class _Rail:
    """Where a chain stands: beside which edge of the board, and away from it which way."""

    view: BoardView
    kind: CutKind
    edge: float
    way: float

    def at(self, value: float) -> float:
        """Where a reading lies along the chain, in the picture."""
        if self.kind is CutKind.CROSSCUT:
            return self.view.seen((value, 0.0))[1 if self.view.upright else 0]
        return self.view.seen((0.0, value))[0 if self.view.upright else 1]


def _rails(view: BoardView, kind: CutKind) -> tuple[_Rail, _Rail]:
    """The rail on the datum side, for running readings, and the one opposite, for sizes."""
    level = view.level(kind)
    datum, whole = view.seen((0.0, 0.0))[1 if level else 0], view.high if level else view.wide
    way = -1.0 if datum < whole / 2 else 1.0
    return _Rail(view, kind, datum, way), _Rail(view, kind, whole - datum, -way)


def draw_chains(view: BoardView, room: Room) -> list[Item]:
    """All four chains, as far as there is anything to say; what they cover is taken from the room."""
    items: list[Item] = []
    for kind in (CutKind.CROSSCUT, CutKind.RIP):
        stations = stations_of(view, kind)
        if not stations:
            continue
        near, far = _rails(view, kind)
        running, sizes = (
            (_running_level, _sizes_level) if view.level(kind) else (_running_upright, _sizes_upright)
        )
        items += running(near, stations, room)
        items += sizes(far, spans_of(view, kind), room)
    return items


def _thin(view: BoardView) -> Pen:
    return Pen(INK, 0.07 * view.unit)


def _running_level(rail: _Rail, stations: tuple[Station, ...], room: Room) -> list[Item]:
    view, edge, way = rail.view, rail.edge, rail.way
    unit = view.unit
    chain = edge + way * 1.0 * unit
    ends = (rail.at(0.0), rail.at(stations[-1].at))
    items: list[Item] = [
        Shape(((ends[0], chain), (ends[1], chain)), _LAYER, _thin(view), closed=False),
        disc(ends[0], chain, 0.22 * unit, _LAYER, _thin(view)),
    ]
    room.take((min(ends), chain - 0.1 * unit, max(ends), chain + 0.1 * unit))
    seen = sorted(((rail.at(each.at), each) for each in stations), key=lambda pair: pair[0])
    places = spread([x for x, _ in seen], 1.6 * unit)
    longest = max(width_of(view.tape.words(each.reading), unit, True) for each in stations)
    for (x, station), place in zip(seen, places, strict=True):
        bend, foot = chain + way * 0.9 * unit, chain + way * 1.2 * unit
        items.append(
            Shape(((x, edge), (x, chain), (place, bend), (place, foot)), _LAYER, _thin(view), closed=False)
        )
        items.append(_tick(x, chain, unit))
        beside = 0.2 * unit  # nothing is written across a leader
        room.take((min(x, place) - beside, min(edge, foot), max(x, place) + beside, max(edge, foot)))
        items += _upright(view, station, place, foot, way, longest, room)
    return items


def _upright(
    view: BoardView, station: Station, x: float, foot: float, way: float, longest: float, room: Room
) -> list[Item]:
    """A reading, and beyond the longest of them the number of its cut."""
    unit, text = view.unit, view.tape.words(station.reading)
    long = width_of(text, unit, True)
    begin = foot + way * 0.2 * unit
    words = Words(x, begin if way < 0 else begin + long, text, unit, _LAYER, INK, bold=True, upwards=True)
    room.take(words.box)
    if station.order is None:
        return [words]
    ring = begin + way * (longest + 1.2 * unit)
    room.take((x - 0.72 * unit, ring - 0.72 * unit, x + 0.72 * unit, ring + 0.72 * unit))
    return [words, *cut_badge(x, ring, station.order, unit)]


def _tick(x: float, y: float, unit: float) -> Shape:
    half = 0.28 * unit
    return Shape(((x - half, y + half), (x + half, y - half)), _LAYER, Pen(CUT, 0.12 * unit), closed=False)


def _sizes_level(rail: _Rail, spans: tuple[Span, ...], room: Room) -> list[Item]:
    view, edge, way = rail.view, rail.edge, rail.way
    unit = view.unit
    chain = edge + way * 1.1 * unit
    items: list[Item] = []
    for span in spans:
        a, b = sorted((rail.at(span.begin), rail.at(span.end)))
        items.append(Shape(((a, chain), (b, chain)), _LAYER, _thin(view), closed=False))
        for x in (a, b):
            items.append(
                Shape(
                    ((x, edge), (x, chain + way * 0.4 * unit)), _LAYER, Pen(LIGHT, 0.05 * unit), closed=False
                )
            )
            items.append(_tick(x, chain, unit))
        text = view.tape.words(span.size)
        long = width_of(text, unit) + 0.3 * unit
        middle = (a + b) / 2
        box = room.take(room.lane(middle, long, 1.2 * unit, chain + way * 0.9 * unit, way * 1.25 * unit))
        y = (box[1] + box[3]) / 2
        if abs(y - chain) > 1.2 * unit:
            items.append(
                Shape(
                    ((middle, chain), (middle, y - way * 0.6 * unit)),
                    _LAYER,
                    Pen(LIGHT, 0.05 * unit),
                    closed=False,
                )
            )
        items += [box_shape(box, _LAYER, None, PAPER), Words(middle, y, text, unit, _LAYER, INK, "middle")]
    return items


def _running_upright(rail: _Rail, stations: tuple[Station, ...], room: Room) -> list[Item]:
    view, end, way = rail.view, rail.edge, rail.way
    unit = view.unit
    chain = end + way * 0.9 * unit
    datum, furthest = rail.at(0.0), rail.at(stations[-1].at)
    seen = sorted(((rail.at(each.at), each) for each in stations), key=lambda pair: pair[0])
    line = sorted((datum, furthest))
    room.take((chain - 0.3 * unit, line[0], chain + 0.3 * unit, line[1]))
    items: list[Item] = [
        Shape(((chain, datum), (chain, furthest)), _LAYER, _thin(view), closed=False),
        disc(chain, datum, 0.22 * unit, _LAYER, _thin(view)),
    ]
    for (y, station), place in zip(seen, spread([y for y, _ in seen], 1.55 * unit), strict=True):
        bend, foot = chain + way * 0.8 * unit, chain + way * 1.0 * unit
        items.append(
            Shape(((end, y), (chain, y), (bend, place), (foot, place)), _LAYER, _thin(view), closed=False)
        )
        items.append(_tick(chain, y, unit))
        ys, beside = sorted((y, place)), 0.15 * unit
        room.take((min(end, foot), ys[0] - beside, max(end, foot), ys[1] + beside))
        text = view.tape.words(station.reading)
        x = foot + way * 0.2 * unit
        words = Words(x, place, text, unit, _LAYER, INK, "end" if way < 0 else "start", bold=True)
        room.take(words.box)
        items.append(words)
        if station.order is not None:
            ring = x + way * (width_of(text, unit, True) + 0.95 * unit)
            room.take((ring - 0.72 * unit, place - 0.72 * unit, ring + 0.72 * unit, place + 0.72 * unit))
            items += cut_badge(ring, place, station.order, unit)
    return items


def _sizes_upright(rail: _Rail, spans: tuple[Span, ...], room: Room) -> list[Item]:
    view, way = rail.view, rail.way
    unit = view.unit
    chain = rail.edge + way * 0.9 * unit
    seen = []
    for span in spans:
        a, b = sorted((rail.at(span.begin), rail.at(span.end)))
        seen.append((a, b, view.tape.words(span.size)))
    seen.sort()
    items: list[Item] = []
    places = spread([(a + b) / 2 for a, b, _ in seen], 1.3 * unit)
    for (a, b, text), place in zip(seen, places, strict=True):
        items.append(Shape(((chain, a), (chain, b)), _LAYER, _thin(view), closed=False))
        items += [_tick(chain, a, unit), _tick(chain, b, unit)]
        x = chain + way * 0.9 * unit
        items.append(
            Shape(
                ((chain, (a + b) / 2), (x - way * 0.15 * unit, place)),
                _LAYER,
                Pen(LIGHT, 0.05 * unit),
                closed=False,
            )
        )
        words = Words(x, place, text, unit, _LAYER, INK, "start" if way > 0 else "end")
        room.take(words.box)
        items.append(words)
    return items
