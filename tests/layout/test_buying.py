"""What to buy: the cheapest set, what to do without a board of it, what one more would give."""

from dataclasses import replace

from layout.check import violations
from layout.solve.buying import what_to_buy
from layout.solve.params import SolveParams
from layout.stock import Price
from tests.bench.jobs import a_case
from tests.builders import tiny_board, tiny_parts, tiny_shop

QUICK = SolveParams(iterations=60, prove=False)


def yard(*prices: float) -> list:
    return [
        replace(tiny_board(), id=str(number), price=Price(price))
        for number, price in enumerate(prices, start=1)
    ]


def test_the_cheapest_board_that_makes_everything_is_bought() -> None:
    bought = what_to_buy(yard(40, 30, 50), tiny_parts(), tiny_shop(), QUICK)
    assert bought.best.bought == ("2",)
    assert bought.best.cost == 30.0
    assert bought.runners_up == ()
    assert [item.board for item in bought.further] == ["1", "3"]
    assert bought.further[0].spares == {"rail": 2, "slat": 1}


def test_an_owned_board_costs_nothing() -> None:
    boards = yard(40, 30, 50)
    boards[2] = replace(boards[2], owned=True)
    bought = what_to_buy(boards, tiny_parts(), tiny_shop(), QUICK)
    assert bought.best.boards == ("3",)
    assert bought.best.bought == ()
    assert bought.best.cost == 0.0


def test_a_set_that_costs_little_more_is_a_runner_up_and_holds() -> None:
    boards = yard(30, 30.5, 50)
    bought = what_to_buy(boards, tiny_parts(), tiny_shop(), QUICK)
    assert [(item.bought, item.cost, item.without) for item in bought.runners_up] == [(("2",), 30.5, "1")]
    assert violations(boards, tiny_parts(), tiny_shop(), bought.runners_up[0].layout) == ()


def test_with_too_little_wood_every_board_is_cut_and_none_is_left_to_add() -> None:
    case = a_case("tiny", 4)
    few = what_to_buy(case.boards[:1], case.parts, case.shop, QUICK)
    assert few.best.layout.unplaced
    assert few.further == ()
