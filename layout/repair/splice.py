"""The splice: a new end glued on with a scarf, a long sloping joint through the thickness.

Seen on an edge::

       |                   ______________________________
       |  new end     ____/
       |         ____/               the part
       |________/________________________________________  side given
       |<-- e -->|<-- n t -->|

On the side given, where the joint is measured (`Repair.at`), the new end is e long.
The scarf's glue area is sqrt(1 + n2) times the section. The Wood Handbook asks for
10 times or more, so 1 in 10 or flatter; 1 in 12 is strongest (Chapter 10, read).
Where the part is not loaded the book lets it be steeper: 1 in 8 is the steepest
made here. Kept out of the middle third of the part, where it bends most, and out
of joints (common practice, no source).

Strength of a plain scarf against whole wood, FROM MEMORY, unverified: 1 in 12
90 %, 1 in 10 85 %, 1 in 8 80 %, 1 in 5 65 %.
"""

from itertools import pairwise
from math import sqrt

from shapely import box

from layout.glue import RepairKind
from layout.outline import rectangle
from layout.parts import PartSide
from layout.repair.fault import Fault, Host
from layout.repair.idea import Blank, Idea, may_show, price, sound_zones

__all__ = ["LEAST_AREA", "STEEPEST", "efficiency", "scarf_area", "splice_for"]

LEAST_AREA = 10.0  # times the section (Wood Handbook, Chapter 10)
STEEPEST = 8.0
_STRENGTH = ((5.0, 0.65), (8.0, 0.80), (10.0, 0.85), (12.0, 0.90))  # from memory, unverified


def scarf_area(slope: float) -> float:
    """Glue area of a scarf of 1 in `slope`, as a multiple of the section."""
    return sqrt(1 + slope * slope)


def efficiency(slope: float) -> float:
    """Strength of a plain scarf as a share of whole wood (from memory, unverified)."""
    if slope <= _STRENGTH[0][0]:
        return _STRENGTH[0][1] * max(slope, 0.0) / _STRENGTH[0][0]
    for (n0, low), (n1, high) in pairwise(_STRENGTH):
        if slope <= n1:
            return low + (high - low) * (slope - n0) / (n1 - n0)
    return _STRENGTH[-1][1]


def splice_for(fault: Fault, host: Host) -> Idea | None:
    """A new end that takes a fault away with it, or None; the flattest slope that keeps clear of mid-span."""
    rules, part = host.shop.repairs, host.part
    cost = price(RepairKind.SPLICE, rules)
    if cost is None or fault.barred or part.outline is not None or not may_show(part, set(PartSide)):
        return None
    near = fault.reach.bounds[0] <= part.length - fault.reach.bounds[2]
    reached = fault.reach.bounds[2] if near else part.length - fault.reach.bounds[0]
    from_end = reached + rules.clearance
    room = part.length / 3 - from_end
    slope = min(max(rules.slope, STEEPEST), room / part.thickness)
    if slope < STEEPEST:
        return None
    run = slope * part.thickness
    at = from_end if near else part.length - from_end
    joint = (at, 0.0, at + run, part.width) if near else (at - run, 0.0, at, part.width)
    if sound_zones(part).distance(box(*joint)) < rules.clearance and not sound_zones(part).is_empty:
        return None
    far = from_end + run
    whole = (0.0, 0.0, far, part.width) if near else (part.length - far, 0.0, part.length, part.width)
    blank = Blank(far + 20, part.width + 4, min(part.thickness + 2, host.board.thickness))
    return Idea(
        RepairKind.SPLICE,
        PartSide.FACE,
        rectangle(*whole),
        part.thickness,
        fault.sides,
        blank,
        cost,
        slope,
        at,
        _cautions(slope),
    )


def _cautions(slope: float) -> tuple[str, ...]:
    strength = (
        f"Scarf 1 in {slope:.1f}: glue area {scarf_area(slope):.1f} times the section, about"
        f" {100 * efficiency(slope):.0f} % of whole wood's strength (a book average, unverified)."
    )
    text = [
        strength,
        "Not for a part that carries people or a span; a loaded joint needs a competent person.",
    ]
    if scarf_area(slope) < LEAST_AREA:
        text.append("Steeper than the 10 times the section that the handbook asks for: unloaded parts only.")
    return tuple(text)
