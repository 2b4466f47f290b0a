"""How near plans come to what no plan of their class of sawing can undercut. Run by hand:

    pytest tests/bench/test_class_bounds.py -m bench -s

"greedy" is first fit decreasing in the class; "search" the search alone for 10 s; "ours" the
better of it and what the bound's own process found beside it; "any" the quick bound for any
sawing; "class" the bound for the class after 20 s (BENCH_BOUND_SECONDS). A star: the plan is proved cheapest.
Seconds are those of one core, so that a busy machine measures the same. "few" are jobs of
10 to 14 pieces on 4 to 6 boards, of which a goal speaks: -k few.
"""

import os
import time
from collections.abc import Mapping, Sequence
from functools import partial

import numpy as np
import pytest

from layout.allowances import Sawing
from layout.solve.bound import outside_of, question_of, quick_bound
from layout.solve.construct import boards_by_value, first_draft, parts_by_size
from layout.solve.exactly import nested_bounds
from layout.solve.filling import Filler
from layout.solve.job import job_of
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.setwise import SetBySet
from layout.solve.steps import MOST_COPIES, SOON
from layout.solve.straight import straight_bounds
from tests.bench.jobs import FEW, a_case

pytestmark = pytest.mark.bench

SECONDS = float(os.environ.get("BENCH_BOUND_SECONDS", "20"))
SEEDS = {FEW: range(12), "small": range(12), "medium": range(4), "large": range(2)}
CLASSES = (
    (Sawing.RIP_FIRST, 3),
    (Sawing.RIP_FIRST, 2),
    (Sawing.CROSSCUT_FIRST, 3),
    (Sawing.CROSSCUT_FIRST, 2),
    (Sawing.BAND_SAW, 3),
)


@pytest.fixture(autouse=True)
def _seconds_of_one_core(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layout.solve.stop.monotonic", time.process_time)
    monkeypatch.setattr("layout.solve.straight.monotonic", time.process_time)
    monkeypatch.setattr("layout.solve.within.monotonic", time.process_time)
    monkeypatch.setattr("layout.solve.exactly.monotonic", time.process_time)
    monkeypatch.setattr("layout.solve.setwise.monotonic", time.process_time)


@pytest.mark.parametrize(("sawing", "stages"), CLASSES)
@pytest.mark.parametrize("size", list(SEEDS))
def test_gap_in_class(size: str, sawing: Sawing, stages: int) -> None:
    free = sawing is Sawing.BAND_SAW
    if free and size not in (FEW, "small"):
        pytest.skip("without a rule of cutting only small jobs have more than the quick bound")
    print(f"\n{size}, {sawing.value}, {stages} stages: greedy | search | ours | any | class | gap | after")
    gaps, proved = [], 0
    for seed in SEEDS[size]:
        case = a_case(size, seed, sawing, stages)
        job = job_of(case.boards, case.parts, case.shop)
        greedy = first_draft(job, Filler(job), parts_by_size(job), boards_by_value(job)).money(job)
        ours = plan(case.boards, case.parts, case.shop, SolveParams(prove=False, explain=False))
        question = question_of(case.boards, case.parts, case.shop)
        any_of_all = quick_bound(question) or 0.0
        best, after, start = any_of_all, 0.0, time.process_time()
        known, beside = outside_of(question), [ours.cost]
        known.costs_at_least(any_of_all)

        def told(places: Mapping[int, object], prices: Sequence[float], beside: list[float] = beside) -> None:
            beside.append(sum(prices[board] for board in places))

        on_layout = partial(told, prices=known.money)
        # Of many pieces plans are looked for set by set, as beside a plan of the user's.
        copies = sum(part.quantity for part in case.parts)
        job_asked = case.boards, case.parts, case.shop
        sets = SetBySet(*job_asked, known.wanted, on_layout, None, partial(min, beside))
        look, hints = None, []
        if copies > MOST_COPIES and not free:
            sets.look_soon(SOON * SECONDS)
            look, hints = sets.look, sets.seen
        left = SECONDS - (time.process_time() - start)
        bounds = (
            nested_bounds(*job_asked, known, 0.0, left, None, on_layout)
            if free
            else straight_bounds(*job_asked, known, 0.0, left, None, on_layout, look, hints)
        )
        for money in bounds:
            if money is not None and money > best + 0.005:
                best, after = money, time.process_time() - start
        took = time.process_time() - start
        if ours.unplaced:
            print(f"  {seed}: {len(ours.unplaced)} parts without a place")
            continue
        cost = min(beside)
        assert best <= cost + 0.005
        gaps.append(100 * max(1 - best / cost, 0.0))
        proved += cost <= best + 0.005
        star = "*" if cost <= best + 0.005 else ""
        print(
            f"  {seed}: {greedy:.1f} | {ours.cost:.1f} | {cost:.1f}{star} | {any_of_all:.1f} | {best:.1f}"
            f" | {gaps[-1]:.1f} % | {after:.1f} of {took:.1f} s"
        )
    print(f"  mean gap {np.mean(gaps):.1f} %, worst {max(gaps):.1f} %; proved {proved} of {len(gaps)}")
