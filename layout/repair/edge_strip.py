"""The edge strip: an edge with faults ripped off, and a clear strip from the same board glued on.

::

    +--------------------------------------------+   strip, the whole length
    |============================================|   glue line along the grain
    |                  the part                  |
    +--------------------------------------------+

An edge joint along the grain is almost as strong as the wood (Wood Handbook,
Chapter 10, read). Least and greatest widths are common practice, no source.
"""

from shapely import box

from layout.allowances import sawn_length
from layout.glue import RepairKind
from layout.outline import rectangle
from layout.parts import PartSide
from layout.repair.fault import Fault, Host
from layout.repair.idea import Blank, Idea, may_show, price, sound_zones

__all__ = ["edge_strip_for"]

_NARROWEST = 6.0
_WIDEST = 1 / 3  # of the part's width
_CAUTIONS = (
    "Shoot both edges in one setting, glue the strip on before the part is planed to thickness.",
    "Never rip a narrow strip without a push stick and a guard.",
)
_JOINTING = 3.0  # the blank is wider by this, for two planed edges [mm]


def edge_strip_for(fault: Fault, side: PartSide, host: Host) -> Idea | None:
    """A new edge that takes a fault away with it, or None.

    Parameters
    ----------
    fault : Fault
    side : PartSide
        NEAR_EDGE or FAR_EDGE.
    host : Host
    """
    rules, part = host.shop.repairs, host.part
    cost = price(RepairKind.EDGE_STRIP, rules)
    if cost is None or fault.barred or fault.in_zone or part.outline is not None:
        return None
    opposite = PartSide.FAR_EDGE if side is PartSide.NEAR_EDGE else PartSide.NEAR_EDGE
    if side not in (PartSide.NEAR_EDGE, PartSide.FAR_EDGE) or opposite in fault.sides:
        return None
    if not may_show(part, set(PartSide) - {opposite}):
        return None
    near = side is PartSide.NEAR_EDGE
    reached = fault.reach.bounds[3] if near else part.width - fault.reach.bounds[1]
    wide = max(reached + rules.margin, _NARROWEST)
    if wide > _WIDEST * part.width:
        return None
    ground = (0.0, 0.0, part.length, wide) if near else (0.0, part.width - wide, part.length, part.width)
    if sound_zones(part).intersection(box(*ground)).area > 0:
        return None
    thick = min(part.thickness + 2, host.board.thickness)
    blank = Blank(sawn_length(part, host.shop.allowances), wide + _JOINTING, thick)
    return Idea(
        RepairKind.EDGE_STRIP,
        side,
        rectangle(*ground),
        wide,
        fault.sides,
        blank,
        cost,
        cautions=_CAUTIONS,
    )
