"""Random jobs, planned: no verifier's fault, bounds hold, a seed repeats its plan, a stop is obeyed."""

import ctypes
import gc
from dataclasses import replace
from pathlib import Path
from random import Random
from threading import Timer
from time import monotonic, thread_time

import pytest

from layout.allowances import Sawing, Shop
from layout.check import violations
from layout.errors import LayoutError
from layout.kept import EVERY
from layout.parts import Part
from layout.placement import Layout, Placement
from layout.reach import reach_of
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.stock import Board
from tests.bench.jobs import a_case
from tests.robust.random_jobs import RandomJob, a_late_fault, random_job
from tests.robust.sizes import ROUND, few_or_many, hang_after

ROUNDS = SolveParams(iterations=4, prove=False)


def faults_of(
    boards: tuple[Board, ...],
    parts: tuple[Part, ...],
    shop: Shop,
    layout: Layout,
    locked: tuple[Placement, ...] = (),
) -> list[str]:
    """Whatever is wrong with a plan, in words."""
    found = violations(boards, parts, shop, layout, locked=locked)
    wrong = [f"board {one.board}: {one.message}" for one in found]
    wanted = {(part.name, copy) for part in parts for copy in range(1, part.quantity + 1)}
    if not any(part.staves or part.layers > 1 for part in parts) and not layout.glue_ups:
        told = [(one.part, one.copy) for one in (*layout.placements, *layout.unplaced)]
        if sorted(told) != sorted(wanted):
            wrong.append(f"copies told of: {sorted(told)}; wanted: {sorted(wanted)}")
    wrong += [f"no reason for {one.part} {one.copy}" for one in layout.unplaced if not one.reason.strip()]
    if layout.bound is not None and layout.bound.cost > layout.cost + 0.005 and not layout.unplaced:
        wrong.append(f"the bound {layout.bound.cost} is above the cost {layout.cost}")
    return wrong


def planned(job: RandomJob, params: SolveParams, locked: tuple[Placement, ...] = ()) -> Layout:
    return plan(job.boards, job.parts, job.shop, params, locked=locked)


def again_after_sawing(job: RandomJob, layout: Layout, chance: Random) -> list[str]:
    """Some parts are sawn, others locked, a fault comes to light, and the rest is planned again."""
    if not layout.placements or layout.glue_ups:
        return []
    chosen = [item for item in layout.placements if chance.random() < 0.5]
    locked = tuple(replace(item, locked=True, cut=chance.random() < 0.5) for item in chosen)
    locked = tuple(item for item in locked if not any(repair.part == item.part for repair in layout.repairs))
    free = [board for board in job.boards if board.id not in {item.board for item in locked}]
    boards = job.boards
    if free:
        found = replace(free[0], defects=(*free[0].defects, a_late_fault(free[0], chance)))
        boards = tuple(found if board is free[0] else board for board in boards)
    second = planned(replace(job, boards=boards), ROUNDS, locked)
    wrong = [f"after sawing: {one}" for one in faults_of(boards, job.parts, job.shop, second, locked)]
    kept = {replace(item, locked=True, cut=False) for item in second.placements}
    moved = [item for item in locked if replace(item, cut=False) not in kept]
    return wrong + [
        f"after sawing: {item.part} {item.copy} was locked and is moved or gone" for item in moved
    ]


def one_soak(seed: int) -> list[str]:
    """What is wrong with the plans of one random job."""
    job = random_job(seed)
    chance = Random(seed + 1)
    with hang_after(600, f"job {seed}"):
        try:
            layout = planned(job, ROUNDS)
        except LayoutError as error:
            return [] if str(error) else ["a refusal without a word"]
        wrong = faults_of(job.boards, job.parts, job.shop, layout)
        if seed % 3 == 0 and planned(job, ROUNDS) != layout:
            wrong.append("the same seed gave another plan")
        return wrong or again_after_sawing(job, layout, chance)


def resident_mb() -> float:
    """What stays when all that is kept on purpose is let go and free memory is handed back."""
    for kept in EVERY:
        kept.clear()
    reach_of.cache_clear()
    gc.collect()
    if hasattr(ctypes.CDLL(None), "malloc_trim"):  # in the GNU C library
        ctypes.CDLL(None).malloc_trim(0)
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6


@few_or_many(8, 1000)
def test_no_plan_fails_the_verifier_and_memory_stays_flat(
    cases: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # What is kept on purpose is bounded; here so closely that whatever else grows is seen.
    for kept in EVERY:
        monkeypatch.setattr(kept, "most", 3_000_000)
    wrong: dict[int, list[str]] = {}
    early = 0.0
    for number in range(cases):
        seed = ROUND * cases + number
        try:
            found = one_soak(seed)
        except Exception as error:
            found = [repr(error)]
        if found:
            wrong[seed] = found
        if number == min(cases // 4, 100):
            early = resident_mb()
    assert all(kept.size <= 3_000_000 or len(kept) == 1 for kept in EVERY)
    grown = resident_mb() - early
    print(f"{early:.0f} MB after the first jobs, {grown:+.0f} MB after {cases}")
    assert wrong == {}, f"{len(wrong)} of {cases} jobs: " + "; ".join(
        f"{seed}: {found[0]}" for seed, found in list(wrong.items())[:20]
    )
    assert grown < (60 if cases >= 100 else 100), f"{grown:.0f} MB more than after the first jobs"


@few_or_many(1, 200)
def test_hard_jobs_searched_for_long_pass_the_verifier(cases: int) -> None:
    """Some thirty parts on ten boards: there a search comes to sets of boards that nearly hold them."""
    for number in range(cases):
        seed = ROUND * cases + number
        chance = Random(seed)
        sawing, stages = chance.choice(list(Sawing)), chance.choice((2, 3))
        case = a_case("medium", 1_000 + seed, sawing, stages)
        mend = chance.random() < 0.4
        shop = replace(case.shop, repairs=replace(case.shop.repairs, allowed=mend))
        job = RandomJob(case.boards, case.parts, shop)
        params = SolveParams(iterations=4_000, seed=seed, prove=False)
        layout = planned(job, params)
        assert faults_of(job.boards, job.parts, shop, layout) == [], f"job {seed}"
        mended = {repair.part for repair in layout.repairs}
        kept = [item for item in layout.placements if item.part not in mended and chance.random() < 0.4]
        locked = tuple(replace(item, locked=True) for item in kept)
        again = planned(job, params, locked)
        assert faults_of(job.boards, job.parts, shop, again, locked) == [], (
            f"job {seed}, {len(locked)} locked"
        )


def is_plain(job: RandomJob) -> bool:
    """Whether every part is of one piece and none may be repaired."""
    return not job.shop.repairs.allowed and not any(part.staves or part.layers > 1 for part in job.parts)


@pytest.mark.parametrize(
    ("plain", "cases"),
    [
        pytest.param(True, 2, id="quick"),
        pytest.param(True, 40, id="soak-40", marks=pytest.mark.soak),
        pytest.param(False, 40, id="soak-glued-and-mended-40", marks=pytest.mark.soak),
    ],
)
def test_a_plan_is_given_up_within_half_a_second(plain: bool, cases: int) -> None:
    """Measured in this program's own work, so that a busy machine does not count against it."""
    late = {}
    seeds = [seed for seed in range(1000, 2000) if is_plain(random_job(seed)) is plain]
    for seed in seeds[:cases]:
        job = random_job(seed)
        stop = [False]
        asked = [0.0, 0.0]

        def should_stop(stop: list[bool] = stop, asked: list[float] = asked) -> bool:
            if stop[0] and not asked[0]:
                asked[:] = [thread_time(), monotonic()]
            return stop[0]

        timer = Timer(Random(seed).uniform(0.0, 1.5), stop.__setitem__, (0, True))
        timer.start()
        try:
            layout = plan(job.boards, job.parts, job.shop, SolveParams(seconds=30.0), should_stop=should_stop)
        except LayoutError:
            continue
        finally:
            timer.cancel()
        if asked[0] and thread_time() - asked[0] > 0.5:
            late[seed] = thread_time() - asked[0]
        assert faults_of(job.boards, job.parts, job.shop, layout) == []
    assert late == {}
