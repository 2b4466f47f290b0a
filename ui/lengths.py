"""Lengths as a maker writes them, to millimetres, and back.

``1200``, ``1200.5 mm``, ``120 cm``, ``1.2 m``, ``47 1/4"``, ``3/4"``, ``3' 6 1/2"``, ``3-1/2 in``
"""

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

__all__ = ["INCH", "Units", "evenly_spaced", "length_in_mm", "length_text"]

INCH = 25.4
Units = Literal["mm", "inch"]

_METRIC = {"mm": 1.0, "cm": 10.0, "m": 1000.0}
_NUMBER = r"(?:\d+(?:[.,]\d+)?|[.,]\d+)"
_MIXED = rf"(?:(\d+)[\s-]+(\d+)\s*/\s*(\d+)|(\d+)\s*/\s*(\d+)|({_NUMBER}))"
_INCHES = re.compile(rf"^{_MIXED}\s*(?:\"|''|in|inch|inches)?$")
_FEET = re.compile(rf"^({_NUMBER})\s*(?:'|ft|feet|foot)\s*(.*)$")
_PLAIN = re.compile(rf"^({_NUMBER})\s*(mm|cm|m)?$")
_MARKED = re.compile(r"(\"|'|in|inch|inches|ft|feet|foot)$")
_THOUSAND = re.compile(r"\d,\d{3}(?!\d|\s*m$)")
_LONGEST = 40  # letters; a tape reading is shorter
_SIGNS = str.maketrans({"”": '"', "“": '"', "″": '"', "’": "'", "′": "'", "⁄": "/"})
_GLYPHS = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}


def length_in_mm(text: str, units: Units = "mm") -> float:
    """The length a text says [mm].

    Parameters
    ----------
    text : str
    units : "mm" or "inch"
        What a bare number means.

    Raises
    ------
    ValueError
        Not a length, a fraction without a unit in a job kept in mm, or a comma
        that may part thousands as well as decimals.
    """
    text = " ".join(text.split())
    if len(text) > _LONGEST:
        raise _no_length(f"{text[:_LONGEST]}...")
    cleaned = text.translate(_SIGNS)
    for glyph, fraction in _GLYPHS.items():
        cleaned = cleaned.replace(glyph, fraction)
    cleaned = cleaned.strip().lower()
    if _THOUSAND.search(cleaned):
        whole, decimal = cleaned.replace(",", ""), cleaned.replace(",", ".")
        raise ValueError(f"{text!r} can be read in two ways; write {whole} or {decimal}")
    plain = _PLAIN.match(cleaned)
    if plain and (plain[2] or units == "mm"):
        return _decimal(plain[1]) * _METRIC[plain[2] or "mm"]
    if "/" in cleaned and units == "mm" and not _MARKED.search(cleaned):
        raise ValueError(f'{text!r} has no unit; write {text}" for inches, or give mm')
    feet = _FEET.match(cleaned)
    if feet:
        rest = _inches(feet[2]) if feet[2].strip() else 0.0
        if rest is not None:
            return (_decimal(feet[1]) * 12 + rest) * INCH
    inches = _inches(cleaned)
    if inches is not None and (units == "inch" or _MARKED.search(cleaned)):
        return inches * INCH
    raise _no_length(text)


def length_text(mm: float, units: Units = "mm") -> str:
    """A length as the job shows it: whole and tenths of a millimetre, or inches to a 32nd."""
    if units == "mm":
        return f"{mm:.1f}".removesuffix(".0")
    parts = round(mm / INCH * 32)
    whole, rest = divmod(parts, 32)
    fraction = Fraction(rest, 32)
    words = ([str(whole)] if whole or not rest else []) + ([str(fraction)] if rest else [])
    return " ".join(words) + '"'


def _no_length(text: str) -> ValueError:
    return ValueError(f'{text!r} is not a length; write a number in mm, or inches such as 3/4"')


def _decimal(text: str) -> float:
    return float(text.replace(",", "."))


def _inches(text: str) -> float | None:
    found = _INCHES.match(text.strip())
    if not found:
        return None
    if found[1]:
        return _ratio(found[2], found[3], int(found[1]))
    if found[4]:
        return _ratio(found[4], found[5])
    return _decimal(found[6])


def _ratio(above: str, below: str, whole: int = 0) -> float | None:
    return whole + int(above) / int(below) if int(below) else None


def evenly_spaced(readings: Sequence[float], length_mm: float) -> tuple[tuple[float, float], ...]:
    """Widths read at even distances from the datum end to the far end, each with its station [mm]."""
    if len(readings) == 1:
        return ((0.0, readings[0]),)
    step = length_mm / (len(readings) - 1)
    return tuple((round(step * index, 1), width) for index, width in enumerate(readings))
