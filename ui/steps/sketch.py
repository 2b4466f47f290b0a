"""A small picture of a plan in the making: boards as bars, parts as boxes."""

from collections.abc import Iterator, Sequence
from html import escape

from layout.allowances import sawn_length, sawn_width
from ui.drawing.pieces import chalk_marks
from ui.jobfile import BoardRecord, Job

__all__ = ["plan_sketch"]

_ROW, _GAP = 46.0, 10.0
_LONG = 900.0
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
    scale = _LONG / max(record.length for record in used)
    items = [item for row, record in enumerate(used) for item in _bar(job, record, sketch, row, scale)]
    height = len(used) * (_ROW + _GAP)
    return (
        f'<svg viewBox="-1 -1 940 {height:.0f}" role="img" aria-label="the best plan so far" '
        f'style="width:100%;max-height:46vh"><style>{_STYLE}</style>{"".join(items)}</svg>'
    )


def _bar(
    job: Job, record: BoardRecord, sketch: Sequence[Sequence[object]], row: int, scale: float
) -> Iterator[str]:
    """One board and the pieces on it."""
    parts, marks = {part.name: part for part in job.parts}, chalk_marks(job.parts)
    top, high = row * (_ROW + _GAP), _ROW / max(record.board().width, 1.0)
    yield _box(0, top, record.length * scale, _ROW, "b")
    for board, name, x, y in sketch:
        part = parts.get(str(name))
        if board != record.id or part is None:
            continue
        wide = sawn_length(part, job.settings.allowances) * scale
        tall = sawn_width(part, job.settings.allowances) * high
        left, upper = float(str(x)) * scale, top + float(str(y)) * high
        yield _box(left, upper, wide, tall, "p")
        if wide > 16 and tall > 11:
            yield _word(left + wide / 2, upper + tall / 2 + 4, marks[part.name])
    yield _word(record.length * scale + 14, top + _ROW / 2 + 4, record.id)


def _box(x: float, y: float, width: float, height: float, look: str) -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" class="{look}"/>'


def _word(x: float, y: float, text: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}">{escape(text)}</text>'
