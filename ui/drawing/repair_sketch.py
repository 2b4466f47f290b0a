"""A small drawing of a repair: from the edge where there is a slope, else from its side."""

from layout.glue import Repair, RepairKind
from layout.outline import Point, bounds_of
from layout.parts import Part, PartSide
from ui.drawing.measures import Tape
from ui.drawing.palette import INK, LIGHT, REPAIR, WOOD
from ui.drawing.scene import Box, Item, Pen, Scene, Shape, Words, box_shape

__all__ = ["repair_sketch"]

_ACROSS = 19.0  # text heights to the wood that is shown
_LEAST_THICK = 2.6  # text heights
_ENDS = 1e-6


def repair_sketch(repair: Repair, part: Part, tape: Tape) -> Scene | None:
    """The repair with its main sizes, or None for a filler, which needs no drawing.

    The part's near end is at the left. Seen from the edge, a thin part is drawn thicker than it is.
    """
    if repair.kind is RepairKind.FILLER:
        return None
    if repair.kind in (RepairKind.SLICE, RepairKind.SPLICE):
        return _from_the_edge(repair, part, tape)
    return _from_its_side(repair, part, tape)


def _from_the_edge(repair: Repair, part: Part, tape: Tape) -> Scene:
    """Slice or splice: the part's thickness, face on top, at the end that is mended."""
    x0, _, x1, _ = bounds_of(repair.outline)
    near = x0 <= _ENDS
    shown = min(part.length, 1.3 * (x1 - x0))
    end = 0.0 if near else part.length
    left, right = (0.0, shown) if near else (part.length - shown, part.length)
    unit = (right - left) / _ACROSS
    thick = max(part.thickness, _LEAST_THICK * unit)
    deep = repair.depth * thick / part.thickness
    fresh: tuple[Point, ...] = ((end, 0.0), (repair.at, 0.0), (end, deep))
    if repair.kind is RepairKind.SPLICE:
        fresh = ((end, 0.0), (repair.at, 0.0), (x1 if near else x0, thick), (end, thick))
    given = repair.side is not PartSide.BACK
    new = tuple((x, y if given else thick - y) for x, y in fresh)
    items = [*_wood((left, 0.0, right, thick), unit, near), _new(new, unit)]
    above, below = -1.1 * unit, thick + 1.1 * unit
    from_end = "" if near else " from near end"
    mark = tape.fine(repair.at) + from_end
    items += _pointer((repair.at, 0.0 if given else thick), above if given else below, mark, unit, near)
    if repair.kind is RepairKind.SPLICE:
        other = x1 if near else x0
        words = tape.fine(other) + from_end
        items += _pointer((other, thick if given else 0.0), below if given else above, words, unit, near)
    span = (0.0, deep) if given else (thick - deep, thick)
    x = left - 0.8 * unit if near else right + 0.8 * unit
    items += _height(x, span, tape.fine(repair.depth), unit, near)
    middle = (left + right) / 2
    slope = f"1 in {round(repair.slope, 1):g}" + (", drawn steeper" if thick > part.thickness else "")
    far = below if given else above
    if repair.kind is RepairKind.SLICE:
        items.append(Words(middle, far, slope, unit, "names", INK, "middle"))
    else:
        items.append(Words(middle, below + 1.4 * unit, slope, unit, "names", INK, "middle"))
    return Scene((left - 6 * unit, -2.4 * unit, right + 6 * unit, thick + 3.4 * unit), items)


def _from_its_side(repair: Repair, part: Part, tape: Tape) -> Scene:
    """Patch or edge strip: the part's whole width, seen on the side that is mended (a strip: on the face)."""
    x0, y0, x1, y1 = bounds_of(repair.outline)
    turned = repair.side is PartSide.BACK  # rolled over its long edge
    more = max(0.6 * (x1 - x0), part.width)
    left, right = max(0.0, x0 - more), min(part.length, x1 + more)
    if repair.kind is RepairKind.EDGE_STRIP:
        left, right = 0.0, min(part.length, 5 * part.width)
    unit, high = (right - left) / _ACROSS, part.width
    new = tuple((min(x, right), high - y if turned else y) for x, y in repair.outline)
    items = [*_wood((left, 0.0, right, high), unit, True), _new(new, unit)]
    names = ("far edge", "near edge") if turned else ("near edge", "far edge")
    for y, name in ((-0.9 * unit, names[0]), (high + 0.9 * unit, names[1])):
        items.append(Words((left + right) / 2, y, name, unit, "names", LIGHT, "middle"))
    span = (high - y1, high - y0) if turned else (y0, y1)
    if repair.kind is RepairKind.EDGE_STRIP:
        items += _height(right + 0.8 * unit, span, tape.fine(y1 - y0), unit, False)
    else:
        items += _height(right + 0.8 * unit, span, _from_to(tape, y0, y1), unit, False)
        words = f"{_from_to(tape, x0, x1)} from near end"
        items.append(Words((x0 + x1) / 2, high + 2.3 * unit, words, unit, "names", INK, "middle"))
    return Scene((left - 3 * unit, -2.0 * unit, right + 10 * unit, high + 3.3 * unit), items)


def _wood(box: Box, unit: float, broken_right: bool) -> list[Item]:
    """The part, left open where it goes on."""
    x0, y0, x1, y1 = box
    ring = (
        ((x1, y0), (x0, y0), (x0, y1), (x1, y1)) if broken_right else ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
    )
    return [box_shape(box, "wood", None, WOOD), Shape(ring, "part", Pen(INK, 0.12 * unit), closed=False)]


def _from_to(tape: Tape, low: float, high: float) -> str:
    return f"{tape.fine(low).rsplit(' ', 1)[0]} to {tape.fine(high)}"


def _new(points: tuple[Point, ...], unit: float) -> Shape:
    return Shape(points, "repairs", Pen(REPAIR, 0.2 * unit), REPAIR, 0.3)


def _pointer(at: Point, y: float, words: str, unit: float, near: bool) -> list[Item]:
    line = Shape((at, (at[0], y)), "dimensions", Pen(INK, 0.08 * unit), closed=False)
    x = at[0] + (0.3 if near else -0.3) * unit
    return [line, Words(x, y, words, unit, "dimensions", INK, "start" if near else "end")]


def _height(x: float, span: tuple[float, float], words: str, unit: float, left: bool) -> list[Item]:
    thin, half = Pen(INK, 0.08 * unit), 0.3 * unit
    items: list[Item] = [Shape(((x, span[0]), (x, span[1])), "dimensions", thin, closed=False)]
    items += [Shape(((x - half, y), (x + half, y)), "dimensions", thin, closed=False) for y in span]
    text = x - 0.5 * unit if left else x + 0.5 * unit
    middle = (span[0] + span[1]) / 2
    return [*items, Words(text, middle, words, unit, "dimensions", INK, "end" if left else "start")]
