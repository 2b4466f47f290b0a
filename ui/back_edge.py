"""How a waney board's back lies over its front, as a maker reads it at the datum edge: typed, and said again.

``12 out / 8 under``: at the datum end the back reaches 12 mm beyond the front, at the far end it is set in
by 8. ``12 out at 0 / 5 out at 900`` where it was read elsewhere.
"""

import re
from collections.abc import Sequence

from ui.lengths import Units, length_in_mm, length_text

__all__ = ["back_edge_from", "back_edge_text"]

_ONE = re.compile(r"^([+-]?)\s*(.*?)\s*(out|under|)(?:\s+at\s+(.+))?$")
_MOST_MM = 300.0


def back_edge_from(text: str, length_mm: float, units: Units = "mm") -> tuple[tuple[float, float], ...]:
    """Readings at the datum edge: [x from the datum end, how far the back lies out] [mm]; empty for none.

    Raises
    ------
    ValueError
        A reading that can't be, or that does not say which way.
    """
    parts = [part.strip() for part in text.lower().split("/" if units == "mm" else ";")]
    if parts == [""]:
        return ()
    found = []
    for number, part in enumerate(parts):
        sign, value, word, at = _ONE.fullmatch(part).groups()  # type: ignore[union-attr]
        out = length_in_mm(value, units)
        if out and not sign and not word:
            raise ValueError(f"{part!r} does not say which way; write {value} out, or {value} under")
        if sign and word and (sign == "-") is not (word == "under"):
            raise ValueError(f"{part!r} says two things; write {value} out, or {value} under")
        if out > _MOST_MM:
            raise ValueError(f"{part!r} is too far; give what the rule reads between the two arrises")
        if at is None:
            x = length_mm * number / (len(parts) - 1) if number else 0.0
        else:
            x = 0.0 if at.strip() == "0" else length_in_mm(at, units)
        if x > length_mm:
            raise ValueError(f"{part!r} is not on the board; read its place from the datum end")
        found.append((round(x, 1), -out if sign == "-" or word == "under" else out))
    places = [x for x, _ in found]
    if len(set(places)) < len(places):
        raise ValueError("two readings stand at one place; leave one out")
    return tuple(sorted(found))


def back_edge_text(readings: Sequence[tuple[float, float]], length_mm: float, units: Units = "mm") -> str:
    """The readings as they would be typed."""
    many = len(readings)
    evenly = [round(length_mm * number / max(many - 1, 1), 1) for number in range(many)]
    plain = [x for x, _ in readings] == evenly
    said = [
        (f"{length_text(abs(out), units)} {'under' if out < 0 else 'out'}" if out else "0")
        + ("" if plain else f" at {length_text(x, units)}")
        for x, out in readings
    ]
    return (" / " if units == "mm" else " ; ").join(said)
