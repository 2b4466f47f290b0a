import re

import pytest

from ui.drawing.marker_sheet import marker_sheet_pdf
from vision.reference import MARKER_SHEET, MarkerSheet

POINT_MM = 25.4 / 72
RECTANGLE = re.compile(rb"([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+) re f")


def rectangles(pdf: bytes) -> list[tuple[float, ...]]:
    """Filled rectangles (x, y, width, height) from the page's lower left [mm]."""
    found = RECTANGLE.findall(pdf)
    return [tuple(float(value) * POINT_MM for value in one) for one in found]


def test_every_square_is_drawn_at_true_size() -> None:
    drawn = rectangles(marker_sheet_pdf())
    assert len(drawn) == len(MARKER_SHEET.black_mm())
    squares = [one for one in drawn if one[2] == pytest.approx(30.0, abs=0.01)]
    assert len(squares) == 27
    left, right = min(s[0] for s in squares), max(s[0] + s[2] for s in squares)
    low, high = min(s[1] for s in squares), max(s[1] + s[3] for s in squares)
    assert (right - left, high - low) == pytest.approx((270.0, 180.0), abs=0.02)


def test_the_line_to_measure_is_as_long_as_it_says() -> None:
    pdf = marker_sheet_pdf()
    x0, y0, x1, y1 = (float(v) for v in re.findall(rb"([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l S", pdf)[0])
    assert (x1 - x0) * POINT_MM == pytest.approx(MARKER_SHEET.line_mm, abs=0.02)
    assert y0 == y1
    assert b"250 mm" in pdf


def test_the_same_sheet_is_the_same_file() -> None:
    assert marker_sheet_pdf() == marker_sheet_pdf()


def test_a_design_too_large_for_the_page_is_refused() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        marker_sheet_pdf(MarkerSheet(columns=12))
