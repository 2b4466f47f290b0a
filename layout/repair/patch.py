r"""The inlaid patch: a long hexagon of sound wood let in over a fault.

Seen from above, grain along x::

            ______________
           /              \        long-grain joint lines above and below,
          <     (knot)     >       ends pointed 1 in 2: no joint line runs
           \______________/        straight across the grain
          |   |        |   |
          tip  margin     tip

It is 3 to 6 mm deep over a sound blemish, and goes down past a loose or soft one;
where less than 3 mm would be left below, it goes right through. Outline, depth
and clearances are common practice, no source.
"""

from shapely import Polygon

from layout.glue import RepairKind
from layout.outline import Outline, normal_outline
from layout.parts import PartSide
from layout.repair.fault import COMES_OUT, Fault, Host
from layout.repair.idea import Blank, Idea, may_show, price, sound_zones

__all__ = ["LEAST_DEPTH", "LONGEST", "TIP", "WIDEST", "patch_for", "patch_outline"]

LEAST_DEPTH = 3.0
TIP = 2.0  # run over rise of the pointed ends
WIDEST = 60.0
LONGEST = 220.0


def patch_outline(fault: Fault, margin: float) -> Outline:
    """The hexagon round a fault, in the part frame [mm]."""
    x0, y0, x1, y1 = fault.reach.bounds
    x0, y0, x1, y1 = x0 - margin, y0 - margin, x1 + margin, y1 + margin
    middle, tip = (y0 + y1) / 2, TIP * (y1 - y0) / 2
    points = ((x0 - tip, middle), (x0, y0), (x1, y0), (x1 + tip, middle), (x1, y1), (x0, y1))
    return normal_outline(points, "patch")


def patch_for(fault: Fault, side: PartSide, host: Host) -> Idea | None:
    """A patch in the face or back that makes a fault good there, or None.

    Parameters
    ----------
    fault : Fault
    side : PartSide
        FACE or BACK.
    host : Host
    """
    rules, part = host.shop.repairs, host.part
    cost = price(RepairKind.PATCH, rules)
    faces = {PartSide.FACE, PartSide.BACK}
    if cost is None or side not in faces or fault.in_zone or fault.barred or fault.sides - faces:
        return None
    depth = _depth(fault, side, host)
    through = depth >= part.thickness
    seen = faces if through else {side}
    if not may_show(part, seen):
        return None
    outline = patch_outline(fault, rules.margin)
    ground = Polygon(outline)
    x0, y0, x1, y1 = ground.bounds
    if y1 - y0 > WIDEST or x1 - x0 > LONGEST:
        return None
    if not Polygon(part.shape).buffer(-rules.clearance, join_style="mitre").covers(ground):
        return None
    if sound_zones(part).distance(ground) < rules.clearance and not sound_zones(part).is_empty:
        return None
    mends = fault.sides if through else fault.sides & {side}
    if not mends:
        return None
    blank = Blank(x1 - x0 + 10, y1 - y0 + 6, min(depth + 3, host.board.thickness))
    return Idea(
        RepairKind.PATCH, side, outline, depth, frozenset(mends), blank, cost, cautions=_cautions(through)
    )


def _depth(fault: Fault, side: PartSide, host: Host) -> float:
    thickness = host.part.thickness
    reach = fault.depth_from(side, thickness)
    depth = reach + 1 if fault.defect.kind in COMES_OUT else min(reach + 1, host.shop.repairs.depth)
    depth = max(depth, LEAST_DEPTH)
    return thickness if depth > thickness - LEAST_DEPTH else depth


def _cautions(through: bool) -> tuple[str, ...]:
    text = (
        "Make the patch first, lay it over the fault, scribe round it, then sink the bed to fit.",
        "Keep the arrow on the donor pointing the way of the part, so that both take the light alike.",
    )
    return (*text, "It goes right through and shows on both faces.") if through else text
