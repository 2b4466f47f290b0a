"""The marker sheet as a PDF at true size."""

from io import BytesIO

from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from vision.reference import MARKER_SHEET, MarkerSheet

__all__ = ["marker_sheet_pdf"]

_TOP_MM = 8.0


def marker_sheet_pdf(design: MarkerSheet = MARKER_SHEET) -> bytes:
    """A PDF of one A4 page, lying, to be printed at 100 %.

    Raises
    ------
    ValueError
        The design does not fit the page.
    """
    width, height = landscape(A4)
    across, down = design.size_mm
    left = (width / mm - across) / 2
    if left < 5 or _TOP_MM + down + 14 > height / mm:
        raise ValueError(f"marker sheet: {across:g} x {down:g} mm does not fit an A4 page with its line")
    out = BytesIO()
    page = Canvas(out, pagesize=(width, height), pageCompression=0, invariant=True)
    page.setTitle("clearface marker sheet")
    page.setFillGray(0)
    for x, y, w, h in design.black_mm():
        page.rect((left + x) * mm, height - (_TOP_MM + y + h) * mm, w * mm, h * mm, stroke=0, fill=1)
    _line(page, design, width, height - (_TOP_MM + down + 9) * mm)
    page.showPage()
    page.save()
    return out.getvalue()


def _line(page: Canvas, design: MarkerSheet, width: float, y: float) -> None:
    """The line by which the print is checked, its end strokes square to it."""
    half = design.line_mm / 2 * mm
    page.setLineWidth(0.2 * mm)
    page.line(width / 2 - half, y, width / 2 + half, y)
    for end in (-half, half):
        page.line(width / 2 + end, y - 2 * mm, width / 2 + end, y + 2 * mm)
    page.setFont("Helvetica", 8)
    page.drawCentredString(
        width / 2,
        y + 1.2 * mm,
        f"Print at 100 %. This line should be {design.line_mm:g} mm long; tell the program what it measures.",
    )
    page.drawCentredString(
        width / 2,
        y - 3.6 * mm,
        "Glue it to something flat. Lay it on the board, or beside it at the height of its face.",
    )
