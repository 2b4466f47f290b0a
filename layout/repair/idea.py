"""A repair thought out but without its wood yet, and what every kind of repair has in common."""

from dataclasses import dataclass

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from layout.allowances import RepairRules
from layout.glue import Donor, Repair, RepairKind
from layout.outline import Outline
from layout.parts import Part, PartSide, Visibility, ZoneRule
from layout.repair.fault import Fault, Host

__all__ = ["Blank", "Idea", "may_show", "minutes", "price", "sound_zones", "with_donor"]


@dataclass(frozen=True)
class Blank:
    """The piece of wood a repair is made from, with what sawing and planing take [mm]."""

    length: float
    width: float
    thickness: float


@dataclass(frozen=True)
class Idea:
    """A repair but for its donor.

    Parameters
    ----------
    kind, side, outline, depth, slope, at
        As in `layout.glue.Repair`.
    mends : frozenset of PartSide
        Sides of the fault it makes good.
    blank : Blank or None
        None for a filler.
    price : float
        [money]
    cautions : tuple of str
    """

    kind: RepairKind
    side: PartSide
    outline: Outline
    depth: float
    mends: frozenset[PartSide]
    blank: Blank | None
    price: float
    slope: float = 0.0
    at: float = 0.0
    cautions: tuple[str, ...] = ()


def minutes(kind: RepairKind, rules: RepairRules) -> float:
    """Bench time of one repair [min]; less than 0: the shop never makes it."""
    return {
        RepairKind.PATCH: rules.patch,
        RepairKind.SLICE: rules.slice,
        RepairKind.SPLICE: rules.splice,
        RepairKind.EDGE_STRIP: rules.edge_strip,
        RepairKind.FILLER: rules.filler,
    }[kind]


def price(kind: RepairKind, rules: RepairRules) -> float | None:
    """What one repair costs [money]; None if the shop never makes it."""
    time = minutes(kind, rules)
    return None if time < 0 else round(time / 60 * rules.rate, 2)


def may_show(part: Part, sides: set[PartSide]) -> bool:
    """Whether a repair may be seen on all of these sides."""
    return part.mend_show or all(part.visibility(side) is not Visibility.SHOW for side in sides)


def sound_zones(part: Part, side: PartSide | None = None) -> BaseGeometry:
    """Joints, fixings and mouldings of a part: those of one face, or all of them [mm]."""
    zones = [
        Polygon(zone.outline)
        for zone in part.zones
        if zone.rule is ZoneRule.SOUND and (side is None or zone.side in (None, side))
    ]
    return shapely.union_all(zones) if zones else Polygon()


def with_donor(idea: Idea, fault: Fault, host: Host, donor: Donor | None) -> Repair:
    """The repair, complete but for the alternative."""
    cautions = idea.cautions
    if donor is not None and donor.colour is None:
        cautions = (*cautions, "Colour was not measured: compare donor and host by eye, in the same light.")
    return Repair(
        idea.kind,
        host.part.name,
        host.placement.copy,
        idea.side,
        (fault.defect.id,),
        idea.outline,
        idea.depth,
        idea.slope,
        idea.at,
        donor,
        idea.price,
        cautions,
    )
