"""A longer search goes through the drafts of a shorter one, and every search ends when it is told to."""

import pytest

from layout.allowances import Sawing
from layout.check import violations
from layout.solve.construct import boards_by_value, first_draft, parts_by_size
from layout.solve.filling import Filler
from layout.solve.job import job_of
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from tests.bench.jobs import Case, a_case


def cost(case: Case, rounds: int) -> tuple[int, float]:
    layout = plan(case.boards, case.parts, case.shop, SolveParams(iterations=rounds, prove=False))
    return len(layout.unplaced), layout.cost


@pytest.mark.parametrize("sawing", list(Sawing))
def test_a_longer_search_is_never_worse_than_a_shorter_one(sawing: Sawing) -> None:
    case = a_case("small", 1, sawing)
    told = [cost(case, rounds) for rounds in (0, 40, 300, 900)]
    assert told == sorted(told, reverse=True)


@pytest.mark.parametrize("size", ["small", "medium"])
def test_no_limit_is_too_short_for_the_first_plan(size: str) -> None:
    case = a_case(size, 2)
    job = job_of(case.boards, case.parts, case.shop)
    first = first_draft(job, Filler(job), parts_by_size(job), boards_by_value(job))
    layout = plan(case.boards, case.parts, case.shop, SolveParams(seconds=0.0))
    assert not layout.unplaced
    assert layout.cost <= first.money(job) + 1e-6


def test_the_market_gives_the_same_plan_for_the_same_rounds() -> None:
    case = a_case("small", 4)
    params = SolveParams(iterations=450, prove=False, seed=5)
    one = plan(case.boards, case.parts, case.shop, params)
    other = plan(case.boards, case.parts, case.shop, params)
    assert one == other
    assert violations(case.boards, case.parts, case.shop, one) == ()


@pytest.mark.parametrize("after", [5, 60, 700])
def test_a_stop_is_heard_in_every_stage(after: int) -> None:
    case = a_case("medium", 1)
    told: list[bool] = []

    def should_stop() -> bool:
        told.append(len(told) >= after)
        return told[-1]

    layout = plan(
        case.boards,
        case.parts,
        case.shop,
        SolveParams(iterations=10**6, prove=False),
        should_stop=should_stop,
    )
    assert sum(told) < 60, "each stage asks once or twice more, and goes"
    assert violations(case.boards, case.parts, case.shop, layout) == ()


@pytest.mark.parametrize("sawing", list(Sawing))
@pytest.mark.parametrize("seconds", [0.0, 0.05, 0.4])
def test_no_plan_is_dearer_than_first_fit_of_its_class(seconds: float, sawing: Sawing) -> None:
    for size, seed in (("tiny", 3), ("small", 1), ("small", 6), ("medium", 7)):
        case = a_case(size, seed, sawing)
        job = job_of(case.boards, case.parts, case.shop)
        first = first_draft(job, Filler(job), parts_by_size(job), boards_by_value(job))
        params = SolveParams(seconds=seconds, prove=False, explain=False)
        layout = plan(case.boards, case.parts, case.shop, params)
        assert len(layout.unplaced) <= sum(first.missing)
        if not any(first.missing):
            assert layout.cost <= first.money(job) + 1e-6
