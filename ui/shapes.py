"""The outline of a shaped part out of an SVG or DXF drawing, in millimetres."""

import io
import warnings
from collections.abc import Iterable
from typing import Any
from xml.etree import ElementTree

import ezdxf
from ezdxf import path as dxf_path
from ezdxf.lldxf.const import DXFError
from ezdxf.units import conversion_factor
from svgelements import SVG, Path, Shape

from layout.outline import Outline, Point, area_of, bounds_of, normal_outline
from ui.jobfile import JobError

__all__ = ["outline_from_drawing"]

_MOST_BYTES = 4_000_000
_MOST_POINTS = 2000
_MOST_DRAWN = 20_000  # things in a drawing, each use of a thing counted
_LETTERS = 20  # of a path's text count as a thing
_FINE = 0.1  # mm between a curve and the corners it becomes
_MM_PER_INCH = 25.4
_MILLIMETRES = 4  # $INSUNITS of a DXF

_DAMAGE = (  # what the readers were seen to raise on damaged drawings, and its kin
    DXFError,
    OSError,
    SyntaxError,  # of its XML
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    ArithmeticError,
    RuntimeError,  # drawings within drawings without end, too
    AssertionError,
    MemoryError,
)


def outline_from_drawing(data: bytes, where: str) -> Outline:
    """The largest closed outline of a drawing, moved so that its corner is (0, 0) [mm].

    Parameters
    ----------
    data : bytes
        An SVG file (sizes with a unit, or in its user units taken as mm), or a DXF file.
    where : str
        Name of the file, for messages.

    Raises
    ------
    JobError
        Not such a drawing, too big, or no closed outline in it.
    """
    if len(data) > _MOST_BYTES:
        raise JobError(f"{where}: the drawing is too big; save the one outline by itself")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of numbers without end on the way; what comes out is checked below
        rings = _svg_rings(data, where) if b"<svg" in data[:4000].lower() else _dxf_rings(data, where)
    found = []
    for ring in rings:
        try:
            found.append(normal_outline(ring, where))
        except ValueError:
            continue
    if not found:
        raise JobError(f"{where}: no closed outline in this drawing; join its lines into one")
    largest = max(found, key=area_of)
    if len(largest) > _MOST_POINTS:
        raise JobError(
            f"{where}: the outline has {len(largest)} corners; simplify it to {_MOST_POINTS} or fewer"
        )
    x0, y0, _, _ = bounds_of(largest)
    return normal_outline(((round(x - x0, 3), round(y - y0, 3)) for x, y in largest), where)


def _svg_rings(data: bytes, where: str) -> list[list[Point]]:
    if b"<!ENTITY" in data.upper():
        raise JobError(f"{where}: this drawing defines entities of its own; save it as plain SVG")
    try:
        drawn = _drawn(ElementTree.fromstring(data))
    except _DAMAGE as error:
        raise JobError(f"{where}: not an SVG drawing that can be read") from error
    if drawn > _MOST_DRAWN:
        raise JobError(f"{where}: the drawing is too big; save the one outline by itself")
    try:
        drawing = SVG.parse(io.BytesIO(data), ppi=_MM_PER_INCH, reify=True)
        shapes = [Path(item) for item in drawing.elements() if isinstance(item, Shape)]
        rings = [_flat(Path(part)) for shape in shapes for part in shape.as_subpaths()]
    except _DAMAGE as error:
        raise JobError(f"{where}: not an SVG drawing that can be read") from error
    return [ring for ring in rings if ring]


def _drawn(root: ElementTree.Element) -> int:
    """How many things an SVG draws: what is used twice, of things used twice ... soon fills any memory."""
    named = {item.get("id"): item for item in root.iter() if item.get("id")}
    counts: dict[ElementTree.Element, int] = {}

    def count(item: ElementTree.Element, within: frozenset[ElementTree.Element]) -> int:
        if item in within:
            raise ValueError("a thing that is used in itself")
        if item not in counts:
            inside = within | {item}
            written = len(item.get("d", "")) + len(item.get("points", ""))
            total = 1 + written // _LETTERS + sum(count(part, inside) for part in item)
            if item.tag.rsplit("}", 1)[-1] == "use":
                link = next((value for key, value in item.items() if key.rsplit("}", 1)[-1] == "href"), "")
                target = named.get(link.removeprefix("#"))
                total += count(target, inside) if target is not None else 0
            counts[item] = total
        return counts[item]

    return count(root, frozenset())


def _flat(ring: Any) -> list[Point]:
    """Corners of a closed path, its curves cut fine enough; nothing for an open one."""
    points: list[Point] = []
    for segment in ring:
        kind = type(segment).__name__
        if kind == "Move":
            continue
        steps = 1
        if kind not in ("Line", "Close"):
            steps = max(4, min(200, int(segment.length(error=1e-3) / 2 / _FINE**0.5)))
        if not points and segment.start is not None:
            points.append((float(segment.start.x), float(segment.start.y)))
        for step in range(1, steps + 1):
            if segment.end is None:
                continue
            spot = segment.point(step / steps)
            points.append((float(spot.x), float(spot.y)))
    closed = len(points) > 3 and max(abs(a - b) for a, b in zip(points[0], points[-1], strict=True)) < _FINE
    return points if closed else []


def _dxf_rings(data: bytes, where: str) -> list[list[Point]]:
    try:
        drawing = ezdxf.read(io.StringIO(data.decode("utf-8", "replace")))  # type: ignore[attr-defined]
        unit = int(drawing.header.get("$INSUNITS", 0)) or _MILLIMETRES
        scale = float(conversion_factor(unit, _MILLIMETRES))  # type: ignore[arg-type]
        return list(_closed(drawing.modelspace(), scale))
    except _DAMAGE as error:
        raise JobError(f"{where}: neither an SVG nor a DXF drawing that can be read") from error


def _closed(entities: Iterable[Any], scale: float) -> Iterable[list[Point]]:
    for entity in entities:
        try:
            made = dxf_path.make_path(entity)
        except (TypeError, ValueError):
            continue  # words, dimensions, blocks
        if made.is_closed and len(made):
            yield [
                (float(point.x) * scale, -float(point.y) * scale) for point in made.flattening(_FINE / scale)
            ]
