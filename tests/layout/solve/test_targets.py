"""Sets of boards cheaper than a plan: the right ones are listed, and a draft keeps to its set."""

from itertools import combinations
from random import Random

import numpy as np
import pytest

from layout.solve import targets as sets_of_boards
from layout.solve.construct import Draft, boards_by_value, first_draft, parts_by_size
from layout.solve.filling import Filler
from layout.solve.improve import Walk
from layout.solve.job import job_of
from layout.solve.market import Market
from layout.solve.params import SolveParams
from layout.solve.pool import Pool
from layout.solve.stop import Stop
from layout.solve.targets import Target, Targets, made_anew, made_of
from tests.bench.jobs import a_case


def begun(size: str, seed: int) -> tuple[Walk, Targets, Stop]:
    case = a_case(size, seed)
    job = job_of(case.boards, case.parts, case.shop)
    filler, chance = Filler(job), Random(0)
    draft = first_draft(job, filler, parts_by_size(job), boards_by_value(job))
    walk = Walk(job, filler, draft, chance, pool=Pool())
    assert walk.pool is not None
    market = Market(job, filler, walk.pool, chance, walk.penalties())
    stop = Stop(SolveParams(iterations=4000))
    assert market.settle(stop, walk.best)
    targets = Targets(market, walk.weights)
    targets.learn(market.worth)
    return walk, targets, stop


def test_sets_named_are_cheaper_and_leave_no_room_for_another_board() -> None:
    walk, targets, _ = begun("small", 0)
    money, prices = walk.best_worth[1], walk.job.prices
    boards = range(len(prices))
    every = [set(some) for count in boards for some in combinations(boards, count)]
    cheaper = [some for some in every if sum(prices[board] for board in some) < money - 1e-6]
    largest = [some for some in cheaper if not any(some < other for other in cheaper)]
    named = set()
    for _ in range(40 * len(largest)):
        target = targets.next(money)
        assert target is not None
        named.add(target.boards)
    assert named == {tuple(sorted(some)) for some in largest}


def test_no_set_is_cheaper_than_nothing() -> None:
    _, targets, _ = begun("small", 0)
    assert targets.next(0.0) is None


def test_a_set_that_holds_a_whole_plan_has_room_for_it() -> None:
    walk, targets, _ = begun("medium", 2)
    target = targets.next(walk.best_worth[1] + 1e-3)
    assert target is not None
    assert set(walk.best.fillings) <= set(target.boards)
    assert target.room >= 1.0 - 1e-9


def test_a_draft_keeps_to_its_set_and_takes_no_copy_too_many() -> None:
    walk, targets, stop = begun("medium", 1)
    boards = tuple(sorted(walk.best.fillings))
    drafts = [made_of(targets, Target(boards, 1.0), stop, 1.0) for _ in range(3)]
    for draft in drafts:
        assert set(draft.fillings) <= set(boards)
        held = np.sum([filling.counts for filling in draft.fillings.values()], axis=0) + draft.missing
        assert held.tolist() == walk.job.wanted
        assert min(draft.missing) >= 0
    assert any(not any(draft.missing) for draft in drafts), "one plan of this set was known"


def test_boards_that_cannot_hold_what_is_left_stay_empty(monkeypatch: pytest.MonkeyPatch) -> None:
    walk, targets, stop = begun("medium", 0)
    monkeypatch.setattr(sets_of_boards, "_HOPELESS", 1.0)
    short = min(range(len(walk.job.boards)), key=lambda board: walk.job.woods[board])
    draft = made_of(targets, Target((short,), 0.1), stop, 1.0)
    assert any(draft.missing)
    assert set(draft.fillings) == {short}


def test_a_set_without_hope_is_given_up_with_nothing_laid() -> None:
    walk, targets, stop = begun("medium", 0)
    cheapest = min(walk.best.fillings, key=lambda board: walk.job.prices[board])
    draft = made_of(targets, Target((cheapest,), 0.1), stop, 1.0)
    assert draft == Draft(list(walk.job.wanted))


def test_boards_filled_anew_never_leave_more_over() -> None:
    walk, targets, stop = begun("medium", 1)
    boards = tuple(sorted(walk.best.fillings))
    draft = walk.best.copy()
    draft.clear(boards[0])
    before = targets.lacks(draft)
    assert 0.0 < before < 1.0
    for _ in range(4):
        draft = made_anew(targets, Target(boards, 1.0), draft, stop, 1.0)
        held = np.sum([filling.counts for filling in draft.fillings.values()], axis=0) + draft.missing
        assert held.tolist() == walk.job.wanted
        assert set(draft.fillings) <= set(boards)
        assert targets.lacks(draft) <= before
        before = targets.lacks(draft)
    assert before == 0.0, "the plan it was taken from was whole"
