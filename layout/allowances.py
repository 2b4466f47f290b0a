"""What sawing and planing take: kerf, end trim, edge trim, oversize, planing, safety margins.

A sawn piece is the finished part plus its allowances::

    |<--------- sawn length = length + length allowance --------->|
    +--------------------------------------------------------------+  -
    |  +--------------------------------------------------------+  |  | sawn width
    |  |   finished part, in the middle of the sawn piece       |  |  |
    |  +--------------------------------------------------------+  |  |
    +--------------------------------------------------------------+  -

Between two sawn pieces there is at least one kerf. A defect in the allowance or
in the kerf does no harm: it is cut away.
"""

from dataclasses import dataclass, fields
from enum import StrEnum
from math import isfinite

from layout.parts import Part

__all__ = ["Allowances", "RepairRules", "Sawing", "Shop", "sawn_length", "sawn_width"]


class Sawing(StrEnum):
    """The order a shop saws in; it decides which layouts can be sawn at all (`layout.cuts`)."""

    CROSSCUT_FIRST = "crosscut first"
    RIP_FIRST = "rip first"
    BAND_SAW = "band saw"


@dataclass(frozen=True)
class Allowances:
    """Millimetres lost or kept in hand; all common practice (no source), all the maker's to change.

    Parameters
    ----------
    kerf : float
        Width of a saw cut [mm].
    end_trim : float
        Cut off each end of every board before anything else [mm].
    edge_trim : float
        Taken off each long edge of every board to get it straight [mm].
    length, width : float
        Sawn oversize of a part, in all [mm].
    skim : float
        Least planed off each face of a board; 0 for boards already planed [mm].
    defect_margin : float
        Kept clear round every defect, beyond the board's stated error [mm].
    knot_along, knot_across : float
        Disturbed grain round a knot, as a share of its size, on each side.
    """

    kerf: float = 3.2
    end_trim: float = 25.0
    edge_trim: float = 3.0
    length: float = 10.0
    width: float = 4.0
    skim: float = 0.0
    defect_margin: float = 2.0
    knot_along: float = 0.0
    knot_across: float = 0.0

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if not (isfinite(value) and value >= 0):
                raise ValueError(f"allowance {item.name} is {value}; give 0 or more")


@dataclass(frozen=True)
class RepairRules:
    """What repairs the shop makes and what they cost; all common practice (no source), the maker's to change.

    Parameters
    ----------
    allowed : bool
        Whether a plan may count on repairs at all. A show face is repaired only
        if its part says so too (`Part.mend_show`).
    per_face : int
        Most repairs on one side of a part.
    rate : float
        What an hour of bench work costs [money].
    patch, slice, splice, edge_strip, filler : float
        Minutes at the bench for one of each; less than 0: never made.
    margin : float
        How far a patch reaches beyond the defect [mm].
    depth : float
        Depth of a patch over a sound blemish [mm].
    clearance : float
        Kept between a repair and edges, joints, mouldings, fixings [mm].
    slope : float
        Run over rise of a slice and a scarf: 12 is 1 in 12.
    grain : float
        Most between the grain of a donor and its host [degrees].
    colour : float
        Most between their colours, where these were measured [CIELAB units].
    """

    allowed: bool = False
    per_face: int = 2
    rate: float = 40.0
    patch: float = 25.0
    slice: float = 45.0
    splice: float = 60.0
    edge_strip: float = 30.0
    filler: float = 6.0
    margin: float = 3.0
    depth: float = 5.0
    clearance: float = 5.0
    slope: float = 12.0
    grain: float = 3.0
    colour: float = 6.0

    def __post_init__(self) -> None:
        if self.per_face < 0:
            raise ValueError(f"repairs per_face is {self.per_face}; give 0 or more")
        for what in ("rate", "margin", "clearance", "grain", "colour"):
            value = getattr(self, what)
            if not (isfinite(value) and value >= 0):
                raise ValueError(f"repairs {what} is {value}; give 0 or more")
        if not (isfinite(self.depth) and self.depth >= 3):
            raise ValueError(f"repairs depth is {self.depth}; give 3 mm or more")
        if not (isfinite(self.slope) and self.slope >= 5):
            raise ValueError(f"repairs slope is {self.slope}; give 5 (1 in 5) or more")


@dataclass(frozen=True)
class Shop:
    """The saw and what the shop keeps.

    Parameters
    ----------
    sawing : Sawing
    stages : int
        Most changes of direction between crosscut and rip, 2 or 3; no meaning for the band saw.
    allowances : Allowances
    max_slope : float
        Greatest slope of grain in a part (rise over run), where the part names none.
    least_offcut : tuple of float
        Smallest offcut worth keeping, length and width [mm].
    planer_width : float
        Widest piece the planer takes [mm].
    repairs : RepairRules
    """

    sawing: Sawing = Sawing.CROSSCUT_FIRST
    stages: int = 3
    allowances: Allowances = Allowances()
    max_slope: float = 1 / 15
    least_offcut: tuple[float, float] = (300.0, 40.0)
    planer_width: float = 310.0
    repairs: RepairRules = RepairRules()

    def __post_init__(self) -> None:
        if self.stages not in (2, 3):
            raise ValueError(f"stages is {self.stages}; give 2 or 3")


def sawn_length(part: Part, allowances: Allowances) -> float:
    """Length of the piece sawn for a part [mm]."""
    extra = allowances.length if part.length_allowance is None else part.length_allowance
    return part.length + extra


def sawn_width(part: Part, allowances: Allowances) -> float:
    """Width of the piece sawn for a part [mm]."""
    extra = allowances.width if part.width_allowance is None else part.width_allowance
    return part.width + extra
