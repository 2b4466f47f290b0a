"""Filler: stopping a fine crack or a small hole where the side's class lets it be seen."""

from layout.glue import RepairKind
from layout.outline import normal_outline
from layout.parts import PartSide
from layout.repair.fault import Fault, Host
from layout.repair.idea import Idea, may_show, price
from layout.rules import size_across
from layout.stock import DefectKind

__all__ = ["LARGEST", "filler_for"]

# Widest fault that is filled, across the grain [mm]; common practice, no source.
LARGEST = {
    DefectKind.CHECK: 3.0,
    DefectKind.PIN_KNOT: 6.0,
    DefectKind.INSECT_HOLES: 6.0,
    DefectKind.RESIN_POCKET: 4.0,
    DefectKind.TORN_GRAIN: 10.0,
}


def filler_for(fault: Fault, host: Host) -> Idea | None:
    """Filling a fault on all the sides it shows on, or None."""
    cost = price(RepairKind.FILLER, host.shop.repairs)
    if cost is None or fault.in_zone or fault.barred or not fault.sides:
        return None
    if size_across(fault.defect) > LARGEST.get(fault.defect.kind, -1.0) or not may_show(
        host.part, set(fault.sides)
    ):
        return None
    x0, y0, x1, y1 = fault.reach.bounds
    outline = normal_outline(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), "filler")
    side = min(fault.sides, key=list(PartSide).index)
    thickness = host.part.thickness
    depth = (
        max(fault.depth_from(side, thickness), 0.5) if side in (PartSide.FACE, PartSide.BACK) else thickness
    )
    return Idea(
        RepairKind.FILLER,
        side,
        outline,
        min(depth, thickness),
        fault.sides,
        None,
        cost,
        cautions=("Try the filler with the finish on a scrap of the same board first.",),
    )
