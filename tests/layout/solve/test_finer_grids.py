"""What finer grids add: sets of use by plain search, prices begun elsewhere, many boards asked."""

from collections.abc import Callable, Mapping, Sequence
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from layout.allowances import Sawing
from layout.solve.bound import outside_of, question_of
from layout.solve.job import job_of
from layout.solve.outside import Outside
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.prover import draft_of
from layout.solve.slab_choice import prices_of
from layout.solve.slabs import Place
from layout.solve.stacks_of_use import NEVER, least_asked, sets_of_use
from layout.solve.straight import _Work, straight_bounds
from tests.bench.jobs import Case, a_case
from tests.layout.solve.test_setwise import look_for_plans, money_of, pieces_of, plans_of


@settings(max_examples=80, deadline=None)
@given(data=st.data())
def test_sets_of_use_are_all_that_may_be_worth_what_is_asked(data: st.DataObject) -> None:
    high, count = data.draw(st.integers(4, 16)), data.draw(st.integers(1, 4))
    widths = data.draw(st.lists(st.integers(2, 7), min_size=count, max_size=count))
    prices = data.draw(st.lists(st.integers(0, 9), min_size=count, max_size=count))
    most = data.draw(st.lists(st.integers(0, 3), min_size=count, max_size=count))
    asked = st.one_of(st.just(NEVER), st.integers(0, 30))
    least = np.array(data.draw(st.lists(asked, min_size=high + 1, max_size=high + 1)), dtype=np.int64)
    parts = data.draw(st.lists(st.sampled_from(range(count)), unique=True, min_size=1))
    found = sets_of_use(parts, widths, prices, most, least)

    def worth(counts: Sequence[int]) -> int:
        return int(np.dot(counts, prices))

    ranges = [range(n + 1) if t in parts and prices[t] else (0,) for t, n in enumerate(most)]
    every = [counts for counts in product(*ranges) if np.dot(counts, widths) <= high and any(counts)]
    # Pieces without end, as many copies as one likes, are what may be added at best.
    filled = [0] * (high + 1)
    for height in range(1, high + 1):
        more = [
            prices[t] + filled[height - widths[t]]
            for t in parts
            if most[t] and prices[t] and widths[t] <= height
        ]
        filled[height] = max([filled[height - 1], *more])
    wide = {counts: int(np.dot(counts, widths)) for counts in every}
    expected = {
        counts
        for counts in every
        if any(least[h] - filled[h - wide[counts]] <= worth(counts) for h in range(wide[counts], high + 1))
    }
    assert set(found) == expected
    assert len(found) == len(expected)
    assert [sum(counts) for counts in found] == sorted(sum(counts) for counts in found)
    of_use = [c for c in every if any(least[h] <= worth(c) for h in range(wide[c], high + 1))]
    for counts in of_use:  # with all that lie in them
        assert {c for c in every if all(a <= b for a, b in zip(c, counts, strict=True))} <= expected


def test_least_asked_is_the_least_where_a_stack_is_worth_it() -> None:
    chance = np.random.default_rng(5)
    best = chance.integers(0, 20, size=(4, 8, 12), dtype=np.int16)
    asked = chance.integers(0, 25, size=(3, 7, 5), dtype=np.int32)
    numbers, rows = np.array([2, 0, 2]), np.array([1, 3, 4, 8, 10])
    worths = best[numbers][:, :7][:, :, rows]
    expected = np.where(worths >= asked, asked, NEVER).min(axis=(0, 2))
    assert (least_asked(asked, best, numbers, rows) == expected).all()
    assert NEVER in expected or expected.max() < 25


class _Sets:
    """A board that gives one of some sets."""

    def __init__(self, counts: Sequence[Sequence[int]]) -> None:
        self.counts, self.asked = np.array(counts, dtype=np.int64), 0

    def given(self, prices: NDArray[np.float64]) -> tuple[float, NDArray[np.int64]]:
        self.asked += 1
        worths = self.counts @ prices
        return float(worths.max()), self.counts[int(worths.argmax())]


def test_prices_begun_with_good_ones_and_left_when_little_is_worth_end_the_same() -> None:
    chance, wanted = np.random.default_rng(2), (4, 3, 5, 2)
    for _ in range(20):
        rows = [chance.integers(0, 4, size=(30, 4)) for _ in range(3)]
        boards = {number: _Sets(own.tolist()) for number, own in enumerate(rows)}
        plain = prices_of(boards, wanted, 1e-6)
        often = sum(board.asked for board in boards.values())
        again = {number: _Sets(own.tolist()) for number, own in enumerate(rows)}
        started = prices_of(again, wanted, 1e-6, start=plain.parts)
        assert started.short == plain.short
        if not plain.short:
            assert started.worth == pytest.approx(plain.worth, abs=2e-6)
        left = prices_of({n: _Sets(own.tolist()) for n, own in enumerate(rows)}, wanted, 1e-6, least=9.0)
        assert left.worth >= plain.worth - 1e-6, "less than the least there is"
        assert often > 0


def look(case: Case, below: float, seconds: float = 120.0) -> list[Mapping[int, Sequence[Place]]]:
    found: list[Mapping[int, Sequence[Place]]] = []
    wanted = [part.quantity for part in case.parts]
    look_for_plans(case, wanted, seconds, found.append, below=lambda: below)
    return found


@pytest.mark.parametrize(("seed", "stages"), [(1, 3), (5, 2)])
def test_many_boards_are_asked_on_the_finest_grid_at_once(
    seed: int, stages: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Told of a plan, as in use; what is found holds, and is no dearer than what is found of few."""
    case = a_case("small", seed, Sawing.RIP_FIRST, stages)
    job = job_of(case.boards, case.parts, case.shop)
    in_turn = [money_of(case, places) for places in plans_of(case)][-1]
    monkeypatch.setattr("layout.solve.setwise.MOST_BOARDS", 0)
    found = look(case, below=2.0 * in_turn)
    money = [money_of(case, places) for places in found]
    assert money
    assert money == sorted(set(money), reverse=True)
    assert money[-1] <= in_turn + 0.005
    for places in found:
        draft = draft_of(job, pieces_of(case, places))
        assert draft is not None
        assert not any(draft.missing)


def test_fewer_of_the_boards_that_gave_a_plan_are_asked_too() -> None:
    case = a_case("medium", 11, Sawing.RIP_FIRST)
    used = [set(places) for places in plans_of(case)]
    assert any(late < early for early, late in combinations(used, 2))


@pytest.mark.parametrize("seed", range(3))
def test_finer_prices_of_many_boards_bound_no_higher_than_a_plan(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("layout.solve.straight._COUNTED", 0)
    case = a_case("small", seed, Sawing.RIP_FIRST)
    layout = plan(case.boards, case.parts, case.shop, SolveParams(iterations=400, prove=False, explain=False))
    assert not layout.unplaced
    asked: list[float] = []
    pitches: set[int] = set()

    def bound(hear: Callable[[float], None] | None) -> float:
        known: Outside = outside_of(question_of(case.boards, case.parts, case.shop))
        bounds = straight_bounds(case.boards, case.parts, case.shop, known, 0.0, 12.0, None, None, hear)
        return max(money for money in bounds if money is not None)

    few = bound(asked.append)
    monkeypatch.setattr("layout.solve.straight.MOST_BOARDS", 0)
    whole = _Work.programmes

    def heard(work: _Work, board: int, level: int) -> object:
        pitches.add(level)
        return whole(work, board, level)

    monkeypatch.setattr(_Work, "programmes", heard)
    many = bound(asked.append)
    assert len(asked) == 2
    assert few <= layout.cost + 0.005
    assert many <= layout.cost + 0.005
    assert pitches >= {0, 1}, "nothing was priced on a finer grid"
