"""How good plans are, and how fast: tables on seeded jobs of our own. Run by hand:

    pytest tests/bench/test_plans.py -m bench -s

"greedy" is first fit decreasing, parts by size and boards by price for their wood,
nested freely, whatever the saw; "bound" is what no layout of any class can
undercut. Costs are money; a star marks a plan proved cheapest. Seconds are those
of one core (the search runs on one; the proof has another), so that a busy
machine measures the same. Nothing asserts a time: only that every plan holds and
that none is dearer than greedy.
"""

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from layout.allowances import Sawing
from layout.check import violations
from layout.placement import Layout
from layout.solve.construct import boards_by_value, first_draft, parts_by_size
from layout.solve.filling import Filler
from layout.solve.guillotine import best_with_cuts
from layout.solve.job import job_of
from layout.solve.nested_plate import best_without_cuts
from layout.solve.params import SolveParams
from layout.solve.plan import Progress, plan
from tests.bench import plates
from tests.bench.jobs import Case, a_board, a_case

pytestmark = pytest.mark.bench

SEEDS = range(3)
SIZES = ("small", "medium", "large")


@pytest.fixture(autouse=True)
def _seconds_of_one_core(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layout.solve.stop.monotonic", time.process_time)


def greedy(case: Case) -> float:
    job = job_of(case.boards, case.parts, replace(case.shop, sawing=Sawing.BAND_SAW))
    return first_draft(job, Filler(job), parts_by_size(job), boards_by_value(job)).money(job)


def planned(case: Case, seconds: float, told: list[Progress] | None = None, **rest: object) -> Layout:
    params = SolveParams(seconds=seconds, **rest)  # type: ignore[arg-type]
    layout = plan(
        case.boards, case.parts, case.shop, params, on_progress=None if told is None else told.append
    )
    assert violations(case.boards, case.parts, case.shop, layout) == ()
    return layout


@pytest.mark.parametrize("sawing", list(Sawing))
@pytest.mark.parametrize("size", SIZES)
def test_plans_by_time(size: str, sawing: Sawing) -> None:
    limits = (1.0, 3.0, 10.0)
    saved = []
    print(f"\n{size}, {sawing.value}: greedy | " + " | ".join(f"{s:g} s" for s in limits) + " | bound")
    for seed in SEEDS:
        case = a_case(size, seed, sawing)
        base = greedy(case)
        layouts = [planned(case, seconds) for seconds in limits]
        bound = layouts[-1].bound
        missing = len(layouts[-1].unplaced)
        stars = "*" if bound is not None and bound.proved else ""
        row = " | ".join(f"{item.cost:.1f}" for item in layouts)
        print(
            f"  {seed}: {base:.1f} | {row}{stars} | {'none' if bound is None else f'{bound.cost:.1f}'}"
            + (f" ({missing} missing)" if missing else "")
        )
        assert layouts[-1].cost <= base + 1e-6
        saved.append(1 - layouts[-1].cost / base)
    print(f"  saved against greedy, mean {100 * float(np.mean(saved)):.1f} %")


@pytest.mark.parametrize("size", ["medium", "large"])
def test_a_minute_gains_little(size: str) -> None:
    for seed in (0, 1):
        case = a_case(size, seed)
        told: list[Progress] = []
        short, long = planned(case, 10.0, told), planned(case, 60.0, prove=False)
        done = [item for item in told if item.placed == item.wanted]
        near = next(item.seconds for item in done if item.cost <= short.cost * 1.02 + 1e-6)
        print(
            f"\n{size} {seed}: 10 s {short.cost:.1f}, 60 s {long.cost:.1f},"
            f" first {told[0].seconds:.2f} s, within 2 % of its own end after {near:.2f} s"
        )


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


def test_planning_again_with_locks() -> None:
    case = a_case("medium", 0)
    first = planned(case, 5.0, prove=False)
    used = first.boards_used
    locked = [replace(item, locked=True) for item in first.placements if item.board in used[:2]]
    boards = [replace(board, forbidden=board.id == used[-1]) for board in case.boards]
    for seconds in (1.0, 2.0, 10.0):
        start = time.monotonic()
        params = SolveParams(seconds=seconds, prove=False, start=first.placements)
        again = plan(boards, case.parts, case.shop, params, locked=locked)
        print(f"\nlocked again, {seconds:g} s: {again.cost:.1f} after {time.monotonic() - start:.2f} s")
        assert violations(boards, case.parts, case.shop, again, locked=locked) == ()


@pytest.mark.data
def test_single_plates(shared_data: Path) -> None:
    print("\nplate: value, bound, proved, seconds")
    for number in range(1, 13):
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
