"""Shares of fillings, dives and regions: against sums by hand, and the verifier."""

from dataclasses import replace
from random import Random

import numpy as np
import pytest

from layout.check import violations
from layout.solve import search
from layout.solve.columns import Columns, cheapest_shares
from layout.solve.construct import Draft, boards_by_value, boards_in_play, first_draft, parts_by_size
from layout.solve.dive import dived
from layout.solve.filling import Filler, Filling
from layout.solve.improve import Walk
from layout.solve.job import Job, job_of
from layout.solve.market import Market
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.pool import Pool
from layout.solve.region import Region
from layout.solve.stop import Stop
from tests.bench.jobs import Case, a_case


def begun(case: Case, rounds: int = 2000) -> tuple[Job, Walk, Market, Stop]:
    job = job_of(case.boards, case.parts, case.shop)
    filler, chance = Filler(job), Random(0)
    draft = first_draft(job, filler, parts_by_size(job), boards_by_value(job))
    walk = Walk(job, filler, draft, chance, pool=Pool())
    assert walk.pool is not None
    market = Market(job, filler, walk.pool, chance, walk.penalties())
    return job, walk, market, Stop(SolveParams(iterations=rounds))


def test_shares_cost_what_a_sum_by_hand_says() -> None:
    # Two parts, wanted twice and once. Board 0 [10]: both parts; board 1 [6]: the first; board 2 [30]: all.
    columns = Columns(2)
    for board, counts in ((0, (1, 1)), (1, (1, 0)), (2, (2, 1))):
        assert columns.add(Filling(board, counts, ()))
    assert not columns.add(Filling(1, (1, 0), ()))
    prices, penalties = np.array([10.0, 6.0, 30.0]), np.array([100.0, 100.0])
    found = cheapest_shares(columns.counts, columns.boards, prices, [2, 1], penalties, None)
    assert found is not None
    assert found.cost == pytest.approx(16.0)
    assert found.shares.tolist() == pytest.approx([1.0, 1.0, 0.0])
    # Prices are duals: what is wanted, at its worth, less all rents, is the cost.
    assert found.worth @ np.array([2, 1]) - found.rents.sum() == pytest.approx(found.cost)


def test_what_is_not_wanted_is_worth_nothing_and_what_cannot_be_had_is_paid_for() -> None:
    columns = Columns(3)
    columns.add(Filling(0, (1, 1, 0), ()))
    found = cheapest_shares(
        columns.counts, columns.boards, np.array([10.0]), [1, 0, 2], np.array([50.0, 50.0, 50.0]), None
    )
    assert found is not None
    assert found.cost == pytest.approx(110.0)
    assert found.worth[1] == 0.0


def test_a_dive_places_every_copy_once_and_costs_no_more_than_it_may() -> None:
    job, walk, market, stop = begun(a_case("small", 3))
    assert market.settle(stop, walk.best)
    found = [dived(market, Draft(list(job.wanted)), market.boards, np.inf, stop, 1.0) for _ in range(4)]
    whole = [draft for draft in found if draft is not None and not any(draft.missing)]
    assert whole
    for draft in whole:
        held = np.sum([filling.counts for filling in draft.fillings.values()], axis=0)
        assert held.tolist() == job.wanted
        assert (
            dived(market, Draft(list(job.wanted)), market.boards, 0.5 * draft.money(job), stop, 1.0) is None
        )


def test_a_dive_leaves_alone_what_it_was_given() -> None:
    _, walk, market, stop = begun(a_case("medium", 1))
    assert market.settle(stop, walk.best)
    kept = walk.best.copy()
    out = list(kept.fillings)[:3]
    for board in out:
        kept.clear(board)
    found = dived(market, kept, out, np.inf, stop, 1.0)
    assert found is not None
    assert all(found.fillings[board] is filling for board, filling in kept.fillings.items())
    assert set(found.fillings) <= set(kept.fillings) | set(out)


def test_a_region_given_back_as_it_was_is_the_same_plan() -> None:
    job, walk, _, _ = begun(a_case("large", 0))
    region = Region(walk, boards_in_play(job))
    inner = region.walk_in(region.job())
    assert not any(inner.best.missing)
    back = region.given_back(inner.best)
    assert back.missing == walk.best.missing
    assert back.fillings == walk.best.fillings


def test_a_plan_improved_region_by_region_holds_and_is_cheaper(monkeypatch: pytest.MonkeyPatch) -> None:
    case = a_case("large", 2)
    params = SolveParams(iterations=0, prove=False, explain=False)
    first = plan(case.boards, case.parts, case.shop, params)
    monkeypatch.setattr(search, "_MANY_MAPS", 1)
    found = plan(case.boards, case.parts, case.shop, replace(params, iterations=1500))
    assert violations(case.boards, case.parts, case.shop, found) == ()
    assert not found.unplaced
    assert found.cost < first.cost
