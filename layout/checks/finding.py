"""What the verifier says: one sentence for each thing that is wrong."""

from dataclasses import dataclass

__all__ = ["TOLERANCE", "Violation", "mm"]

# No saw, tape or pencil line tells 0.05 mm; it only forgives rounding.
TOLERANCE = 0.05


@dataclass(frozen=True)
class Violation:
    """One thing wrong with a layout.

    Parameters
    ----------
    part : str or None
        Name of the part it is about, if it is about one.
    copy : int or None
    board : str or None
    message : str
        One sentence, fit to show.
    """

    part: str | None
    copy: int | None
    board: str | None
    message: str


def mm(value: float) -> str:
    """A length as a maker reads it, to a tenth [mm]."""
    return f"{round(value, 1) + 0.0:g} mm"
