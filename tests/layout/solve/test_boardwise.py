"""Boards of three stages asked set by set: against counting every set, and trying everything."""

from collections.abc import Sequence
from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout.allowances import Sawing
from layout.solve.boardwise import Boardwise
from layout.solve.bound import outside_of, question_of
from layout.solve.counted import sets_of
from layout.solve.fields import Field
from layout.solve.near_sets import NearSets, _pairs, made_up, near_sets
from layout.solve.near_slabs import Priced
from layout.solve.outside import Outside
from layout.solve.packed import Packed
from layout.solve.priced import Slabs
from layout.solve.straight import _Work
from tests.bench.jobs import a_case
from tests.layout.solve.test_straight import every_set, fields

MOST = (2, 3)
Counts = tuple[int, ...]


def holds(found: np.ndarray, counts: Counts) -> bool:
    return bool((found >= counts).all(axis=1).any())


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(field=fields(), prices=st.tuples(st.integers(1, 9), st.integers(1, 9)), loss=st.integers(0, 40))
def test_near_sets_miss_none_that_trying_everything_finds(
    field: Field, prices: tuple[int, int], loss: int
) -> None:
    """`every_set` knows nothing of slabs: it lays pieces out in all ways, and asks what can be sawn."""
    most, asked = MOST[: len(field.lengths)], prices[: len(field.lengths)]
    board = Priced(Slabs(field, 3, step=1), asked)
    found = near_sets(board, most, loss)
    assert found is not None
    assert (found.counts <= most).all()
    assert (found.losses == board.worth - found.counts @ asked).all()
    assert (found.losses <= loss).all()
    for counts in every_set(field, most, 3):
        if np.dot(counts, asked) >= board.worth - loss:
            assert holds(found.counts, counts), counts


@pytest.mark.parametrize("seed", range(12))
def test_near_sets_are_those_that_counting_finds(seed: int) -> None:
    """Boards too large to try everything, some with sections of relaxed length and steps of places."""
    chance = np.random.default_rng(seed)
    lengths, widths, most = (5, 8, 11), (4, 3, 6), (2, 3, 2)
    places = tuple(chance.random((40, 22)) < chance.uniform(0.05, 0.8) for _ in lengths)
    slabs = Slabs(Field(40, 22, lengths, widths, places), 3, step=1 + seed % 2, apart=1.0 + 0.1 * (seed % 3))
    board = Priced(slabs, tuple(int(price) for price in chance.integers(20, 60, size=3)))
    truth = sets_of(slabs, most)
    worths = {counts: int(np.dot(counts, board.prices)) for counts in product(*(range(n + 1) for n in most))}
    whole = near_sets(board, most, board.worth)
    assert whole is not None
    for loss in (0, 30, board.worth // 4, board.worth):
        found = near_sets(board, most, loss)
        assert found is not None
        near = {counts for counts, worth in worths.items() if truth[counts] and worth >= board.worth - loss}
        assert {counts for counts in worths if holds(found.counts, counts)} >= near
        assert {tuple(row) for row in found.counts.tolist()} <= near
        # None lies in another one.
        rows = found.counts
        assert ((rows[:, None] >= rows[None]).all(axis=2).sum() == len(rows)) or not len(rows)


def test_what_is_too_much_is_not_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    field = Field(30, 20, (4, 5), (3, 4), tuple(np.ones((30, 20), np.bool_) for _ in range(2)))
    board = Priced(Slabs(field, 3), (12, 20))
    assert near_sets(board, (9, 9), 60) is not None
    assert near_sets(board, (9, 9), 60, lambda: False) is None
    monkeypatch.setattr("layout.solve.near_slabs._MOST_AT_ONCE", 10)
    assert near_sets(board, (9, 9), 60) is None
    monkeypatch.setattr("layout.solve.near_slabs._MOST_AT_ONCE", 10_000)
    monkeypatch.setattr("layout.solve.near_slabs._MOST_CELLS", 10)
    assert near_sets(board, (9, 9), 60) is None


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_sets_made_up_are_those_of_all_choices(data: st.DataObject) -> None:
    wanted = (3, 2, 4)
    one = st.tuples(*(st.integers(0, n) for n in wanted))
    boards = []
    for _ in range(data.draw(st.integers(1, 3))):
        counts = np.array(data.draw(st.lists(one, min_size=1, max_size=12)), dtype=np.int64)
        losses = np.array(data.draw(st.lists(st.integers(0, 9), min_size=len(counts), max_size=len(counts))))
        boards.append(NearSets(counts, losses))
    loss = data.draw(st.integers(0, 20))
    choices = [
        [board.counts[n] for board, n in zip(boards, chosen, strict=True)]
        for chosen in product(*(range(len(board.losses)) for board in boards))
        if sum(board.losses[n] for board, n in zip(boards, chosen, strict=True)) <= loss
    ]
    possible = any((sum(rows) >= np.array(wanted)).all() for rows in choices)
    found = made_up(boards, wanted, loss)
    assert isinstance(found, list) == possible
    assert (found is False) != possible
    if isinstance(found, list):
        assert any(all((a == b).all() for a, b in zip(found, rows, strict=True)) for rows in choices)
        assert (sum(found) >= np.array(wanted)).all()


@given(data=st.data())
def test_packed_sets_add_and_compare_like_the_sets_themselves(data: st.DataObject) -> None:
    most = tuple(data.draw(st.lists(st.integers(0, 9), min_size=1, max_size=12)))
    packed = Packed(most)
    assert packed.fits == (sum(max(n.bit_length(), 1) + 1 for n in most) <= 62)
    if not packed.fits:
        return
    one, other = (np.array([data.draw(st.integers(0, n)) for n in most]) for _ in range(2))
    a, b = (np.array([packed.of(counts)], dtype=np.int64) for counts in (one, other))
    assert packed.counts(a).tolist() == [one.tolist()]
    assert packed.packed(one[None]).tolist() == a.tolist()
    assert packed.allowed(a + b)[0] == (one + other <= most).all()
    held, _ = _pairs(a, np.array([1]), b, packed.guard, True)
    assert bool(len(held)) == (one >= other).all()


def test_boards_fall_that_no_prices_rule_out() -> None:
    """Prices leave boards 2 and 4 2 % more than 31 pieces; with copies counted and boards whole they fall."""
    case = a_case("medium", 3, Sawing.RIP_FIRST, 3)
    known = outside_of(question_of(case.boards, case.parts, case.shop))
    work = _Work(case.boards, case.parts, case.shop, known, 300.0, None)
    assert work.boardwise.fall((2, 4), _nothing) is True
    assert known.cuts()[-1] == ([float(board not in (2, 4)) for board in range(10)], 1.0)


@pytest.mark.parametrize("seed", range(6))
def test_boards_fall_exactly_where_no_two_sets_make_up_all_parts(seed: int) -> None:
    """Boards of a few cells, whose sets are counted one and all; some fall, some do not."""
    chance = np.random.default_rng(seed)
    fell = []
    for _ in range(8):
        fields = [
            Field(16, 12, (4, 6, 5), (4, 3, 5), tuple(chance.random((16, 12)) < 0.25 for _ in range(3)))
            for _ in range(2)
        ]
        views = {board: Slabs(field, 3) for board, field in enumerate(fields)}
        # What they give together, or one piece more than that.
        gives = [np.argwhere(sets_of(view, (4, 4, 4))) for view in views.values()]
        best = sum(own[own.sum(axis=1).argmax()] for own in gives)
        best[chance.integers(3)] += chance.integers(2)
        wanted = tuple(best.tolist())
        gives = [np.argwhere(sets_of(view, wanted)) for view in views.values()]
        work = _Grids(views, wanted)
        stands = bool(((gives[0][:, None] + gives[1][None]) >= wanted).all(axis=2).any())
        assert Boardwise(work).fall((0, 1), _nothing) is not stands
        fell.append(not stands)
    assert len(set(fell)) == 2


def test_parts_so_small_that_their_worths_do_not_fit_leave_the_question_open() -> None:
    places = tuple(np.ones((100, 100), np.bool_) for _ in range(2))
    board = Slabs(Field(100, 100, (50, 1), (50, 1), places), 3)
    with pytest.raises(OverflowError, match="choose prices"):
        board.best((1_000, 1))
    assert Boardwise(_Grids({0: board, 1: board}, (3, 2))).fall((0, 1), _nothing) is False


class _Grids:
    """Boards that are the same on every level of grids."""

    def __init__(self, views: dict[int, Slabs], wanted: Counts) -> None:
        self.views, self.known = views, Outside(wanted, [1.0] * len(views), [wanted] * len(views))

    def programmes(self, board: int, _level: int) -> Slabs:
        return self.views[board]

    def left(self) -> float:
        return 1e9


def _nothing(_board: int) -> Sequence[Counts]:
    return ()
