"""The one typeface of every picture and sheet, and how wide its words run.

Bitstream Vera, as shipped inside the reportlab package: nothing is taken from
the system, so a sheet looks and measures the same on every machine.
"""

from functools import lru_cache
from importlib.resources import as_file, files
from io import BytesIO
from unicodedata import normalize

from PIL import ImageFont
from reportlab.pdfbase.ttfonts import TTFont

__all__ = ["BASELINE", "HALF_HEIGHT", "font_bytes", "picture_font", "printable", "width_of"]

BASELINE = 0.36  # from the middle of a line of words down to its baseline, as a share of the size
HALF_HEIGHT = 0.62  # from the middle to the foot of a letter that hangs below the line

_FILES = {False: "Vera.ttf", True: "VeraBd.ttf"}
_MEASURED_AT = 100
_IN_PLAIN_LETTERS = {"→": "to", "×": "x", "−": "-", "\u00a0": " ", "\t": " ", "ł": "l"}


@lru_cache(maxsize=2)
def font_bytes(bold: bool) -> bytes:
    """The TrueType file."""
    return (files("reportlab") / "fonts" / _FILES[bold]).read_bytes()


@lru_cache(maxsize=64)
def picture_font(size_px: int, bold: bool) -> ImageFont.FreeTypeFont:
    """The typeface for drawing into an array, at a size in pixels."""
    with as_file(files("reportlab") / "fonts" / _FILES[bold]) as path:
        return ImageFont.truetype(str(path), size_px)


@lru_cache(maxsize=20_000)
def width_of(text: str, size: float, bold: bool = False) -> float:
    """Width of a line of words, in the unit of `size`."""
    return picture_font(_MEASURED_AT, bold).getlength(text) * size / _MEASURED_AT


@lru_cache(maxsize=1)
def _letters() -> frozenset[int]:
    return frozenset(TTFont("letters", BytesIO(font_bytes(False))).face.charToGlyph)


@lru_cache(maxsize=20_000)
def printable(text: str) -> str:
    """The text in letters the typeface has: an unknown accent is dropped, an unknown letter becomes "?"."""
    known = _letters()
    out = []
    for letter in text:
        if ord(letter) in known:
            out.append(letter)
            continue
        plain = _IN_PLAIN_LETTERS.get(letter) or normalize("NFKD", letter)
        kept = "".join(each for each in plain if ord(each) in known and ord(each) < 0x300)
        out.append(kept or "?")
    return "".join(out)
