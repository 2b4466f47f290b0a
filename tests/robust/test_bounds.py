"""Whatever bound a layout of a random job carries: no layout of its class that anybody finds costs less.

The layouts it is held against come from other seeds, fewer rounds, and the same
job planned without looking for a bound. What the proof itself found is listened
to as well, before it is rounded and put on the layout: a bound above the layout's
own cost is a mistake that rounding it down would hide.
"""

from dataclasses import replace
from random import Random

import pytest

from layout.errors import LayoutError
from layout.placement import Layout, Placement
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.prover import Prover
from tests.robust.random_jobs import RandomJob, random_job
from tests.robust.sizes import ROUND, few_or_many, hang_after

CENT = 0.005
SECONDS = 1.2  # enough for the proof to be begun
QUICK = (5013,)  # a small job that carries a bound


def planned(job: RandomJob, params: SolveParams, locked: tuple[Placement, ...] = ()) -> Layout | None:
    """A plan that places everything; None where there is none."""
    try:
        layout = plan(job.boards, job.parts, job.shop, params, locked=locked)
    except LayoutError:
        return None
    return None if layout.unplaced else layout


def with_room(job: RandomJob, chance: Random) -> RandomJob:
    """The job with more boards and without the parts that find no place: a bound is for whole plans only."""
    more = random_job(chance.randrange(100_000, 200_000)).boards
    boards = [*job.boards, *(replace(board, id=f"more {board.id}") for board in more)]
    repairs = replace(job.shop.repairs, allowed=job.shop.repairs.allowed and chance.random() < 0.4)
    job = replace(
        job,
        boards=tuple(replace(board, forbidden=False) for board in boards),
        parts=tuple(replace(part, same_board_as=None) for part in job.parts),
        shop=replace(job.shop, repairs=repairs),
    )
    quick = SolveParams(iterations=2, prove=False, explain=False)
    without = {one.part for one in plan(job.boards, job.parts, job.shop, quick).unplaced}
    return replace(job, parts=tuple(part for part in job.parts if part.name not in without))


class Told:
    """What the proofs said while plans were made."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.bounds: list[float] = []
        told, close = self.bounds, Prover.close

        def listened(prover: Prover) -> None:
            if prover.bound is not None:
                told.append(prover.bound)
            close(prover)

        monkeypatch.setattr(Prover, "close", listened)


def wrong_with(layout: Layout, others: list[Layout]) -> list[str]:
    """What is wrong with a layout's bound, held against other layouts of the same job."""
    bound = layout.bound
    if bound is None:
        return []
    wrong = []
    if bound.sawing is not layout.sawing:
        wrong.append(f"a bound for {bound.sawing} on a layout sawn {layout.sawing}")
    if not bound.method.strip():
        wrong.append("a bound that does not say how it was proved")
    if bound.proved != (layout.cost <= bound.cost + CENT):
        wrong.append(f"proved is {bound.proved}: cost {layout.cost}, bound {bound.cost}")
    wrong += [
        f"the bound is {bound.cost} ({bound.method}); seed {other.seed} costs {other.cost}"
        for other in (layout, *others)
        if other.cost < bound.cost - CENT
    ]
    return wrong


def one_bound(seed: int, told: Told) -> tuple[int, list[str]]:
    """How many bounds were held against layouts, and what is wrong with them."""
    chance = Random(seed)
    try:
        job = with_room(random_job(seed), chance)
    except LayoutError:
        return 0, []
    told.bounds.clear()
    layout = planned(job, SolveParams(seconds=SECONDS, seed=seed))
    if layout is None:
        return 0, []
    found = list(told.bounds)
    rounds = [SolveParams(iterations=number, seed=seed + number) for number in (1, 20)]
    others = [other for params in rounds if (other := planned(job, params)) is not None]
    wrong = wrong_with(layout, others)
    plain = not job.shop.repairs.allowed and not layout.glue_ups
    if plain:  # of one piece, without repairs: every proof was about just these layouts
        least = min(other.cost for other in (layout, *others))
        wrong += [f"proved in passing: {bound}; found: {least}" for bound in found if bound > least + CENT]
    if plain and layout.placements:
        kept = tuple(replace(item, locked=True) for item in layout.placements if chance.random() < 0.4)
        again = planned(job, SolveParams(seconds=SECONDS, seed=seed), kept)
        if again is not None:
            # Where the locked pieces lie is where the first layout has them: it is of that class too.
            wrong += [f"with pieces locked: {one}" for one in wrong_with(again, [layout])]
    return int(layout.bound is not None), wrong


@few_or_many(1, 300)
def test_no_layout_undercuts_the_bound_of_another(cases: int, monkeypatch: pytest.MonkeyPatch) -> None:
    told = Told(monkeypatch)
    for patience in ("_LEAST_PATIENCE", "_MOST_PATIENCE"):  # a busy machine shall not save a bad bound
        monkeypatch.setattr(f"layout.solve.plan.{patience}", 60.0)
    wrong: dict[int, list[str]] = {}
    held = 0
    first = 5000 + ROUND * cases
    for seed in QUICK[:cases] if cases <= len(QUICK) else range(first, first + cases):
        with hang_after(600, f"job {seed}"):
            bounds, found = one_bound(seed, told)
        held += bounds
        if found:
            wrong[seed] = found
    print(f"{held} bounds of {cases} jobs held against other layouts")
    assert wrong == {}
    assert held > 0, "not one job carried a bound"


def test_a_bound_that_is_too_high_is_found_out() -> None:
    from layout.allowances import Sawing
    from layout.placement import Bound

    layout = Layout(cost=40.0, bound=Bound(40.0, Sawing.CROSSCUT_FIRST, True, "counted"))
    assert wrong_with(layout, [replace(layout, cost=45.0)]) == []
    assert len(wrong_with(layout, [replace(layout, cost=38.0, seed=3)])) == 1
    assert len(wrong_with(replace(layout, cost=39.0), [])) == 1
    assert len(wrong_with(replace(layout, sawing=Sawing.RIP_FIRST), [])) == 1
    assert len(wrong_with(replace(layout, cost=41.0), [])) == 1
