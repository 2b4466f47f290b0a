"""The search on the second core: what it tells are whole plans, ever cheaper, which repairs must undercut."""

import json
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace

import pytest

from layout.allowances import RepairRules, Sawing
from layout.cost import money_for
from layout.placement import Layout
from layout.solve.beside import search_beside
from layout.solve.construct import draft_from
from layout.solve.job import job_of
from layout.solve.mended import with_repairs
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.prover import Prover, draft_of, pieces_of
from layout.solve.steps import MOST_COPIES, Piece, Work, work_beside
from tests.bench.jobs import Case, a_case
from tests.builders import tiny_board, tiny_parts, tiny_shop


def money_of(case: Case, pieces: Sequence[Piece]) -> float:
    used = {piece[0] for piece in pieces}
    return money_for(board for board in case.boards if board.id in used)


def test_plans_told_are_whole_and_ever_cheaper(monkeypatch: pytest.MonkeyPatch) -> None:
    # Seconds of this program's own work, so that a busy machine does not count against it.
    for module in ("stop", "beside"):
        monkeypatch.setattr(f"layout.solve.{module}.monotonic", time.process_time)
    case = a_case("small", 1)
    told: list[list[Piece]] = []

    def hear(pieces: Iterator[Piece]) -> None:
        told.append(list(pieces))

    search_beside(case.boards, case.parts, case.shop, (), 0.8, 0, hear)
    money = [money_of(case, pieces) for pieces in told]
    assert money == sorted(set(money), reverse=True)
    job = job_of(case.boards, case.parts, case.shop)
    for pieces in told:
        draft = draft_of(job, pieces)
        assert draft is not None
        assert not any(draft.missing)
    alone = plan(case.boards, case.parts, case.shop, SolveParams(iterations=50, prove=False))
    assert money
    assert money[-1] <= alone.cost + 0.005


def test_a_plan_told_is_undercut_or_nothing_more_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in ("stop", "beside"):
        monkeypatch.setattr(f"layout.solve.{module}.monotonic", time.process_time)
    case = a_case("small", 1)
    job = job_of(case.boards, case.parts, case.shop)
    good = plan(case.boards, case.parts, case.shop, SolveParams(iterations=300, prove=False))
    draft = draft_from(job, good.placements)
    assert not any(draft.missing)
    known = list(pieces_of(job, draft))
    waiting, told = [known], []

    def heard() -> list[Piece] | None:
        return waiting.pop() if waiting else None

    def hear(pieces: Iterator[Piece]) -> None:
        told.append((bool(waiting), money_of(case, list(pieces))))

    search_beside(case.boards, case.parts, case.shop, (), 0.8, 0, hear, heard)
    assert not waiting, "nobody listened"
    before = [money for early, money in told if early]
    assert before, "the first plan was not told"
    assert min(before) > good.cost, "the plan told was none to learn from"
    assert all(money <= good.cost + 0.005 for early, money in told if not early)


def test_a_cheaper_plan_is_not_lost_for_a_dearer_one_after_it() -> None:
    """One process looks for plans in two ways, one after the other, and the second begins from nothing."""
    boards = [tiny_board(), replace(tiny_board(), id="2")]
    beside = Prover(boards, tiny_parts(), tiny_shop(), (), [])
    both, one = [("1", "a", 0.0, 0.0), ("2", "a", 0.0, 0.0)], [("2", "a", 0.0, 0.0)]
    beside.listen(0, [f"plan {json.dumps(pieces)}".encode() for pieces in (both, one, both)])
    assert beside.offers(50.0)
    assert beside.plan(50.0) == one
    assert not beside.offers(1e9)


def test_what_is_told_late_harms_nobody() -> None:
    beside = Prover([tiny_board()], tiny_parts(), tiny_shop(), (), [((Work.QUICK, 20.0),)])
    beside.tell([("1", "a", 0.0, 0.0)] * 20_000)
    beside.wait(20.0)
    assert beside.bound == pytest.approx(40.0)
    beside.tell([("1", "a", 0.0, 0.0)] * 20_000)
    beside.close()
    beside.tell([])
    assert not beside.works()


@pytest.mark.parametrize("sawing", list(Sawing))
def test_what_is_done_beside_a_search(sawing: Sawing) -> None:
    free = sawing is Sawing.BAND_SAW

    def kinds(copies: int, seconds: float = 30.0, **rest: int | bool) -> list[list[Work]]:
        work = work_beside(sawing, copies, seconds, **{"cores": 2, "listed": True, **rest})  # type: ignore[arg-type]
        assert all(0.0 < until <= 30.0 for steps in work for _, until in steps)
        for steps in work:
            times = [until for what, until in steps if what is not Work.QUICK]
            assert times == sorted(times)
        return [[what for what, _ in steps] for steps in work]

    proof = [Work.QUICK] if free else [Work.SETS, Work.QUICK]
    few = [Work.SOON, Work.QUICK, Work.SAWING, Work.PIECES]
    assert kinds(7) == [[Work.QUICK, Work.SAWING, Work.PIECES]]
    soon = [Work.SOON, *proof]
    assert kinds(MOST_COPIES) == kinds(MOST_COPIES, repairs=True) == [few]
    assert kinds(MOST_COPIES + 1) == [[*soon, Work.SEARCH] if free else soon]
    # There is no time for anything but a bound.
    assert kinds(MOST_COPIES + 1, 2.0) == [[*proof, Work.SEARCH] if free else proof]
    # Where a loaded process waits there is, and of many boards that is worth more.
    many = MOST_COPIES + 1
    assert kinds(many, 2.0, loaded=True, listed=False) == kinds(many, listed=False)
    assert kinds(many, 1.9, loaded=True, listed=False) == kinds(many, 2.0, listed=False)
    assert kinds(many, 2.0, loaded=True) == kinds(many, 2.0)
    assert kinds(many, 2.0, repairs=True, loaded=True, listed=False) == [[Work.SEARCH]]
    assert kinds(MOST_COPIES + 1, repairs=True) == [[Work.SOON, Work.SEARCH]]
    assert kinds(MOST_COPIES + 1, 2.0, repairs=True) == [[Work.SEARCH]]
    assert kinds(MOST_COPIES + 1, 10.0) == kinds(MOST_COPIES + 1)
    assert kinds(MOST_COPIES + 1, listed=False) == [[*soon, Work.REST] if free else soon]
    assert kinds(MOST_COPIES + 1, cores=3) == [soon, [Work.SEARCH]]
    assert kinds(MOST_COPIES, cores=3) == [few, [Work.SEARCH]]


def test_the_second_process_searches_and_ends() -> None:
    beside = Prover([tiny_board()], tiny_parts(), tiny_shop(), (), [((Work.SEARCH, 2.7),)])
    try:
        beside.wait(20.0)
        assert beside.bound is None, "it was to search, not to prove"
        assert not beside.offers(40.0)
        assert beside.offers(41.0)
        assert len(beside.plan(41.0) or ()) == sum(part.quantity for part in tiny_parts())
        assert not beside.offers(41.0), "told twice"
    finally:
        beside.close()


@pytest.mark.parametrize("cheaper", [True, False])
def test_a_plan_without_repairs_found_beside_wins_if_it_is_cheaper(cheaper: bool) -> None:
    case = a_case("small", 1)
    shop = replace(case.shop, repairs=RepairRules(allowed=True))
    good = plan(case.boards, case.parts, case.shop, SolveParams(iterations=50, prove=False))
    others = [board for board in case.boards if board.id != good.boards_used[0]]
    dear = plan(others, case.parts, case.shop, SolveParams(iterations=5, prove=False))
    assert not dear.unplaced
    assert dear.cost > good.cost
    asked: list[float] = []
    limits: list[SolveParams] = []

    def core(*_: object, **__: object) -> Layout:
        params = _[3]
        assert isinstance(params, SolveParams)
        limits.append(params)
        return good if asked else dear

    def offers(below: float) -> bool:
        asked.append(below)
        return cheaper

    params = SolveParams(iterations=0, prove=False)
    found = with_repairs(case.boards, case.parts, shop, params, core, offers=offers)
    assert asked == [pytest.approx(dear.cost)]
    assert found.cost == pytest.approx(good.cost if cheaper else dear.cost)
    assert all(params.mending is not None for params in limits[1 : len(limits) - cheaper])
