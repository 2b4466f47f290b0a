"""The page every sheet is printed on: margins, head, foot, the 100 mm to check the printer with."""

from collections.abc import Callable, Sequence
from functools import lru_cache
from io import BytesIO
from re import sub
from typing import Any

from reportlab.lib import pagesizes
from reportlab.lib.colors import HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)

from ui.drawing.fonts import printable, width_of
from ui.drawing.job_values import Paper
from ui.drawing.palette import INK, LIGHT
from ui.drawing.printed.ink import BOLD, MM, PLAIN, register_fonts

__all__ = [
    "BODY",
    "HEAD",
    "MARGIN",
    "TITLE",
    "FirstThatFits",
    "SideBySide",
    "beside",
    "check_rule",
    "document",
    "new_canvas",
    "page_size",
    "plain_table",
    "text",
]

MARGIN = 10 * MM
_FOOT = 9 * MM
_SIZE, _TIGHT = 8.2, 7.4
BODY = ParagraphStyle("body", fontName=PLAIN, fontSize=_SIZE, leading=1.3 * _SIZE, textColor=HexColor(INK))
HEAD = ParagraphStyle(
    "head", parent=BODY, fontName=BOLD, fontSize=10.5, leading=14, spaceBefore=5, spaceAfter=2
)
TITLE = ParagraphStyle("title", parent=BODY, fontName=BOLD, fontSize=17, leading=22, spaceAfter=3)

_SIZES: dict[Paper, tuple[float, float]] = {"A4": pagesizes.A4, "Letter": pagesizes.LETTER}


def page_size(paper: Paper, landscape: bool) -> tuple[float, float]:
    """Width and height of the paper [points]."""
    wide, high = _SIZES[paper]
    return (high, wide) if landscape else (wide, high)


def text(words: str, style: ParagraphStyle = BODY) -> Paragraph:
    """A paragraph of plain words: nothing in them is taken for markup."""
    register_fonts()
    whole = sub(r"(\d) (\d+/\d)", "\\1\u00a0\\2", printable(words))  # 2 5/8 is never broken into 2 and 5/8
    safe = whole.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return Paragraph(safe, style)


def plain_table(
    head: Sequence[str],
    rows: Sequence[Sequence[str]],
    widths_mm: Sequence[float],
    bold: Sequence[int] = (0,),
    *,
    tight: bool = False,
) -> Table:
    """A table with thin rules; the head is repeated on each page; columns in `bold` are set in bold.

    A cell that fits its column is set as one line, a longer one is broken into
    lines; `tight` sets smaller type in lower rows.
    """
    register_fonts()
    size, above, below = (_TIGHT, 0.7, 1.3) if tight else (_SIZE, 1.4, 2.2)
    cells = [[_cell(each, wide, True, size) for each, wide in zip(head, widths_mm, strict=True)]]
    for row in rows:
        pairs = enumerate(zip(row, widths_mm, strict=True))
        cells.append([_cell(each, wide, rank in bold, size) for rank, (each, wide) in pairs])
    style: list[tuple[object, ...]] = [
        ("FONT", (0, 0), (-1, -1), PLAIN, size, 1.18 * size),
        ("TEXTCOLOR", (0, 0), (-1, -1), HexColor(INK)),
        ("FONTNAME", (0, 0), (-1, 0), BOLD),
        *(("FONTNAME", (each, 1), (each, -1), BOLD) for each in bold),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ("LINEBELOW", (0, 0), (-1, 0), 0.8, HexColor(INK)),
        ("LINEBELOW", (0, 1), (-1, -1), 0.25, HexColor(LIGHT)),
        ("TOPPADDING", (0, 0), (-1, -1), above),
        ("BOTTOMPADDING", (0, 0), (-1, -1), below),
        ("LEFTPADDING", (0, 0), (-1, -1), 2),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ]
    table = Table(cells, [each * MM for each in widths_mm], repeatRows=1, hAlign="LEFT")
    table.setStyle(TableStyle(style))
    return table


def _cell(words: str, wide_mm: float, bold: bool, size: float) -> str | Paragraph:
    shown = printable(words)
    if width_of(shown, size, bold) <= wide_mm * MM - 5.2:
        return shown
    return text(words, _cell_style(size, bold))


@lru_cache(maxsize=8)
def _cell_style(size: float, bold: bool) -> ParagraphStyle:
    name = BOLD if bold else PLAIN
    return ParagraphStyle("cell", parent=BODY, fontName=name, fontSize=size, leading=1.18 * size)


class FirstThatFits(Flowable):  # type: ignore[misc]
    """The first of several ways to set the same thing that fits the page; the last, if none does."""

    def __init__(self, ways: Sequence[Flowable]) -> None:
        super().__init__()
        self.ways, self.taken = ways, ways[0]

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        for way in self.ways:
            size: tuple[float, float] = way.wrap(wide, high)
            self.taken = way
            if size[1] <= high:
                break
        return size

    def split(self, wide: float, high: float) -> list[Flowable]:
        self.wrap(wide, high)
        return list(self.taken.split(wide, high))

    def draw(self) -> None:
        self.taken.drawOn(self.canv, 0, 0)


class SideBySide(Flowable):  # type: ignore[misc]
    """Two columns that run on to the next page, each at its own pace."""

    def __init__(self, left: Flowable, right: Flowable, left_wide: float, gap: float) -> None:
        super().__init__()
        self.left, self.right, self.left_wide, self.gap = left, right, left_wide, gap
        self.highs = (0.0, 0.0)

    def wrap(self, wide: float, high: float) -> tuple[float, float]:
        right_wide = wide - self.left_wide - self.gap
        highs = (self.left.wrap(self.left_wide, high)[1], self.right.wrap(right_wide, high)[1])
        self.highs = highs
        return wide, max(highs)

    def split(self, wide: float, high: float) -> list[Flowable]:
        self.wrap(wide, high)
        halves = []
        for column, own, room in (
            (self.left, self.highs[0], self.left_wide),
            (self.right, self.highs[1], wide - self.left_wide - self.gap),
        ):
            parts = [column] if own <= high else column.split(room, high)
            if not parts:
                return []
            halves.append((parts[0], parts[1] if len(parts) > 1 else Spacer(1, 0)))
        (first_left, rest_left), (first_right, rest_right) = halves
        return [
            SideBySide(first_left, first_right, self.left_wide, self.gap),
            SideBySide(rest_left, rest_right, self.left_wide, self.gap),
        ]

    def draw(self) -> None:
        top = max(self.highs)
        self.left.drawOn(self.canv, 0, top - self.highs[0])
        self.right.drawOn(self.canv, self.left_wide + self.gap, top - self.highs[1])


def beside(picture: Flowable, lines: list[Flowable], wide: float) -> Table:
    """A small picture at the left and words at its right, never parted; the picture is so wide [points]."""
    table = Table([[picture, lines]], [wide, None], hAlign="LEFT")
    pads = [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("TOP", "BOTTOM", "LEFT", "RIGHT")]
    table.setStyle(
        TableStyle([*pads, ("VALIGN", (0, 0), (-1, -1), "TOP"), ("RIGHTPADDING", (0, 0), (0, 0), 8)])
    )
    return table


def check_rule(canvas: Any, left: float, foot: float) -> None:
    """A rule of exactly 100 mm, to lay a tape on before trusting a printed sheet [points]."""
    canvas.saveState()
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.6)
    canvas.setDash([])
    canvas.line(left, foot, left + 100 * MM, foot)
    for step in range(11):
        high = 2.4 * MM if step % 5 == 0 else 1.4 * MM
        canvas.line(left + step * 10 * MM, foot, left + step * 10 * MM, foot + high)
    canvas.setFillColor(INK)
    canvas.setFont(PLAIN, 6.5)
    canvas.drawString(left + 102 * MM, foot, "100 mm on paper: check with a tape; print at 100 %, not fitted")
    canvas.restoreState()


class _Numbered(Canvas):  # type: ignore[misc]
    """A canvas that knows how many sheets there are before it writes their numbers."""

    def __init__(self, *args: Any, **rest: Any) -> None:
        super().__init__(*args, **rest)
        self._pages: list[dict[str, Any]] = []
        self.setViewerPreference("PrintScaling", "None")

    def showPage(self) -> None:  # noqa: N802
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for page in self._pages:
            self.__dict__.update(page)
            self.setFont(PLAIN, 7.5)
            self.setFillColor(LIGHT)
            number = f"sheet {self._pageNumber} of {len(self._pages)}"
            self.drawRightString(self._pagesize[0] - MARGIN, 5.5 * MM, number)
            super().showPage()
        super().save()


def new_canvas(paper: Paper, landscape: bool, title: str) -> tuple[Any, BytesIO]:
    """An empty PDF whose bytes depend on nothing but what is drawn, printed at its true size."""
    register_fonts()
    out = BytesIO()
    canvas = Canvas(out, pagesize=page_size(paper, landscape), invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas, out


def document(
    story: list[Flowable], paper: Paper, title: str, *, landscape: bool = True, foot: str = ""
) -> bytes:
    """A run of flowables as PDF; the same story always gives the same bytes."""
    register_fonts()
    out = BytesIO()
    wide, high = page_size(paper, landscape)
    made = BaseDocTemplate(
        out, pagesize=(wide, high), title=title, author="", subject="", invariant=1, pageCompression=1
    )
    frame = Frame(
        *(MARGIN, MARGIN + _FOOT, wide - 2 * MARGIN, high - 2 * MARGIN - _FOOT),
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    made.addPageTemplates([PageTemplate("sheet", [frame], onPage=_head_and_foot(title, foot))])
    made.build(story, canvasmaker=_Numbered)
    return out.getvalue()


def _head_and_foot(title: str, foot: str) -> Callable[[Any, Any], None]:
    def draw(canvas: Any, _made: Any) -> None:
        wide = canvas._pagesize[0]
        check_rule(canvas, MARGIN, 5.5 * MM)
        canvas.setFillColor(LIGHT)
        canvas.setFont(PLAIN, 7.5)
        canvas.drawRightString(wide - MARGIN, 9.0 * MM, printable(title))
        canvas.setFont(PLAIN, 6.5)
        canvas.drawString(MARGIN, 11.5 * MM, foot)

    return draw
