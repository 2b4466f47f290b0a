"""The weakest bound: below every layout with repairs or free stave widths, and there where no other is."""

from dataclasses import replace

import pytest

from layout.cost import price_of
from layout.solve.by_area import BY_AREA, area_bound
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from tests.bench.jobs import a_case
from tests.builders import tiny_board, tiny_parts, tiny_shop


def test_the_cheapest_boards_with_wood_enough_are_the_bound() -> None:
    board, parts, shop = tiny_board(), tiny_parts(), tiny_shop()
    dear = replace(board, id="dear", price=replace(board.price, amount=board.price.amount * 3))
    assert area_bound([board, dear], parts, shop) == pytest.approx(price_of(board), rel=1e-5)
    held = area_bound([board, dear], parts, shop, ("dear",))
    assert held is not None
    assert held >= price_of(dear) - 1e-3
    assert area_bound([replace(board, forbidden=True)], parts, shop) is None
    many = [replace(part, quantity=part.quantity * 10_000) for part in parts]
    assert area_bound([board, dear], many, shop) is None


@pytest.mark.parametrize("seed", [3, 7])
def test_a_plan_with_repairs_says_how_weak_its_bound_is(seed: int) -> None:
    case = a_case("tiny", seed)
    shop = replace(case.shop, repairs=replace(case.shop.repairs, allowed=True))
    layout = plan(case.boards, case.parts, shop, SolveParams(seconds=1.5, explain=False))
    assert not layout.unplaced
    assert layout.bound is not None
    assert layout.bound.method == BY_AREA
    assert layout.bound.cost <= layout.cost
    assert layout.bound.proved == (layout.cost <= layout.bound.cost + 0.005)
    counted = plan(case.boards, case.parts, shop, SolveParams(iterations=3, explain=False))
    assert counted.bound is None
