"""One set of each board, that together make up all parts: what is found does, and hard cases are found."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.solve import one_each
from layout.solve.one_each import one_of_each


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_one_of_each_makes_up_all_parts(data: st.DataObject) -> None:
    wanted = (3, 2, 4)
    one = st.tuples(*(st.integers(0, n) for n in wanted))
    boards = [
        np.array(data.draw(st.lists(one, min_size=1, max_size=12)), dtype=np.int64)
        for _ in range(data.draw(st.integers(1, 3)))
    ]
    rows = [sum(rows) for rows in product(*boards)]
    possible = any((np.array(row) >= wanted).all() for row in rows)
    chosen = one_of_each(boards, wanted, (5, 3, 4), 400)
    assert (
        chosen is None
        or (sum(own[n] for own, n in zip(boards, chosen, strict=True)) >= np.array(wanted)).all()
    )
    assert possible or chosen is None


def test_one_of_each_finds_what_is_hidden_among_thousands() -> None:
    """A choice that leaves nothing over is hidden among 2 000 sets of each of five boards."""
    found = 0
    for seed in range(10):
        chance = np.random.default_rng(seed)
        hidden = chance.integers(0, 3, size=(5, 9))
        boards = []
        for row in hidden:
            others = chance.integers(0, 3, size=(2_000, 9))
            # No other set has more pieces than the one hidden: nothing is to spare.
            others = others[others.sum(axis=1) <= row.sum()]
            boards.append(chance.permutation(np.vstack((others, row)), axis=0))
        wanted = hidden.sum(axis=0).tolist()
        chosen = one_of_each(boards, wanted, [10] * 9, 4_000, seed)
        if chosen is not None:
            assert (sum(own[n] for own, n in zip(boards, chosen, strict=True)) >= np.array(wanted)).all()
            found += 1
    assert found >= 8


def test_one_of_each_keeps_its_sums_small_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """Parts that stay missing get dearer at every move, and their sums are of 32 bits."""
    chance = np.random.default_rng(5)
    boards = [chance.integers(0, 2, size=(4, 3)) for _ in range(3)]
    monkeypatch.setattr(one_each, "_moved", one_each._moved.__wrapped__)  # type: ignore[attr-defined]
    with np.errstate(over="raise"):
        for prices in ([9_000, 1, 1], [1, 1, 1]):
            assert one_of_each(boards, [40, 40, 40], prices, 500) is None
