"""Boards of two stages asked slab by slab: against trying everything, and on a job that searches fail on."""

from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout.allowances import Sawing
from layout.check import violations
from layout.cuts import sawable
from layout.solve.bound import outside_of, question_of
from layout.solve.fields import Field
from layout.solve.job import job_of
from layout.solve.priced import Slabs
from layout.solve.prover import draft_of
from layout.solve.result import layout_of
from layout.solve.slab_choice import chosen_slabs, prices_of
from layout.solve.slab_sets import slab_sets
from layout.solve.slabs import Place
from layout.solve.straight import _Work
from tests.bench.jobs import a_case
from tests.layout.solve.test_straight import every_set, fields

MOST = (2, 3)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(field=fields(), exact=st.booleans())
def test_slabs_give_what_trying_everything_gives(field: Field, exact: bool) -> None:
    """`every_set` knows nothing of slabs: it lays pieces out in all ways, and asks what can be sawn."""
    most = MOST[: len(field.lengths)]
    slabs = Slabs(field, 2, exact=exact, step=1, apart=1.0)
    view = slab_sets(slabs, most)
    assert view is not None
    truth = every_set(field, most, 2)
    for counts in product(*(range(n + 1) for n in most)):
        if not any(counts):
            continue
        prices = prices_of({0: view}, counts)
        found = False if prices.short else chosen_slabs({0: view}, counts, prices, 10_000, 30.0, surely=True)
        assert (found is not False) == (counts in truth), counts
        if not isinstance(found, dict):
            continue
        pieces = [piece for slab in found[0] for piece in view.pieces(slab)]
        boxes = [(x, y, x + field.lengths[t], y + field.widths[t]) for t, x, y in pieces]
        given_of = np.bincount([t for t, _, _ in pieces], minlength=len(counts))
        assert (given_of >= counts).all()
        assert all(field.places[t][x, y] for t, x, y in pieces)
        assert all(x1 <= field.along and y1 <= field.across for _, _, x1, y1 in boxes)
        assert sawable(boxes, Sawing.RIP_FIRST, 2, 0.0)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(field=fields(), prices=st.tuples(st.integers(1, 9), st.integers(1, 9)))
def test_a_worth_lies_between_what_there_is_and_what_is_worth_without_counting(
    field: Field, prices: tuple[int, int]
) -> None:
    most, asked = MOST[: len(field.lengths)], list(prices[: len(field.lengths)])
    slabs = Slabs(field, 2, step=1, apart=1.0)
    view = slab_sets(slabs, most)
    assert view is not None
    worth, found = view.best(asked)
    assert max(np.dot(asked, counts) for counts in every_set(field, most, 2)) <= worth
    assert worth <= slabs.best(asked)[0]
    assert worth == sum(asked[t] for slab in found for t, _, _ in view.pieces(slab))
    # Slabs that lose nothing make up boards of that worth, and there are no better ones.
    near = view.near(asked, 0.0, 1_000)
    assert set(found) <= set(near)
    assert len(view.near(asked, 1e9, 1_000)) >= len(near)


@pytest.mark.parametrize("across", [254, 255, 600])
def test_rows_are_worked_out_a_few_at_a_time_where_there_are_many(
    across: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = np.random.default_rng(5)
    places = tuple(chance.random((9, across)) < 0.3 for _ in range(2))
    slabs = Slabs(Field(9, across, (3, 2), (4, 7), places), 2)
    whole = slab_sets(slabs, (3, 3))
    monkeypatch.setattr("layout.solve.slab_sets._MOST_BYTES", 2_000)
    few = slab_sets(slabs, (3, 3))
    assert whole is not None
    assert few is not None
    for (sets, ends), (again, alike) in zip(whole.rows, few.rows, strict=True):
        assert sets.tolist() == again.tolist()
        assert ends.tolist() == alike.tolist()
    assert sum(len(sets) for sets, _ in whole.rows) > across / 10


def test_sets_that_are_too_many_are_not_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    slabs = Slabs(Field(9, 9, (1, 1, 1), (2, 3, 4), tuple(np.ones((9, 9), np.bool_) for _ in range(3))), 2)
    assert slab_sets(slabs, (4, 4, 4), size=1_000) is None
    assert slab_sets(slabs, (4, 4, 4), size=1e9) is not None
    monkeypatch.setattr("layout.solve.slab_sets._MOST_SETS", 20)
    assert slab_sets(slabs, (4, 4, 4)) is None
    with pytest.raises(ValueError, match="3 stages hold stacks"):
        slab_sets(Slabs(slabs.field, 3), (1, 1, 1))


def test_two_boards_give_all_parts_where_searches_took_three() -> None:
    """31 pieces: searches of a minute paid 135.9; boards 2 and 6 cost 113.9, and no cheaper ones do."""
    case = a_case("medium", 3, Sawing.RIP_FIRST, 2)
    known = outside_of(question_of(case.boards, case.parts, case.shop))
    told: list[dict[int, list[Place]]] = []
    work = _Work(case.boards, case.parts, case.shop, known, 120.0, None, lambda found: told.append({**found}))
    assert work.slabwise.settles((2, 6)) is True
    assert len(told) == 1
    assert set(told[0]) == {2, 6}
    pieces = [
        (case.boards[board].id, case.parts[t].name, x, y)
        for board, here in told[0].items()
        for t, x, y in here
    ]
    job = job_of(case.boards, case.parts, case.shop)
    draft = draft_of(job, pieces)
    assert draft is not None
    layout = layout_of(job, draft, case.boards, case.parts, (), (), 0)
    assert violations(case.boards, case.parts, case.shop, layout) == ()
    assert not any(draft.missing)


def test_boards_that_cannot_do_are_ruled_out_with_all_fewer() -> None:
    case = a_case("medium", 3, Sawing.RIP_FIRST, 2)
    known = outside_of(question_of(case.boards, case.parts, case.shop))
    work = _Work(case.boards, case.parts, case.shop, known, 60.0, None, None)
    assert work.slabwise.settles((2, 3)) is False
    worths, least = known.cuts()[-1]
    assert least == 1.0
    assert [board for board, worth in enumerate(worths) if worth == 0.0] == [2, 3]
    found = known.chosen(10.0)
    assert found is not None
    assert not {2, 3}.issuperset(found[1])


def test_three_stages_are_not_asked_slab_by_slab() -> None:
    case = a_case("small", 0, Sawing.RIP_FIRST, 3)
    known = outside_of(question_of(case.boards, case.parts, case.shop))
    work = _Work(case.boards, case.parts, case.shop, known, 5.0, None, None)
    assert work.slabwise.settles((0, 1)) is None
    assert work.slabwise.worth(0, 0, [1] * len(case.parts)) is None
