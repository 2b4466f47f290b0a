"""Planning with repairs: "patch it" competes with "use another board".

1. The best plan without repairs, with the larger share of the time.
2. A plan that may lay parts on any fault a repair could meet there
   (`layout.repair.where`), at the price of the cheapest one; then the repairs are
   made for good (`layout.repair.carry_out`). A fault that could not be met after
   all is barred again, and the plan made anew.
3. Repairs not worth their price are dropped one by one: without the dearest,
   is there a plan on the same boards that costs less?

The best of all of them is the answer, so that a plan with repairs is never
dearer than the plan of step 1.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from time import monotonic
from typing import Protocol

from layout.allowances import Shop
from layout.parts import Part, PartSide
from layout.placement import Layout, Placement
from layout.repair.carry_out import carried_out
from layout.repair.looks import Looks
from layout.repair.where import mendable, mending_of
from layout.solve.params import SolveParams
from layout.stock import Board, Wish

__all__ = ["Core", "better", "part_of", "with_repairs"]

_BASE = 0.55  # share of the time for the plan without repairs
_TRIES = 6  # plans made anew because a repair could not be made
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
) -> Layout:
    """The best layout with the shop's repairs allowed; without them if they do not pay.

    Parameters
    ----------
    boards, parts, shop, params, locked
        As for `layout.solve.plan.plan`; parts as they are sawn.
    core : Core
    looks : sequence of Looks
        Colour and grain, where measured, for choosing donors.
    """
    began = monotonic()
    first = params if params.iterations is not None else replace(params, seconds=params.seconds * _BASE)
    best = bare = core(boards, parts, shop, first, locked=locked)
    free = _mendable(boards, parts, shop)
    if not free:
        return best

    def tried(on: Sequence[Board], allowed: frozenset[tuple[str, str]], share: float) -> Layout | None:
        if _spent(params, began):
            return None
        limit = part_of(params, share, began)
        return _mended_plan(on, parts, shop, limit, core, locked, looks, allowed, bare)

    if (trial := tried(boards, free, 0.25)) is not None and better(trial, best, parts):
        best = trial
    for _ in range(_DROPS):
        if not best.repairs or _spent(params, began):
            break
        cheaper = _without_one(best, boards, parts, free, tried)
        if cheaper is None:
            break
        best, free = cheaper
    # What was proved for plans without repairs does not hold where repairs may undercut them.
    return replace(best, bound=None)


def _without_one(
    best: Layout,
    boards: Sequence[Board],
    parts: Sequence[Part],
    free: frozenset[tuple[str, str]],
    tried: Callable[[Sequence[Board], frozenset[tuple[str, str]], float], Layout | None],
) -> tuple[Layout, frozenset[tuple[str, str]]] | None:
    """A better plan on the same boards without one of the repairs, and the faults it still counts on."""
    on = [board for board in boards if board.id in best.boards_used or board.owned]
    places = {(item.part, item.copy): item.board for item in best.placements}
    kept = frozenset((places[item.part, item.copy], name) for item in best.repairs for name in item.defects)
    for repair in sorted(best.repairs, key=lambda item: -item.cost):
        gone = {(places[repair.part, repair.copy], name) for name in repair.defects}
        for allowed in (kept - gone, free - gone):
            trial = tried(on, allowed, 0.05)
            if trial is not None and better(trial, best, parts):
                return trial, allowed
    return None


def _mended_plan(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    params: SolveParams,
    core: Core,
    locked: Sequence[Placement],
    looks: Sequence[Looks],
    free: frozenset[tuple[str, str]],
    bare: Layout,
) -> Layout | None:
    """A plan that counts on repairs of these faults, with all of them really made; None if some cannot be."""
    for number in range(_TRIES):
        if number and params.iterations is None and params.seconds <= 0:
            break
        mending = mending_of(shop, free)
        plan = core(boards, parts, shop, replace(params, mending=mending, prove=False), locked=locked)
        made, left = carried_out(boards, parts, shop, plan, looks, _without(bare))
        if not left:
            return made
        free -= {(item.placement.board, item.defect) for item in left}
    return None


def _mendable(boards: Sequence[Board], parts: Sequence[Part], shop: Shop) -> frozenset[tuple[str, str]]:
    """Faults that some repair could meet in some part."""
    if not shop.repairs.allowed:
        return frozenset()
    return frozenset(
        (board.id, defect.id)
        for board in boards
        if not board.forbidden
        for defect in board.defects
        if defect.wish is Wish.MAY_HIDE
        and any(mendable(board, part, defect, side, shop) is not None for part in parts for side in PartSide)
    )


def _rank(layout: Layout, parts: Sequence[Part]) -> tuple[float, float, int]:
    listed = {part.name: part for part in parts}
    missing = sum(
        listed[item.part].length * listed[item.part].width * 10.0 ** listed[item.part].priority
        for item in layout.unplaced
        if item.part in listed
    )
    return missing, round(layout.cost, 2), len(layout.repairs)


def _without(bare: Layout) -> str:
    if bare.unplaced:
        names = ", ".join(f"{item.part} {item.copy}" for item in bare.unplaced[:3])
        return f"Without repairs there is no place for {names}."
    boards = ", ".join(bare.boards_used)
    return f"Without repairs the job costs {bare.cost:.2f} and takes boards {boards}."


def part_of(params: SolveParams, share: float, began: float) -> SolveParams:
    """A share of the limit, and no more than is left of it."""
    if params.iterations is not None:
        return replace(params, iterations=max(int(params.iterations * share), 1))
    left = max(params.seconds - (monotonic() - began), 0.0)
    return replace(params, seconds=min(params.seconds * share, left))


def _spent(params: SolveParams, began: float) -> bool:
    return params.iterations is None and monotonic() - began > params.seconds
