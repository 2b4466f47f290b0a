"""The cheapest boards that rows of worths allow: held against a general solver, and all choices there are."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from layout.solve.cheapest import cheapest


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_it_is_the_cheapest_of_all_choices(data: st.DataObject) -> None:
    boards, rows = data.draw(st.integers(1, 8)), data.draw(st.integers(1, 5))
    whole = st.integers(0, 12)
    money = np.array(data.draw(st.lists(whole, min_size=boards, max_size=boards)), dtype=np.float64)
    lines = st.lists(whole, min_size=boards, max_size=boards)
    worths = np.array(data.draw(st.lists(lines, min_size=rows, max_size=rows)), dtype=np.float64)
    least = np.array(data.draw(st.lists(st.integers(0, 40), min_size=rows, max_size=rows)), dtype=np.float64)
    choices = [np.array(choice) for choice in product((0, 1), repeat=boards)]
    best = min((money @ choice for choice in choices if (worths @ choice >= least).all()), default=np.inf)
    found = cheapest(money, worths, least)
    assert found is not None
    paid, chosen = found
    assert paid == best
    if best < np.inf:
        used = np.isin(np.arange(boards), chosen)
        assert money @ used == paid
        assert (worths @ used >= least).all()
    else:
        assert chosen == ()


@pytest.mark.parametrize("seed", range(6))
def test_many_boards_as_a_general_solver_has_them(seed: int) -> None:
    """HiGHS, by scipy, on boards whose worths are much alike from row to row, as prices have them."""
    chance = np.random.default_rng(seed)
    area = chance.uniform(0.3, 1.6, size=26)
    money = np.round(area * chance.uniform(50.0, 90.0, size=26), 2)
    worths = np.floor(1000 * area * chance.uniform(0.7, 1.0, size=(30, 26)))
    least = 1000 * chance.uniform(4.0, 5.0) * np.ones(30)
    found = cheapest(money, worths, least)
    assert found is not None
    rule = LinearConstraint(worths, least, np.inf)
    exact = milp(
        money, integrality=np.ones(26), bounds=Bounds(0, 1), constraints=rule, options={"mip_rel_gap": 0.0}
    )
    assert found[0] == pytest.approx(exact.fun, abs=1e-5)
    used = np.isin(np.arange(26), found[1])
    assert money @ used == pytest.approx(found[0])
    assert (worths @ used >= least * (1 - 1e-9)).all()


def test_too_much_is_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layout.solve.cheapest._MOST_TRIES", 50)
    worths = np.ones((1, 30))  # boards alike in all, and half a board too many is wanted
    assert cheapest(np.full(30, 7.0) + np.arange(30) / 1e3, worths, np.array([14.5])) is None
