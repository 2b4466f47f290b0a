"""Repairs for a whole layout: every fault of every placed part made good, or said not to be.

For each placed part the cheapest repairs are taken that make all its faults good,
within the budget of each side, each with its donor reserved in left-over wood of
the same board. A part with a fault no repair can meet fails as a whole.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from shapely import Polygon, box

from layout.allowances import Shop
from layout.cost import money_for
from layout.glue import Repair, RepairKind
from layout.parts import Part, PartSide
from layout.placement import Layout, Offcut, Placement
from layout.repair.donor import donor_for, left_over
from layout.repair.edge_strip import edge_strip_for
from layout.repair.fault import Fault, Host, faults
from layout.repair.filler import filler_for
from layout.repair.idea import Idea, with_donor
from layout.repair.looks import Looks
from layout.repair.patch import patch_for
from layout.repair.slice import slice_for
from layout.repair.splice import splice_for
from layout.stock import Board

__all__ = ["Unmended", "carried_out", "ideas_for"]

_FACES = (PartSide.FACE, PartSide.BACK)
_EDGES = (PartSide.NEAR_EDGE, PartSide.FAR_EDGE)


@dataclass(frozen=True)
class Unmended:
    """A placed part with a fault that no repair makes good, and why."""

    placement: Placement
    defect: str
    reason: str


def ideas_for(fault: Fault, host: Host) -> tuple[Idea, ...]:
    """Every repair that would help a fault, cheapest first; the donor is still to be found."""
    found: list[Idea | None] = [filler_for(fault, host), splice_for(fault, host)]
    found += [patch_for(fault, side, host) for side in _FACES]
    found += [slice_for(fault, side, host) for side in _FACES]
    found += [edge_strip_for(fault, side, host) for side in _EDGES]
    return tuple(sorted((idea for idea in found if idea is not None), key=lambda idea: idea.price))


def carried_out(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    layout: Layout,
    looks: Sequence[Looks] = (),
    without: str = "",
) -> tuple[Layout, tuple[Unmended, ...]]:
    """The layout with its repairs, donors, cost and what is left of its offcuts.

    Parameters
    ----------
    boards, parts, shop
    layout : Layout
        With cuts; its placements may lie on faults.
    looks : sequence of Looks
    without : str
        What would be done without repairs, said of each of them.

    Returns
    -------
    Layout
        Its repairs are those that could be made.
    tuple of Unmended
        Parts that stay with a fault; empty when all is well.
    """
    stock = {board.id: board for board in boards}
    listed = {part.name: part for part in parts}
    made: list[Repair] = []
    failed: list[Unmended] = []
    bare = replace(layout, repairs=())
    hosts = [Host(item, listed[item.part], stock[item.board], shop) for item in layout.placements]
    wrong = [(host, found) for host in hosts if (found := faults(host))]
    # Those that need the largest blanks choose first.
    for host, found in sorted(wrong, key=lambda item: -_largest_blank(*item)):
        repairs = _mended(host, found, bare, parts, made, looks)
        if isinstance(repairs, Unmended):
            failed.append(repairs)
        else:
            made += [replace(repair, alternative=without) for repair in repairs]
    cost = money_for(stock[name] for name in layout.boards_used) + sum(repair.cost for repair in made)
    offcuts = tuple(_without_donors(layout.offcuts, made, shop))
    return replace(layout, repairs=tuple(made), offcuts=offcuts, cost=round(cost, 2)), tuple(failed)


def _largest_blank(host: Host, wrong: Sequence[Fault]) -> float:
    """Area of the largest blank the cheapest repairs of a part take [mm2]."""
    cheapest = [ideas[0].blank for fault in wrong if (ideas := ideas_for(fault, host))]
    return max((blank.length * blank.width for blank in cheapest if blank is not None), default=0.0)


def _mended(
    host: Host,
    wrong: Sequence[Fault],
    layout: Layout,
    parts: Sequence[Part],
    made: Sequence[Repair],
    looks: Sequence[Looks],
) -> list[Repair] | Unmended:
    """Repairs for all faults of one part, or the fault that stays."""
    used: Counter[PartSide] = Counter()
    repairs: list[Repair] = []
    for fault in wrong:
        if _mended_already(fault, host, repairs):
            continue
        found = _for_fault(fault, host, layout, parts, [*made, *repairs], looks, used)
        if found is None:
            sides = ", ".join(sorted(side.value for side in fault.sides)) or "a place that must be sound"
            reason = f"no repair of the {fault.defect.kind.value} {fault.defect.id} on {sides} fits here"
            return Unmended(host.placement, fault.defect.id, reason)
        repairs += found
    return repairs


def _mended_already(fault: Fault, host: Host, repairs: Sequence[Repair]) -> bool:
    """Whether a repair made for a neighbouring fault takes this one away as well."""
    for repair in repairs:
        whole = repair.kind in (RepairKind.SPLICE, RepairKind.EDGE_STRIP)
        ground = Polygon(repair.outline)
        if repair.kind is RepairKind.SPLICE:
            x0, _, x1, _ = ground.bounds
            ground = (
                box(x0, -1, repair.at, host.part.width + 1)
                if x0 == 0
                else box(repair.at, -1, x1, host.part.width + 1)
            )
        if whole and not fault.barred and ground.buffer(1e-6).covers(fault.reach):
            return True
    return False


def _for_fault(
    fault: Fault,
    host: Host,
    layout: Layout,
    parts: Sequence[Part],
    made: Sequence[Repair],
    looks: Sequence[Looks],
    used: Counter[PartSide],
) -> list[Repair] | None:
    """The cheapest one or two repairs that make a fault good on all its sides."""
    ideas = ideas_for(fault, host)
    for choice in sorted(_choices(fault, ideas), key=lambda item: sum(idea.price for idea in item)):
        if not _within_budget(choice, host, used) or _clash(choice, made, host):
            continue
        repairs: list[Repair] = []
        for idea in choice:
            lumps = left_over(host.board, parts, host.shop, layout, [*made, *repairs])
            donor = donor_for(idea, host, lumps, looks)
            if donor is None and idea.blank is not None:
                break
            repairs.append(with_donor(idea, fault, host, donor))
        else:
            for idea in choice:
                used.update(_seen(idea, host))
            return repairs
    return None


def _choices(fault: Fault, ideas: Sequence[Idea]) -> Iterator[tuple[Idea, ...]]:
    for number, idea in enumerate(ideas):
        if fault.in_zone and idea.kind is not RepairKind.SPLICE:
            continue
        if fault.sides <= idea.mends:
            yield (idea,)
            continue
        for other in ideas[number + 1 :]:
            if fault.sides <= idea.mends | other.mends and not fault.in_zone and _together(idea, other):
                yield idea, other


def _together(one: Idea, other: Idea) -> bool:
    """Two patches from either face leave 3 mm between them; no other two are let into one place."""
    return one.kind is other.kind is RepairKind.PATCH and one.side is not other.side


def _within_budget(choice: Sequence[Idea], host: Host, used: Counter[PartSide]) -> bool:
    wanted = used.copy()
    for idea in choice:
        wanted.update(_seen(idea, host))
    return all(count <= host.shop.repairs.per_face for count in wanted.values())


def _seen(idea: Idea, host: Host) -> list[PartSide]:
    """Faces a repair counts on."""
    if idea.kind is RepairKind.PATCH and idea.depth < host.part.thickness:
        return [idea.side]
    if idea.kind in (RepairKind.SLICE, RepairKind.FILLER):
        return [side for side in idea.mends if side in _FACES] or [idea.side]
    return list(_FACES)


def _clash(choice: Sequence[Idea], made: Sequence[Repair], host: Host) -> bool:
    """Whether it would run into a repair already made in the same part."""
    apart = host.shop.repairs.clearance
    own = [repair for repair in made if (repair.part, repair.copy) == (host.part.name, host.placement.copy)]
    return any(
        Polygon(idea.outline).distance(Polygon(repair.outline)) < apart for idea in choice for repair in own
    )


def _without_donors(offcuts: Sequence[Offcut], made: Sequence[Repair], shop: Shop) -> Iterator[Offcut]:
    """Offcuts less the donors taken from them: the largest rectangle left, if it is worth keeping."""
    kerf = shop.allowances.kerf
    for offcut in offcuts:
        rest: Offcut | None = offcut
        for repair in made:
            donor = repair.donor
            if rest is None or donor is None or donor.board != rest.board:
                continue
            if donor.x1 + kerf <= rest.x0 or donor.x0 - kerf >= rest.x1:
                continue
            if donor.y1 + kerf <= rest.y0 or donor.y0 - kerf >= rest.y1:
                continue
            sides = (
                replace(rest, x1=donor.x0 - kerf),
                replace(rest, x0=donor.x1 + kerf),
                replace(rest, y1=donor.y0 - kerf),
                replace(rest, y0=donor.y1 + kerf),
            )
            rest = max((side for side in sides if _kept(side, shop)), key=_area, default=None)
        if rest is not None:
            yield rest


def _kept(offcut: Offcut, shop: Shop) -> bool:
    length, width = shop.least_offcut
    return offcut.x1 - offcut.x0 >= length and offcut.y1 - offcut.y0 >= width


def _area(offcut: Offcut) -> float:
    return (offcut.x1 - offcut.x0) * (offcut.y1 - offcut.y0)
