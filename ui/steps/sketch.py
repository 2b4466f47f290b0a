"""A small picture of a plan in the making: boards as bars, parts as boxes."""

from collections.abc import Sequence
from html import escape

from layout.allowances import sawn_length, sawn_width
from ui.drawing.pieces import chalk_marks
from ui.jobfile import Job

__all__ = ["plan_sketch"]

_ROW, _GAP = 46.0, 10.0
_STYLE = (
    ".b{fill:#d8c9ae;stroke:#3c4148}"
    ".p{fill:#a9d6cc;stroke:#14403c}"
    "text{font:11px sans-serif;text-anchor:middle}"
)


def plan_sketch(job: Job, sketch: Sequence[Sequence[object]]) -> str:
    """An SVG of where the pieces lie so far; parts glued up from staves are left out.

    Parameters
    ----------
    job : Job
    sketch : sequence of (board, part, x, y)
        As `layout.solve.plan.Progress` tells it [mm].
    """
    used = [record for record in job.boards if record.id in {str(row[0]) for row in sketch}]
    if not used:
        return ""
    parts, marks = {part.name: part for part in job.parts}, chalk_marks(job.parts)
    longest = max(record.length for record in used)
    scale = 900.0 / longest
    items = []
    for row, record in enumerate(used):
        top, high = row * (_ROW + _GAP), _ROW / max(record.width, 1.0)
        items.append(
            f'<rect x="0" y="{top:.1f}" width="{record.length * scale:.1f}" height="{_ROW}" class="b"/>'
        )
        for board, name, x, y in sketch:
            part = parts.get(str(name))
            if board != record.id or part is None:
                continue
            wide = sawn_length(part, job.settings.allowances) * scale
            tall = sawn_width(part, job.settings.allowances) * high
            left, upper = float(str(x)) * scale, top + float(str(y)) * high
            items.append(
                f'<rect x="{left:.1f}" y="{upper:.1f}" width="{wide:.1f}" height="{tall:.1f}" class="p"/>'
            )
            if wide > 16 and tall > 11:
                middle = f'x="{left + wide / 2:.1f}" y="{upper + tall / 2 + 4:.1f}"'
                items.append(f"<text {middle}>{escape(marks[part.name])}</text>")
        beside = f'x="{record.length * scale + 14:.1f}" y="{top + _ROW / 2 + 4:.1f}"'
        items.append(f"<text {beside}>{escape(record.id)}</text>")
    height = len(used) * (_ROW + _GAP)
    return (
        f'<svg viewBox="-1 -1 940 {height:.0f}" role="img" aria-label="the best plan so far" '
        f'style="width:100%;max-height:46vh"><style>{_STYLE}</style>{"".join(items)}</svg>'
    )
