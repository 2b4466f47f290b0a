"""Planning with repairs: "patch it" competes with "use another board".

1. The best plan without repairs, with the larger share of the time. What is proved beside it
   holds only without repairs and is not told; but it brings plans, and an end once nothing is cheaper.
2. A plan that may lay parts on any fault a repair could meet there
   (`layout.repair.where`), at the price of the cheapest one; then the repairs are
   made for good (`layout.repair.carry_out`). Where other parts took the wood of a
   repair, part and blank are held (`layout.solve.reserve`); a fault that could not
   be met after all is barred again; and the plan is made anew.
3. Repairs not worth their price are dropped one by one: without the dearest,
   is there a plan on the same boards that costs less?

The best of all of them is the answer, so that a plan with repairs is never
dearer than the plan of step 1. With a second core, and too many parts for a proof, the
search without repairs goes on there for as long as it would have had if none were
allowed (`layout.solve.beside`): nor is the answer dearer than what that finds.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import inf
from time import monotonic
from typing import Protocol

from layout.allowances import Shop
from layout.parts import Part, PartSide
from layout.placement import Layout, Placement, Unplaced
from layout.repair.carry_out import Unmended, carried_out
from layout.repair.looks import Looks
from layout.repair.where import mendable, mending_of
from layout.solve.params import SolveParams
from layout.solve.reserve import Reserve
from layout.solve.result import with_cuts
from layout.stock import Board, Wish

__all__ = ["Core", "better", "part_of", "with_repairs", "without"]

Fault = tuple[str, str, str]  # board, defect, and the part it may lie in

_BASE = 0.45  # share of the time for the plan without repairs
_GOES_ON = 0.1  # the same, if it goes on from a plan made before
_FIRST = 0.2  # share for the first plan with repairs
_AGAIN = 0.6  # of the time of the one before, for each plan made anew
_SURE = 1.0  # time the first of them has in any case, or half the limit if that is less [s]
_DROP = 0.05  # share for each plan that does without a repair
_LATE = 0.1  # time of a plan made anew when there is none left [s]
_TRIES = 6  # plans made because a repair of the one before could not be made
_LEAST_ROUNDS = 20  # of any plan, where rounds are counted
_DROPS = 12  # repairs tried to do without


class Core(Protocol):
    """The search itself: `layout.solve.plan.plan` without repairs and glue-ups."""

    def __call__(
        self,
        boards: Sequence[Board],
        parts: Sequence[Part],
        shop: Shop,
        params: SolveParams,
        *,
        locked: Sequence[Placement] = (),
    ) -> Layout: ...


def better(one: Layout, other: Layout, parts: Sequence[Part]) -> bool:
    """Whether a layout is to be preferred: more of the parts placed, then less money, then fewer repairs."""
    return _rank(one, parts) < _rank(other, parts)


def with_repairs(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    params: SolveParams,
    core: Core,
    *,
    locked: Sequence[Placement] = (),
    looks: Sequence[Looks] = (),
    should_stop: Callable[[], bool] | None = None,
    offers: Callable[[float], bool] | None = None,
) -> Layout:
    """The best layout with the shop's repairs allowed; without them if they do not pay.

    Parameters
    ----------
    boards, parts, shop, params, locked
        As for `layout.solve.plan.plan`; parts as they are sawn.
    core : Core
    looks : sequence of Looks
        Colour and grain, where measured, for choosing donors.
    should_stop : function, optional
        Asked between plans.
    offers : function, optional
        Whether a plan without repairs that costs less than so much was found beside the search;
        `core` knows of it.
    """
    began = monotonic()
    staves = {kind.part.name for family in params.families for kind in family.kinds}
    free = _mendable(boards, [part for part in parts if part.name not in staves], shop)
    if not free:
        return core(boards, parts, shop, params, locked=locked)
    base = _GOES_ON if params.start else _BASE
    first = params if params.iterations is not None else replace(params, seconds=params.seconds * base)
    best = bare = core(boards, parts, shop, first, locked=locked)
    task = _Task(boards, parts, shop, core, locked, looks, should_stop)
    if task.stopped():
        return replace(best, bound=None)
    # However slow the machine, the first plan with repairs has its time.
    least = max(_FIRST, min(_SURE / max(params.seconds, _SURE), 0.5))
    ends = inf if params.iterations is not None else began + params.seconds
    limit = replace(part_of(params, _FIRST, began, least), start=bare.placements)
    trial = _mended_plan(task, boards, free, limit, ends)
    if better(trial, best, parts):
        best = trial
    for _ in range(_DROPS):
        if not best.repairs or _spent(params, began) or task.stopped():
            break
        cheaper = _without_one(task, best, free, params, began)
        if cheaper is None:
            break
        best, free = cheaper
    left = part_of(params, 1.0, began)
    idle = params.iterations is None and left.seconds > 0.1 * params.seconds
    if not best.repairs and idle and not task.stopped():
        more = core(boards, parts, shop, replace(left, start=best.placements), locked=locked)
        best = more if better(more, best, parts) else best
    if offers is not None and not task.stopped() and offers(inf if best.unplaced else best.cost):
        # Beside the repairs the plan without any had all the time.
        late = replace(params, seconds=_LATE, start=bare.placements)
        more = core(boards, parts, shop, late, locked=locked)
        best = more if better(more, best, parts) else best
    # What was proved for plans without repairs does not hold where repairs may undercut them.
    return replace(_with_alternatives(best, bare), bound=None)


def _without_one(
    task: "_Task", best: Layout, free: frozenset[Fault], params: SolveParams, began: float
) -> tuple[Layout, frozenset[Fault]] | None:
    """A better plan on the same boards without one of the repairs, and the faults it still counts on."""
    on = [board for board in task.boards if board.id in best.boards_used or board.owned]
    places = {(item.part, item.copy): item.board for item in best.placements}
    kept = frozenset(
        (places[item.part, item.copy], name, item.part) for item in best.repairs for name in item.defects
    )
    for repair in sorted(best.repairs, key=lambda item: -item.cost):
        gone = {(places[repair.part, repair.copy], name, repair.part) for name in repair.defects}
        for allowed in (kept - gone, free - gone):
            if _spent(params, began) or task.stopped():
                return None
            ends = inf if params.iterations is not None else began + params.seconds
            limit = replace(part_of(params, _DROP, began), start=best.placements)
            trial = _mended_plan(task, on, allowed, limit, ends)
            if better(trial, best, task.parts):
                return trial, allowed
    return None


def _mended_plan(
    task: "_Task", on: Sequence[Board], free: frozenset[Fault], limit: SolveParams, ends: float
) -> Layout:
    """The best plan found that counts on repairs of these faults, with all of them really made."""
    best: Layout | None = None
    late = False
    wood = Reserve(task.boards, task.parts, task.shop, task.looks, task.locked)
    for _ in range(_TRIES):
        search = replace(limit, mending=mending_of(task.shop, free), prove=False)
        plan = wood.told_apart(task.core(on, wood.all_parts, task.shop, search, locked=wood.all_locked))
        made, left = task.made(plan)
        if left:
            made = without(task.boards, task.parts, task.shop, plan, left, task.looks, task.locked)
        if best is None or better(made, best, task.parts):
            best = made
        if not left or late or task.stopped():
            break
        late = monotonic() > ends  # once more, with the wood held, even so
        if limit.iterations is None:
            # Round what is held there is less to search.
            limit = replace(limit, seconds=min(limit.seconds * _AGAIN, max(ends - monotonic(), _LATE)))
        barred = [item for item in left if not wood.keep(item)]
        free -= {(item.placement.board, item.defect, item.placement.part) for item in barred}
    assert best is not None
    return best


@dataclass(frozen=True)
class _Task:
    """What every plan with repairs has in common."""

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    core: Core
    locked: Sequence[Placement]
    looks: Sequence[Looks]
    should_stop: Callable[[], bool] | None = None

    def stopped(self) -> bool:
        """Whether the maker has asked to stop."""
        return self.should_stop is not None and self.should_stop()

    def made(self, plan: Layout) -> tuple[Layout, tuple[Unmended, ...]]:
        """The plan with its repairs really made, and the parts that stay with a fault."""
        return carried_out(self.boards, self.parts, self.shop, plan, self.looks)


def without(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    plan: Layout,
    left: Sequence[Unmended],
    looks: Sequence[Looks] = (),
    locked: Sequence[Placement] = (),
) -> Layout:
    """The plan less the parts whose faults cannot be made good; locked ones stay."""
    fixed = {(item.part, item.copy) for item in locked}
    while left:
        gone = {(item.placement.part, item.placement.copy): item for item in left}
        gone = {key: item for key, item in gone.items() if key not in fixed}
        if not gone:
            break
        rest = tuple(item for item in plan.placements if (item.part, item.copy) not in gone)
        told = tuple(
            Unplaced(part, copy, f"On board {item.placement.board}: {item.reason}.")
            for (part, copy), item in gone.items()
        )
        plan = replace(plan, placements=rest, unplaced=(*plan.unplaced, *told), repairs=())
        plan = with_cuts(plan, boards, parts, shop)
        plan, left = carried_out(boards, parts, shop, plan, looks)
    return plan


def _mendable(boards: Sequence[Board], parts: Sequence[Part], shop: Shop) -> frozenset[Fault]:
    """Faults that some repair could meet, each with the part it could meet it in."""
    if not shop.repairs.allowed:
        return frozenset()
    return frozenset(
        (board.id, defect.id, part.name)
        for board in boards
        for defect in board.defects
        for part in parts
        if not board.forbidden
        and defect.wish is Wish.MAY_HIDE
        and any(mendable(board, part, defect, side, shop) is not None for side in PartSide)
    )


def _rank(layout: Layout, parts: Sequence[Part]) -> tuple[float, float, int]:
    listed = {part.name: part for part in parts}
    missing = sum(
        listed[item.part].length * listed[item.part].width * 10.0 ** listed[item.part].priority
        for item in layout.unplaced
        if item.part in listed
    )
    return missing, round(layout.cost, 2), len(layout.repairs)


def _with_alternatives(best: Layout, bare: Layout) -> Layout:
    """The layout with what would be done without each repair: the part left out, or the whole job dearer."""
    missing = {(item.part, item.copy) for item in bare.unplaced}
    boards = ", ".join(bare.boards_used)
    dear = f"The job costs {bare.cost:.2f} and takes boards {boards}."
    if missing:
        names = ", ".join(f"{item.part} {item.copy}" for item in bare.unplaced[:3])
        more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
        dear = f"There is no place for {names}{more}."
    told = tuple(
        replace(
            item,
            alternative=f"There is no place for {item.part} {item.copy}."
            if (item.part, item.copy) in missing
            else dear,
        )
        for item in best.repairs
    )
    return replace(best, repairs=told)


def part_of(params: SolveParams, share: float, began: float, least: float = 0.0) -> SolveParams:
    """A share of the limit and no more than is left of it, but never less than the share `least`."""
    if params.iterations is not None:
        rounds = max(int(params.iterations * share), min(params.iterations, _LEAST_ROUNDS))
        return replace(params, iterations=rounds)
    left = max(params.seconds - (monotonic() - began), 0.0)
    return replace(params, seconds=max(min(params.seconds * share, left), params.seconds * least))


def _spent(params: SolveParams, began: float) -> bool:
    return params.iterations is None and monotonic() - began > params.seconds
