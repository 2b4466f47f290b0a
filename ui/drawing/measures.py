"""Millimetres, or inches in fractions, as a tape is read; rounded so that no part comes out undersize.

A reading where a piece begins is rounded up and one where it ends is rounded
down, so a piece never takes wood from the saw cut beside it: cuts as marked
leave at least the kerf between two pieces. What a piece loses by that comes
out of its sawing allowance. `tape_step` picks the coarsest step of the tape for
which every piece still keeps at least half of its allowance.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from ui.lengths import INCH, Units

__all__ = ["STEPS", "Tape", "tape_step"]

STEPS: dict[Units, tuple[float, ...]] = {
    "mm": (1.0, 0.5, 0.1, 0.01),
    "inch": (INCH / 16, INCH / 32, INCH / 64, INCH / 2560),
}
_CLOSE = 1e-6  # of a step; takes up the noise of floating point


@dataclass(frozen=True)
class Tape:
    """A tape, and the step it is read to [mm]."""

    units: Units = "mm"
    step: float = 1.0

    def begins(self, value: float) -> float:
        """A reading where a piece begins: the next step inwards [mm]."""
        return ceil(value / self.step - _CLOSE) * self.step

    def ends(self, value: float) -> float:
        """A reading where a piece ends: the last step inside [mm]."""
        return floor(value / self.step + _CLOSE) * self.step

    def at_least(self, value: float) -> float:
        """A size that must not be undercut: the next step up [mm]."""
        return ceil(value / self.step - _CLOSE) * self.step

    def nearest(self, value: float) -> float:
        """The nearest step [mm]."""
        return round(value / self.step) * self.step

    def words(self, value: float, unit: bool = False) -> str:
        """A length as it is read, for example 598, 12.5 or 23 9/16; `unit` adds mm or in."""
        if self.units == "inch":
            return _inches(value, self.step) + (" in" if unit else "")
        text = f"{value:.2f}".rstrip("0").rstrip(".")
        return ("0" if text == "-0" else text) + (" mm" if unit else "")


def _inches(value: float, step: float) -> str:
    parts = max(1, round(INCH / step))
    sixtyfourths = parts if parts in (16, 32, 64) else 0
    if not sixtyfourths:
        return f"{value / INCH:.3f}".rstrip("0").rstrip(".")
    whole = Fraction(round(value / INCH * sixtyfourths), sixtyfourths)
    inches, rest = divmod(abs(whole), 1)
    sign = "-" if whole < 0 else ""
    if not rest:
        return f"{sign}{inches}"
    fraction = f"{rest.numerator}/{rest.denominator}"
    return sign + (f"{inches} {fraction}" if inches else fraction)


def tape_step(units: Units, spans: Iterable[tuple[float, float, float]]) -> Tape:
    """The coarsest tape for which every piece keeps half of its allowance.

    Parameters
    ----------
    units : Units
    spans : iterable of (begin, end, finished)
        Where each piece begins and ends along or across the board, and its finished size [mm].
    """
    pieces = list(spans)
    for step in STEPS[units]:
        tape = Tape(units, step)
        if all(
            tape.ends(end) - tape.begins(begin) >= finished + (end - begin - finished) / 2 - 1e-9
            for begin, end, finished in pieces
        ):
            return tape
    return Tape(units, STEPS[units][-1])
