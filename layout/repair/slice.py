"""The glued-on slice: a concealed face planed away on a slope, and a slice glued on.

Seen on an edge; the fault lies in the face that is planed away::

      end
       |=================---------________________________  face
       |      slice          ____-----
     D |         ____-------                                 1 in n
       |____-----                     the part
       |__________________________________________________
       |<--- e --->|
       |<------------- run = n D ---------->|  feather edge

The slice is at least 3 mm thick, planed, everywhere over the fault, so with the
fault reaching e from the end D = thickness over the fault + e / n, and the run is
n D. The jig that carries the part through the planer is a wedge of atan(1/n).
Slopes after the Wood Handbook's advice for scarfs (1 in 10 or flatter); the rest
is common practice, no source.
"""

from math import atan, degrees

from shapely import box

from layout.glue import RepairKind
from layout.outline import rectangle
from layout.parts import Part, PartSide, Visibility
from layout.repair.fault import COMES_OUT, Fault, Host
from layout.repair.idea import Blank, Idea, price, sound_zones

__all__ = ["LEAST_THICKNESS", "MOST", "PLANER", "slice_for", "wedge_angle"]

LEAST_THICKNESS = 3.0  # of the slice over the fault, planed [mm]
PLANER = 3.0  # the blank is thicker by this, for the planer [mm]
_EDGES = frozenset({PartSide.NEAR_EDGE, PartSide.FAR_EDGE})
MOST = 0.5  # of the part's thickness is planed away at most


def wedge_angle(slope: float) -> float:
    """Angle of the jig for a slope of 1 in `slope` [degrees]."""
    return degrees(atan(1 / slope))


def slice_for(fault: Fault, side: PartSide, host: Host) -> Idea | None:
    """A slice on a concealed face or back that makes a fault good, from the end nearer to it, or None."""
    rules, part = host.shop.repairs, host.part
    cost = price(RepairKind.SLICE, rules)
    near = fault.reach.bounds[0] <= part.length - fault.reach.bounds[2]
    if cost is None or fault.in_zone or fault.barred or not _may_lie(fault, side, near, part):
        return None
    if part.outline is not None:  # it runs from edge to edge of a straight piece
        return None
    reached = fault.reach.bounds[2] if near else part.length - fault.reach.bounds[0]
    deepest = _thickness_over(fault, side, part) + reached / rules.slope
    run = rules.slope * deepest
    if deepest > MOST * part.thickness or run > part.length:
        return None
    at = run if near else part.length - run
    ground = (0.0, 0.0, run, part.width) if near else (at, 0.0, part.length, part.width)
    if sound_zones(part, side).intersection(box(*ground)).area > 0:
        return None
    blank = Blank(run + 20, part.width + 4, deepest + PLANER)
    if blank.thickness > host.board.thickness:
        return None
    return Idea(
        RepairKind.SLICE,
        side,
        rectangle(*ground),
        deepest,
        fault.sides,
        blank,
        cost,
        rules.slope,
        at,
        _cautions(rules.slope),
    )


def _may_lie(fault: Fault, side: PartSide, near: bool, part: Part) -> bool:
    """Whether the side is a concealed face, and the slice's glue line shows on no show side."""
    if side not in (PartSide.FACE, PartSide.BACK) or side not in fault.sides:
        return False
    seen = _EDGES | {PartSide.NEAR_END if near else PartSide.FAR_END}
    hidden = part.visibility(side) is Visibility.CONCEALED
    shows = any(part.visibility(item) is Visibility.SHOW for item in seen)
    return hidden and not shows and not fault.sides - seen - {side}


def _thickness_over(fault: Fault, side: PartSide, part: Part) -> float:
    """Thickness of the slice, planed, over the fault's far end [mm]."""
    if fault.defect.kind in COMES_OUT or fault.sides - {side}:
        return max(LEAST_THICKNESS, fault.depth_from(side, part.thickness) + 0.5)
    return LEAST_THICKNESS


def _cautions(slope: float) -> tuple[str, ...]:
    return (
        f"Carry the part through the planer on a wedge of {wedge_angle(slope):.1f} degrees,"
        f" 1 in {slope:g}; never plane a piece shorter than the machine allows.",
        f"Leave the slice {PLANER:g} mm proud and plane it flush when the glue has set;"
        " the feather edge lies on a concealed face.",
    )
