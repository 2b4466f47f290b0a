"""Millimetres, or inches in fractions, as a tape is read; rounded so that no part comes out undersize.

Readings are rounded to the nearest step of the tape. A sawn piece lies between
two lines (or a line and the far side of the slot before it), each off by half a
step at most, so it loses one step at most, and that comes out of its sawing
allowance: `tape_step` picks the coarsest step that is no more than half of every
piece's allowance. Finished sizes are rounded up, offcuts down.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from ui.lengths import INCH, Units

__all__ = ["STEPS", "Tape", "tape_step"]

STEPS: dict[Units, tuple[float, ...]] = {
    "mm": (1.0, 0.5, 0.1, 0.01),
    "inch": (INCH / 16, INCH / 32, INCH / 64, INCH / 1000),
}
_CLOSE = 1e-6  # of a step; takes up the noise of floating point


@dataclass(frozen=True)
class Tape:
    """A tape, and the step it is read to [mm]."""

    units: Units = "mm"
    step: float = 1.0

    def at_least(self, value: float) -> float:
        """A size that must not be undercut: the next step up [mm]."""
        return ceil(value / self.step - _CLOSE) * self.step

    def at_most(self, value: float) -> float:
        """A size that must not be promised too large: the last step below [mm]."""
        return floor(value / self.step + _CLOSE) * self.step

    def sawn(self, value: float, finished: float) -> float:
        """The size a piece is sawn to: the nearest step, and never below its finished size [mm]."""
        return max(self.nearest(value), self.at_least(finished))

    def nearest(self, value: float) -> float:
        """The nearest step [mm]."""
        return round(value / self.step) * self.step

    def fine(self, value: float) -> str:
        """A small size, finer than the tape: to a tenth of a millimetre, or a sixty-fourth of an inch."""
        if self.units == "inch":
            return _inches(round(value / INCH * 64) * INCH / 64, INCH / 64) + " in"
        return f"{value:.1f}".removesuffix(".0") + " mm"

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


def tape_step(units: Units, allowances: Iterable[float]) -> Tape:
    """The coarsest tape whose step is no more than half of every piece's sawing allowance.

    Parameters
    ----------
    units : Units
    allowances : iterable of float
        How much longer or wider than finished each piece is sawn [mm]; where one
        is 0 the finest tape is returned, a hundredth of a millimetre or a
        thousandth of an inch, which rounds no size away.
    """
    least = min(allowances, default=2 * STEPS[units][0])
    for step in STEPS[units]:
        if step <= least / 2 + _CLOSE:
            return Tape(units, step)
    return Tape(units, STEPS[units][-1])
