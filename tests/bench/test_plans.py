"""How good plans are, and how fast: tables on seeded jobs of our own. Run by hand:

    pytest tests/bench/test_plans.py -m bench -s

"greedy" is first fit decreasing, parts by size and boards by price for their wood,
nested freely, whatever the saw; "bound" is what no layout can undercut, of the class
where that is straight cuts. Costs are money; a star marks a plan proved cheapest.
Seconds are those of one core (the search runs on one; the proof has another, by the
clock), so that a busy machine measures the same. A search goes through the drafts of a
shorter one and further, so one search tells what shorter limits have. Nothing asserts a
time: only that every plan holds and that none is dearer after 10 s than greedy, or,
on real boards, than first fit by its own saw where that is dearer.

`BENCH_JOBS=3 BENCH_SECONDS=10` before the command asks for fewer jobs and a shorter limit.
"""

import os
import time
from collections.abc import Sequence
from dataclasses import replace
from math import inf
from pathlib import Path
from random import Random

import numpy as np
import pytest

from layout.allowances import Sawing
from layout.check import violations
from layout.placement import Layout
from layout.solve.construct import boards_by_value, draft_from, first_draft, parts_by_size
from layout.solve.filling import Filler
from layout.solve.guillotine import best_with_cuts
from layout.solve.improve import Walk
from layout.solve.job import job_of
from layout.solve.market import Market
from layout.solve.nested_plate import best_without_cuts
from layout.solve.params import SolveParams
from layout.solve.plan import Progress, plan
from layout.solve.pool import Pool
from layout.solve.prover import is_ready, keep_ready
from layout.solve.stop import Stop
from layout.solve.targets import Targets, made_of
from layout.stock import Board
from tests.bench import plates
from tests.bench.board_maps import mapped_case
from tests.bench.jobs import Case, a_board, a_case

pytestmark = pytest.mark.bench

SEEDS = range(int(os.environ.get("BENCH_JOBS", "6")))
LONGEST = float(os.environ.get("BENCH_SECONDS", "60"))
LIMITS = tuple(limit for limit in (1.0, 3.0, 10.0, 60.0) if limit <= LONGEST)
SIZES = ("small", "medium", "large")


@pytest.fixture(autouse=True)
def _seconds_of_one_core(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layout.solve.stop.monotonic", time.process_time)


def greedy(case: Case, sawing: Sawing = Sawing.BAND_SAW) -> float:
    job = job_of(case.boards, case.parts, replace(case.shop, sawing=sawing))
    return first_draft(job, Filler(job), parts_by_size(job), boards_by_value(job)).money(job)


def planned(case: Case, seconds: float, told: list[Progress] | None = None, **rest: object) -> Layout:
    params = SolveParams(seconds=seconds, **rest)  # type: ignore[arg-type]
    layout = plan(
        case.boards, case.parts, case.shop, params, on_progress=None if told is None else told.append
    )
    assert violations(case.boards, case.parts, case.shop, layout) == ()
    return layout


def at(told: Sequence[Progress], limit: float) -> float:
    """Cost of the best whole plan of a search of so many seconds, whose last tenth is for the later goals."""
    whole = [item.cost for item in told if item.placed == item.wanted and item.seconds <= 0.88 * limit]
    return min(whole, default=inf)


@pytest.mark.parametrize("sawing", list(Sawing))
@pytest.mark.parametrize("size", SIZES)
def test_plans_by_time(size: str, sawing: Sawing) -> None:
    cases = [a_case(size, seed, sawing) for seed in SEEDS]
    _table(f"{size}, {sawing.value}", cases, [greedy(case) for case in cases])


@pytest.mark.data
@pytest.mark.parametrize("sawing", list(Sawing))
@pytest.mark.parametrize("size", SIZES)
def test_plans_on_real_boards_by_time(shared_data: Path, size: str, sawing: Sawing) -> None:
    """The same on boards of the scans, whose every labelled mark counts as a fault of the front.

    What first fit pays for boards nested freely may be less than straight cuts can do with there.
    """
    cases = [mapped_case(shared_data, size, seed, sawing) for seed in SEEDS]
    most = [max(greedy(case), greedy(case, sawing)) for case in cases]
    _table(f"real boards, {size}, {sawing.value}", cases, most)


def _table(what: str, cases: Sequence[Case], most: Sequence[float]) -> None:
    print(f"\n{what}: greedy | " + " | ".join(f"{s:g} s" for s in LIMITS) + " | bound")
    bases, rows, near = [], [], []
    for case, limit in zip(cases, most, strict=True):
        told: list[Progress] = []
        base = greedy(case)
        layout = planned(case, LIMITS[-1], told, explain=False)
        found = [*(at(told, limit) for limit in LIMITS[:-1]), layout.cost]
        print(f"  {case.name}: {base:.1f} | " + _row(found, layout), flush=True)
        assert at(told, max(LIMITS[-1], 10.0)) <= limit + 1e-6
        bases.append(base)
        rows.append(found)
        near.append(next(item.seconds for item in told if item.cost <= 1.02 * found[-1] + 1e-6))
    costs, greedily = np.array(rows), np.array(bases)[:, None]
    say = ", ".join(f"{value:.1f}" for value in 100 * (1 - costs / greedily).mean(axis=0))
    above = ", ".join(f"{value:.1f}" for value in 100 * (costs / costs[:, -1:] - 1).mean(axis=0))
    print(f"  saved against greedy, mean {say} %; above the last, mean {above} %")
    print(f"  dearer than greedy: {(costs > greedily + 1e-6).sum(axis=0).tolist()} of {len(rows)}")
    print(f"  within 2 % of its end after {np.median(near):.1f} s (median), {max(near):.1f} s (worst)")


def _row(found: Sequence[float], layout: Layout) -> str:
    bound, missing = layout.bound, len(layout.unplaced)
    costs = " | ".join(f"{cost:.1f}" for cost in found) + ("*" if bound is not None and bound.proved else "")
    least = "none" if bound is None else f"{bound.cost:.1f}"
    return f"{costs} | {least}" + (f" ({missing} missing)" if missing else "")


@pytest.mark.parametrize("sawing", list(Sawing))
@pytest.mark.parametrize("size", SIZES)
def test_plans_by_the_clock(size: str, sawing: Sawing, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the page plans: two cores or more, and the processes beside the search loaded before it begins."""
    monkeypatch.undo()
    seconds, rows, near = min(LONGEST, 10.0), [], []
    keep_ready()
    print(
        f"\n{size}, {sawing.value}, by the clock: 1 s | 3 s | {seconds:g} s | bound | within 2 % of its end"
    )
    for seed in SEEDS:
        _wait_until_ready()
        told: list[Progress] = []
        layout = planned(a_case(size, seed, sawing), seconds, told, explain=False)
        whole = [(item.seconds, item.cost) for item in told if item.placed == item.wanted]
        found = [min((cost for at, cost in whole if at <= limit), default=inf) for limit in (1.0, 3.0)]
        near.append(next(at for at, cost in whole if cost <= 1.02 * layout.cost + 1e-6))
        print(f"  {seed}: {_row([*found, layout.cost], layout)} | {near[-1]:.1f} s", flush=True)
        rows.append((layout.cost, 1.0 - (layout.bound.cost / layout.cost if layout.bound else 0.0)))
    costs, gaps = np.array(rows).T
    print(f"  mean {costs.mean():.2f}, {100 * gaps.mean():.1f} % above the bound")
    print(f"  within 2 % of its end after {np.median(near):.1f} s (median), {max(near):.1f} s (worst)")


def _wait_until_ready() -> None:
    for _ in range(600):
        if not is_ready():
            time.sleep(0.1)
    assert is_ready()


@pytest.mark.parametrize("sawing", list(Sawing))
@pytest.mark.parametrize("size", SIZES)
def test_planning_again_by_the_clock(size: str, sawing: Sawing, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the page plans again: two boards held (one, where two are used), one barred."""
    monkeypatch.undo()
    keep_ready()
    print(f"\n{size}, {sawing.value}, planned again by the clock: 2 s | from nothing, 10 s | seconds taken")
    above = []
    for seed in SEEDS:
        case = a_case(size, seed, sawing)
        _wait_until_ready()
        first = planned(case, 10.0, explain=False)
        held, boards = _held(case, first)
        locked = [replace(item, locked=True) for item in first.placements if item.board in held]
        found, took = [], []
        for seconds, start in ((2.0, first.placements), (10.0, ())):
            _wait_until_ready()
            clock = time.monotonic()
            params = SolveParams(seconds=seconds, start=start, explain=False)
            found.append(plan(boards, case.parts, case.shop, params, locked=locked))
            took.append(time.monotonic() - clock)
            assert violations(boards, case.parts, case.shop, found[-1], locked=locked) == ()
        again, anew = found
        missing = f" ({len(again.unplaced)} missing)" if again.unplaced else ""
        print(f"  {seed}: {again.cost:.1f}{missing} | {anew.cost:.1f} | {took[0]:.2f}", flush=True)
        if not again.unplaced and not anew.unplaced:
            above.append(again.cost / anew.cost - 1)
    mean, worst = 100 * float(np.mean(above or [0.0])), 100 * max(above, default=0.0)
    print(f"  2 s above 10 s from nothing, {len(above)} whole, mean {mean:.1f} %, worst {worst:.1f} %")


def _held(case: Case, layout: Layout) -> tuple[list[str], list[Board]]:
    """Boards to hold, and all of them with another one of those used barred."""
    used = list(layout.boards_used)
    boards = [replace(board, forbidden=board.id == used[-1]) for board in case.boards]
    return used[: min(2, len(used) - 1)], boards


@pytest.mark.parametrize("size", SIZES)
def test_straight_cuts_beside_free_nesting(size: str) -> None:
    seconds = min(LONGEST, 10.0)
    print(f"\n{size}, {seconds:g} s: " + " | ".join(sawing.value for sawing in Sawing))
    rows = []
    for seed in SEEDS:
        rows.append([planned(a_case(size, seed, sawing), seconds, prove=False).cost for sawing in Sawing])
        print(f"  {seed}: " + " | ".join(f"{cost:.1f}" for cost in rows[-1]), flush=True)
    costs = np.array(rows)
    free = costs[:, list(Sawing).index(Sawing.BAND_SAW)][:, None]
    straight = costs[:, [sawing is not Sawing.BAND_SAW for sawing in Sawing]].min(axis=1)
    means = 100 * (costs / free - 1).mean(axis=0)
    print("  above the band saw, mean " + ", ".join(f"{mean:.1f}" for mean in means) + " %")
    print(f"  the cheaper straight cuts {100 * float((straight / free[:, 0] - 1).mean()):.1f} %")


@pytest.mark.parametrize("size", SIZES)
def test_first_steps(size: str) -> None:
    maps, first = [], []
    for seed in SEEDS:
        case = a_case(size, seed)
        job = job_of(case.boards, case.parts, case.shop)
        clock = time.process_time()
        for board in range(len(job.boards)):
            for part in range(len(job.parts)):
                assert job.maps[board][part].length > 0
        maps.append((time.process_time() - clock) / len(job.boards))
        clock = time.process_time()
        draft = first_draft(job, Filler(job), parts_by_size(job), boards_by_value(job))
        first.append(time.process_time() - clock)
        assert not any(draft.missing)
    print(
        f"\n{size}: maps of all parts, a board {1e3 * float(np.mean(maps)):.0f} ms"
        f" (worst {1e3 * max(maps):.0f}), first whole plan after them"
        f" {1e3 * float(np.mean(first)):.0f} ms (worst {1e3 * max(first):.0f})"
    )


def test_what_cheaper_boards_hold() -> None:
    """Of all choices of boards cheaper than the plan, those that hold most, in shares of fillings known."""
    seconds = min(LONGEST, 10.0)
    for seed in SEEDS:
        case = a_case("medium", seed)
        layout = planned(case, seconds, prove=False, explain=False)
        job = job_of(case.boards, case.parts, case.shop)
        walk = Walk(job, Filler(job), draft_from(job, layout.placements), Random(0), pool=Pool())
        market = Market(job, walk.filler, Pool(), walk.chance, walk.penalties())
        stop = Stop(SolveParams(seconds=seconds))
        targets = Targets(market, walk.weights)
        held: dict[tuple[int, ...], float] = {}
        assert market.settle(stop, walk.best)
        targets.learn(market.worth)
        while not stop.now():
            target = targets.next(layout.cost)
            if target is None:
                break
            held[target.boards] = target.room
            made_of(targets, target, stop, 1.0)
        most = sorted(held.items(), key=lambda item: -item[1])[:4]
        print(f"\nmedium {seed}: {layout.cost:.1f}; cheaper boards, and what they hold, 1 being all")
        for boards, room in most:
            print(f"  {sum(job.prices[board] for board in boards):.1f}: {room:.3f}", flush=True)


# Boards, kinds of part, and seconds given; from 100 boards on the parts of many different jobs.
GROWTH = ((5, 14, 10.0), (20, 14, 10.0), (100, 30, 10.0), (500, 120, 20.0), (2000, 500, 60.0))


def many(count: int, kinds: int) -> Case:
    """So many boards, and so many kinds of part, one to three of each."""
    chance = np.random.default_rng(count)
    shop = a_case("large", 0).shop
    known = [part for seed in range(8) for part in a_case("large", seed).parts]
    parts = tuple(
        replace(
            known[number % len(known)],
            name=f"part {number}",
            length=round(known[number % len(known)].length * float(chance.uniform(0.7, 1.3))),
            width=round(known[number % len(known)].width * float(chance.uniform(0.8, 1.2))),
            quantity=1 + int(chance.integers(3)),
            zones=(),
            outline=None,
        )
        for number in range(kinds)
    )
    boards = tuple(a_board(str(number), chance) for number in range(count))
    return Case(f"{count} boards", boards, parts, shop)


@pytest.mark.parametrize(("count", "kinds", "seconds"), GROWTH)
def test_growth_with_boards(count: int, kinds: int, seconds: float) -> None:
    case = many(count, kinds)
    told: list[Progress] = []
    start = time.process_time()
    params = SolveParams(seconds=seconds, prove=False, explain=False)
    layout = plan(case.boards, case.parts, case.shop, params, on_progress=told.append)
    took = time.process_time() - start
    print(
        f"\n{count} boards, {told[0].wanted} parts of {kinds} kinds: first plan {told[0].cost:.0f}"
        f" ({told[0].wanted - told[0].placed} missing) after {told[0].seconds:.1f} s,"
        f" end {layout.cost:.0f} after {took:.1f} s of {seconds:g}"
    )
    used = {item.board for item in layout.placements}
    boards = [board for board in case.boards if board.id in used]
    assert violations(boards, case.parts, case.shop, layout) == ()


@pytest.mark.parametrize("size", SIZES)
def test_planning_again_with_locks(size: str) -> None:
    print(
        f"\n{size}, two boards held (one, where two are used), one barred:"
        " 1 s | 2 s | from nothing, 10 s | seconds taken for 2 s"
    )
    above = []
    for seed in SEEDS:
        case = a_case(size, seed)
        first = planned(case, 5.0, prove=False)
        held, boards = _held(case, first)
        locked = [replace(item, locked=True) for item in first.placements if item.board in held]
        costs, missing, took = [], [], []
        for seconds, start in ((1.0, first.placements), (2.0, first.placements), (10.0, ())):
            clock = time.process_time()
            params = SolveParams(seconds=seconds, start=start, explain=False)
            again = plan(boards, case.parts, case.shop, params, locked=locked)
            took.append(time.process_time() - clock)
            costs.append(again.cost)
            missing.append(len(again.unplaced))
            assert violations(boards, case.parts, case.shop, again, locked=locked) == ()
        print(
            f"  {seed}: "
            + " | ".join(
                f"{cost:.1f} ({less} missing)" if less else f"{cost:.1f}"
                for cost, less in zip(costs, missing, strict=True)
            )
            + f" | {took[1]:.2f}",
            flush=True,
        )
        if not any(missing):
            above.append(costs[1] / costs[2] - 1)
    mean, worst = 100 * float(np.mean(above or [0.0])), 100 * max(above, default=0.0)
    print(f"  2 s above 10 s from nothing, {len(above)} whole, mean {mean:.1f} %, worst {worst:.1f} %")


@pytest.mark.data
def test_single_plates(shared_data: Path) -> None:
    print("\nplate: value, bound, proved, seconds")
    for number in range(1, 14):
        for turn in (False, True):
            start = time.process_time()
            value = best_with_cuts(plates.gcut(shared_data, number, turn))
            print(f"  gcut{number}{' turned' if turn else ''}: {value} in {time.process_time() - start:.2f}")
    every = [(f"ngcut{n}", plate) for n, plate in enumerate(plates.ngcut(shared_data), start=1)]
    every += [(f"cgcut{n} free", plates.cgcut(shared_data, n)) for n in (1, 2, 3)]
    every += [(f"okp{n}", plates.okp(shared_data, n)) for n in (1, 2, 3, 4, 5)]
    for name, plate in every:
        start = time.monotonic()
        value, bound, proved = best_without_cuts(plate, 90.0, 2)
        print(f"  {name}: {value}, bound {bound}, {proved}, {time.monotonic() - start:.1f}")
