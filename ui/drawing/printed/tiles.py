"""True-size tiles of a shaped part: printed at 100 %, trimmed, joined at the crosses, and drawn round."""

from math import ceil
from typing import Any

from layout.outline import Outline
from layout.parts import Part
from ui.drawing.fonts import printable
from ui.drawing.job_values import SheetJob
from ui.drawing.measures import STEPS, Tape
from ui.drawing.palette import INK, LIGHT
from ui.drawing.pieces import chalk_marks
from ui.drawing.printed.ink import BOLD, MM, PLAIN
from ui.drawing.printed.page import MARGIN, check_rule, new_canvas, page_size

__all__ = ["OVERLAP", "tile_grid", "tiles_pdf"]

OVERLAP = 10.0  # mm shared by neighbouring tiles
_HEAD, _FOOT = 9.0, 9.0  # mm


def tile_grid(job: SheetJob, part: Part) -> tuple[int, int, float, float]:
    """Columns and rows of tiles, and how much of the part one tile shows along and across [mm]."""
    wide, high = (each / MM for each in page_size(job.paper, True))
    wide, high = wide - 2 * MARGIN / MM, high - 2 * MARGIN / MM - _HEAD - _FOOT
    columns = max(1, ceil((part.length - OVERLAP) / (wide - OVERLAP)))
    rows = max(1, ceil((part.width - OVERLAP) / (high - OVERLAP)))
    return columns, rows, wide, high


def tiles_pdf(job: SheetJob, part: Part) -> bytes:
    """Every tile of one part; the part's near end and near edge lie at the upper left of the first."""
    canvas, out = new_canvas(job.paper, True, f"{job.title}: {part.name}, true size")
    columns, rows, wide, high = tile_grid(job, part)
    for row in range(rows):
        for column in range(columns):
            origin = (column * (wide - OVERLAP), row * (high - OVERLAP))
            _tile(canvas, job, part, origin, (row, column, rows, columns), (wide, high))
            canvas.showPage()
    canvas.save()
    return out.getvalue()


def _tile(
    canvas: Any,
    job: SheetJob,
    part: Part,
    origin: tuple[float, float],
    place: tuple[int, int, int, int],
    window: tuple[float, float],
) -> None:
    page_high = page_size(job.paper, True)[1]
    left, top = MARGIN, page_high - MARGIN - _HEAD * MM
    row, column, rows, columns = place
    canvas.setFont(BOLD, 11)
    canvas.setFillColor(INK)
    mark = chalk_marks(job.parts)[part.name]
    tape = Tape(job.units, STEPS[job.units][0])
    size = " x ".join(tape.words(tape.at_least(v)) for v in (part.length, part.width, part.thickness))
    unit = "in" if job.units == "inch" else "mm"
    number = f"tile {row * columns + column + 1} of {rows * columns}"
    words = f"{mark} {printable(part.name)}, {size} {unit}: true size, {number}"
    canvas.drawString(left, page_high - MARGIN - 11, words)
    canvas.setFont(PLAIN, 7)
    where = f"row {row + 1}, column {column + 1}; neighbours overlap {OVERLAP:g} mm, crosses on crosses"
    if rows * columns == 1:
        where = "one tile"
    where = f"face side up, grain left to right, near end at the left; {where}"
    canvas.drawRightString(canvas._pagesize[0] - MARGIN, page_high - MARGIN - 11, where)
    check_rule(canvas, MARGIN, 5.5 * MM)
    canvas.saveState()
    path = canvas.beginPath()
    more = 0.5 * MM  # lines along the border are drawn whole
    path.rect(left - more, top - window[1] * MM - more, window[0] * MM + 2 * more, window[1] * MM + 2 * more)
    canvas.clipPath(path, stroke=0)
    _outline(canvas, part.shape, origin, left, top)
    for zone in part.zones:
        _outline(canvas, zone.outline, origin, left, top, [3, 2])
    canvas.restoreState()
    _crosses(canvas, place, window, left, top)


def _outline(
    canvas: Any,
    outline: Outline,
    origin: tuple[float, float],
    left: float,
    top: float,
    dash: list[float] | None = None,
) -> None:
    path = canvas.beginPath()
    for rank, (x, y) in enumerate(outline):
        step = path.lineTo if rank else path.moveTo
        step(left + (x - origin[0]) * MM, top - (y - origin[1]) * MM)
    path.close()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.7)
    canvas.setDash(dash or [])
    canvas.drawPath(path, stroke=1, fill=0)


def _crosses(
    canvas: Any, place: tuple[int, int, int, int], window: tuple[float, float], left: float, top: float
) -> None:
    """A cross in the middle of each overlap, at the same point of the part on both tiles."""
    row, column, rows, columns = place
    half = OVERLAP / 2
    xs = ([half] if column else []) + ([window[0] - half] if column < columns - 1 else [])
    ys = ([half] if row else []) + ([window[1] - half] if row < rows - 1 else [])
    points = [(x, y) for x in xs for y in (0.25 * window[1], 0.75 * window[1])]
    points += [(x, y) for y in ys for x in (0.25 * window[0], 0.75 * window[0])]
    canvas.setStrokeColor(LIGHT)
    canvas.setLineWidth(0.35)
    canvas.setDash([])
    for x, y in points:
        at_x, at_y = left + x * MM, top - y * MM
        canvas.line(at_x - 3 * MM, at_y, at_x + 3 * MM, at_y)
        canvas.line(at_x, at_y - 3 * MM, at_x, at_y + 3 * MM)
