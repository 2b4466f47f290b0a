"""The way in: boards, parts and shop to the best layout found in the time given."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import inf
from random import Random
from time import monotonic

from layout.allowances import Sawing, Shop
from layout.cost import money_for
from layout.cuts import Box
from layout.parts import Part
from layout.placement import Bound, Layout, Placement, Unplaced
from layout.poses import poses
from layout.solve.by_area import BY_AREA, area_bound
from layout.solve.construct import Draft, draft_from
from layout.solve.explain import UNEXPLAINED, explained
from layout.solve.family import Books, missing_staves
from layout.solve.glued import Task, is_glued, with_glue_ups
from layout.solve.job import Job, job_of
from layout.solve.mended import with_repairs
from layout.solve.params import SolveParams
from layout.solve.prover import Prover, draft_of, is_ready, pieces_of
from layout.solve.result import layout_of
from layout.solve.search import searched
from layout.solve.slab_loops import load
from layout.solve.steps import MOST_BOARDS, sharing, usable_cores, work_beside
from layout.solve.stop import Stop
from layout.solve.whynot import enough, reason_for
from layout.stock import Board

__all__ = ["Progress", "plan", "plan_sawn"]

_PATIENCE = 0.1  # share of the limit that a first bound is waited for when the search has ended
_LEAST_PATIENCE, _MOST_PATIENCE = 0.5, 1.5  # but at least and at most so long [s]
_WAITING, _MOST_WAITING = 0.5, 8.0  # share of the limit that plans soon found are waited for, and most [s]
_LOOK = 0.05  # between two looks whether the maker has asked to stop [s]
_WHY = 0.05  # share of the limit for reasons of parts without a place
_LEAST_WHY = 0.5  # but at least so long [s]
_LEAST_PROOF = 1.0  # a shorter search is over before a proof could begin [s]


@dataclass(frozen=True)
class Progress:
    """What a search has reached.

    Parameters
    ----------
    seconds : float
        Since the start [s].
    placed, wanted : int
        Copies.
    cost : float
        Money for the boards used.
    sketch : tuple of (str, str, float, float)
        Board, part, x and y of the sawn piece, of what was placed so far [mm]:
        enough for a picture while one waits.
    """

    seconds: float
    placed: int
    wanted: int
    cost: float
    sketch: tuple[tuple[str, str, float, float], ...] = ()


def plan(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    params: SolveParams | None = None,
    *,
    locked: Sequence[Placement] = (),
    on_progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Layout:
    """The best layout found in the time given; the longer, the cheaper.

    Parameters
    ----------
    boards : sequence of Board
        Forbidden ones are left alone.
    parts : sequence of Part
    shop : Shop
    params : SolveParams, optional
    locked : sequence of Placement
        Put there by the maker, or sawn already: kept exactly.
    on_progress : function, optional
        Told of every better plan.
    should_stop : function, optional
        Asked often; the best plan so far is returned soon after it says yes.

    Returns
    -------
    Layout
        Every copy is either placed or listed as unplaced with its reason.
    """
    params = params or SolveParams()
    core = partial(plan_sawn, on_progress=on_progress, should_stop=should_stop)

    if not is_glued(parts, shop) and not shop.repairs.allowed:
        return core(boards, parts, shop, params, locked=locked)
    search = replace(params, explain=False)

    def finish(sawn: Sequence[Part], limit: SolveParams, fixed: Sequence[Placement]) -> Layout:
        if not shop.repairs.allowed:
            return core(boards, sawn, shop, limit, locked=fixed)
        # One second process for all plans of it: what it finds late still brings a plan.
        prover = _prover(boards, sawn, shop, limit, fixed, repairs=True)
        ends = monotonic() + (1.0 + _PATIENCE) * limit.seconds

        def offers(below: float) -> bool:
            if prover is None:
                return False
            while prover.searches and prover.works() and monotonic() < ends:
                if should_stop is not None and should_stop():
                    break
                prover.wait(_LOOK)
            return prover.offers(below)

        try:
            return with_repairs(
                *(boards, sawn, shop, limit, partial(core, beside=prover)),
                locked=fixed,
                looks=limit.looks,
                should_stop=should_stop,
                offers=offers,
            )
        finally:
            if prover is not None:
                prover.close()

    if is_glued(parts, shop):
        layout = with_glue_ups(Task(boards, parts, shop, core, finish, tuple(locked), should_stop), search)
    else:
        layout = finish(parts, search, locked)
    given_up = should_stop is not None and should_stop()
    if _proves(params) and not given_up:
        layout = _with_area_bound(layout, boards, parts, shop)
    return explained(layout, boards, parts, shop) if params.explain and not given_up else layout


def plan_sawn(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    params: SolveParams,
    *,
    locked: Sequence[Placement] = (),
    on_progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    beside: Prover | None = None,
) -> Layout:
    """The best layout of parts as they are sawn: no glue-ups, and repairs only as `params.mending` says.

    A proof of the same job that goes on `beside` several searches is listened to, and left running.
    """
    listens = beside is not None and params.prove and params.mending is None
    prover = beside if listens else _prover(boards, parts, shop, params, locked)
    try:
        load()  # while the other processes begin
        stop = Stop(params, should_stop)
        wanted = Books(parts, params.families).wanted(locked)
        job = job_of(boards, parts, shop, wanted, params.mending, locked, params.families)
    except BaseException:
        if prover is not None and not listens:
            prover.close()
        raise

    def report(draft: Draft) -> None:
        # With repairs the others search as if none were allowed: plans told would lead them elsewhere.
        if prover is not None and not listens and not any(draft.missing):
            prover.tell(pieces_of(job, draft))
        if on_progress is not None:
            placed = [n - left for n, left in zip(wanted, draft.missing, strict=True)]
            done = sum(placed[: len(parts)])
            sketch = tuple(pieces_of(job, draft))
            on_progress(Progress(stop.elapsed(), done, sum(wanted[: len(parts)]), draft.money(job), sketch))

    try:
        paid = money_for(board for board in boards if board.id in {item.board for item in locked})
        is_best = None if prover is None else lambda money: prover.meets(money + paid)
        start = draft_from(job, params.start) if params.start else None
        told = None if prover is None else partial(_told, job, prover, paid)
        draft = searched(
            *(job, stop, Random(params.seed), report, is_best, start, told),
            waits=lambda: (
                not listens
                and prover is not None
                and prover.is_waited_for
                and stop.elapsed() < min(_WAITING * params.seconds, _MOST_WAITING)
            ),
        )
    finally:
        patience = min(max(_PATIENCE * params.seconds, _LEAST_PATIENCE), _MOST_PATIENCE)
        bound = None if prover is None else prover.first(0.0 if listens or stop.cancelled() else patience)
        if prover is not None and not listens:
            prover.close()
    seconds = max(_WHY * params.seconds, _LEAST_WHY) if params.explain and not stop.cancelled() else 0.0
    reasons = _reasons(job, draft, boards, parts, locked, inf if seconds and stop.counted else seconds)
    layout = layout_of(job, draft, boards, parts, locked, reasons, params.seed, params.mending)
    of_class = prover is not None and prover.of_class
    layout = _with_bound(layout, bound, of_class, shop, of_class and _tilted(boards, parts, shop))
    return layout if prover is None or stop.cancelled() else _with_area_bound(layout, boards, parts, shop)


def _prover(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    params: SolveParams,
    locked: Sequence[Placement],
    repairs: bool = False,
) -> Prover | None:
    """Other processes that look for a bound or a cheaper plan, where there is time for them."""
    if not _proves(params) or params.mending is not None or params.families:
        return None
    copies = sum(Books(parts, ()).wanted(locked))
    listed = sum(not board.forbidden for board in boards) <= MOST_BOARDS
    cores, loaded = usable_cores(), is_ready()
    work = work_beside(
        *(shop.sawing, copies, params.seconds), cores=cores, listed=listed, repairs=repairs, loaded=loaded
    )
    shares = sharing(work, copies, cores=cores, listed=listed, repairs=repairs, loaded=loaded)
    seed = params.seed if repairs else params.seed + 1
    return Prover(boards, parts, shop, locked, work, seed, shares)


def _told(job: Job, prover: Prover, paid: float, below: float) -> Draft | None:
    """The plan the second process found since it was asked last, if it costs less and holds."""
    pieces = prover.plan(below + paid)
    return None if pieces is None else draft_of(job, pieces)


def _proves(params: SolveParams) -> bool:
    """Whether a bound is looked for, and there is time for it."""
    return params.prove and params.iterations is None and params.seconds >= _LEAST_PROOF


def _with_area_bound(layout: Layout, boards: Sequence[Board], parts: Sequence[Part], shop: Shop) -> Layout:
    """The layout with the weakest bound, where it has no other: with repairs, and staves of free width."""
    if layout.bound is not None or layout.unplaced:
        return layout
    held = {item.board for item in layout.placements if item.locked}
    least = area_bound(boards, parts, shop, tuple(held))
    if least is None:
        return layout
    proved = layout.cost <= least + 0.005
    return replace(layout, bound=Bound(min(least, layout.cost), shop.sawing, proved, BY_AREA))


def _tilted(boards: Sequence[Board], parts: Sequence[Part], shop: Shop) -> bool:
    """Whether pieces lie tilted on some of the boards."""
    return any(pose.tilt for board in boards for part in parts for pose in poses(part, board, shop, 1)[:1])


def _with_bound(layout: Layout, bound: float | None, of_class: bool, shop: Shop, tilted: bool) -> Layout:
    """The layout with the bound, if it places every part; a bound holds for whole plans only.

    What is printed says of which plans: those of the shop's order of straight cuts; those of
    any straight cuts, which part pieces by a full kerf along or across; or, for the band saw, all.
    Where a board's grain asks for tilted pieces, of those that are tilted no more than that.
    """
    if bound is None or layout.unplaced:
        return layout
    proved = layout.cost <= bound + 0.005
    others = "however sawn" if shop.sawing is Sawing.BAND_SAW else "by any straight cuts"
    how = f"{shop.sawing.value} in {shop.stages} stages" if of_class else others
    how += ", pieces tilted no more than their grain asks" if tilted else ""
    method = f"no choice of cheaper boards holds all parts, {how}"
    return replace(layout, bound=Bound(min(bound, layout.cost), shop.sawing, proved, method))


def _reasons(
    job: Job,
    draft: Draft,
    boards: Sequence[Board],
    parts: Sequence[Part],
    locked: Sequence[Placement],
    seconds: float,
) -> list[Unplaced]:
    """Every copy without a place, with what can be found out in that time of why."""
    if not any(draft.missing):
        return []
    until = monotonic() + seconds
    here = {board.id: number for number, board in enumerate(job.boards)}
    taken = [
        [*job.taken[here[board.id]], *_boxes(job, draft, here[board.id])] if board.id in here else []
        for board in boards
    ]
    found = []
    for number, part in enumerate(parts):
        if draft.missing[number]:
            reason = UNEXPLAINED
            if monotonic() < until:
                every = zip(job.boards, job.maps, strict=True)
                open_to = enough(board.id for board, maps in every if maps[number].anywhere)
                reason = reason_for(part, boards, job.shop, taken, open_to)
            held = {item.copy for item in locked if item.part == part.name}
            free = [copy for copy in range(1, part.quantity + 1) if copy not in held]
            found += [Unplaced(part.name, copy, reason) for copy in free[len(free) - draft.missing[number] :]]
    return [*found, *missing_staves(job.books, draft.missing, UNEXPLAINED)]


def _boxes(job: Job, draft: Draft, board: int) -> list[Box]:
    filling = draft.fillings.get(board)
    if filling is None:
        return []
    sizes = job.maps[board].sizes
    return [(x, y, x + sizes[part][0], y + sizes[part][1]) for part, x, y in filling.places]
