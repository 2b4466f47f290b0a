"""What boards are worth at most at prices of the parts: never less than what a plan takes from them."""

from random import Random

import numpy as np
import pytest
from numpy.typing import NDArray

from layout.allowances import Sawing
from layout.solve.bound import outside_of, question_of
from layout.solve.outside import Outside
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.straight import _Work, straight_bounds
from layout.solve.worths import Worths
from tests.bench.jobs import Case, a_case


def outside(case: Case) -> Outside:
    return outside_of(question_of(case.boards, case.parts, case.shop, cells=10_000))


def taken(case: Case, seed: int) -> dict[int, NDArray[np.int64]]:
    """Copies of each part that some plan takes from each board."""
    layout = plan(case.boards, case.parts, case.shop, SolveParams(iterations=15, seed=seed, prove=False))
    numbers = {part.name: number for number, part in enumerate(case.parts)}
    found = {}
    for number, board in enumerate(case.boards):
        held = [numbers[item.part] for item in layout.placements if item.board == board.id]
        found[number] = np.bincount(held, minlength=len(numbers))
    return found


@pytest.mark.parametrize("stages", [2, 3])
def test_no_board_is_said_to_be_worth_less_than_a_plan_takes_from_it(stages: int) -> None:
    case = a_case("small", 2, Sawing.RIP_FIRST, stages)
    worths = Worths(_Work(case.boards, case.parts, case.shop, outside(case), 60.0, None))
    plans = [taken(case, seed) for seed in range(2)]
    chance = Random(4)
    counted = 0
    for _ in range(2):
        for board in range(len(case.boards)):
            areas = [part.length * part.width * chance.uniform(0.5, 1.5) for part in case.parts]
            whole = tuple(int(600 * area / max(areas)) for area in areas)
            least = max(int(one[board] @ np.array(whole)) for one in plans)
            assert worths.about(board, whole) + 1 >= worths.most(board, whole) >= least
            (value,) = worths.exact((board,), 0, whole)
            assert value >= least
            while (finer := worths.finer(board, 0, whole)) is not None:
                assert least <= finer <= value
                counted += finer < value
                value = finer
            assert worths.most(board, whole) >= least
    assert counted  # copies there are not did make a difference


def test_a_floor_known_otherwise_is_where_choices_of_boards_begin(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layout.solve.straight._COUNTED", 0)
    case = a_case("tiny", 7, Sawing.RIP_FIRST)
    known = outside(case)
    answer = known.whole(5.0)
    assert answer is not None
    known.costs_at_least(answer.money)
    bounds = list(straight_bounds(case.boards, case.parts, case.shop, known, seconds=10.0))
    cheapest = plan(case.boards, case.parts, case.shop, SolveParams(iterations=60, prove=False)).cost
    assert bounds
    for money in bounds:
        assert money is not None
        assert answer.money - 0.01 <= money <= cheapest + 0.005
