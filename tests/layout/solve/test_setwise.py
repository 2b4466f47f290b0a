"""Plans found set by set: sets laid out, one of each board chosen, what is told held to its checkers."""

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from math import inf
from time import monotonic
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout.allowances import Sawing, sawn_length, sawn_width
from layout.cost import money_for
from layout.cuts import sawable
from layout.solve.bound import outside_of, question_of
from layout.solve.careful_boards import Asked
from layout.solve.counted import sets_of
from layout.solve.fields import Field, Level, careful_field, careful_level
from layout.solve.job import job_of
from layout.solve.laid_out import laid_out
from layout.solve.near_sets import NearSets
from layout.solve.packed import Packed
from layout.solve.priced import Slabs
from layout.solve.prove import _Proof
from layout.solve.prover import draft_of
from layout.solve.setwise import SetBySet
from layout.solve.slabs import Place
from layout.solve.steps import Piece, Work
from layout.solve.straight import _Work, straight_bounds
from layout.solve.subsets import Subsets
from layout.solve.within import OnLayout
from tests.bench.jobs import Case, a_case
from tests.layout.solve.test_straight import every_set, fields

MOST = (2, 3)


def boxes_of(field: Field, pieces: Sequence[tuple[int, int, int]]) -> list[tuple[float, float, float, float]]:
    return [(x, y, x + field.lengths[t], y + field.widths[t]) for t, x, y in pieces]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(field=fields(), stages=st.sampled_from((2, 3)))
def test_what_is_laid_out_can_be_sawn_as_it_lies(field: Field, stages: int) -> None:
    most = MOST[: len(field.lengths)]
    slabs = Slabs(field, stages, exact=True)
    given_by = sets_of(slabs, most)
    possible = every_set(field, most, stages)
    for counts in product(*(range(n + 1) for n in most)):
        if not any(counts):
            continue
        found = laid_out(slabs, counts, (5, 7)[: len(most)])
        assert (found is not None) == bool(given_by[counts])
        if found is None:
            continue
        assert counts in possible
        assert tuple(np.bincount([t for t, _, _ in found], minlength=len(most))) == counts
        boxes = boxes_of(field, found)
        assert all(field.places[t][x, y] for t, x, y in found)
        assert all(x1 <= field.along and y1 <= field.across for _, _, x1, y1 in boxes)
        assert sawable(boxes, Sawing.RIP_FIRST, stages, 0.0)


def test_pieces_stacked_in_a_section_are_about_as_long_as_it() -> None:
    """A valid restriction: what is found is a layout all the same, worth no more than without it."""
    chance = np.random.default_rng(3)
    lengths, widths = (5, 8, 11), (4, 3, 6)
    for _ in range(8):
        places = tuple(chance.random((40, 22)) < chance.uniform(0.2, 0.9) for _ in lengths)
        field = Field(40, 22, lengths, widths, places)
        prices = [int(price) for price in chance.integers(20, 60, size=3)]
        whole, pieces = Slabs(field, 3, exact=True).best(prices)
        worths = []
        for alike in (0.5, 0.7, 1.0):
            worth, pieces = Slabs(field, 3, exact=True, alike=alike).best(prices)
            assert worth == sum(prices[t] for t, _, _ in pieces)
            assert all(field.places[t][x, y] for t, x, y in pieces)
            assert sawable(boxes_of(field, pieces), Sawing.RIP_FIRST, 3, 0.0)
            worths.append(worth)
        assert [whole, *worths] == sorted([whole, *worths], reverse=True)


def test_boards_with_few_sets_are_asked_for_more_of_them_alone() -> None:
    case = a_case("medium", 2, Sawing.RIP_FIRST)
    sets = SetBySet(
        case.boards, case.parts, case.shop, [part.quantity for part in case.parts], lambda _: None
    )
    work, grids = sets._work, sets._setwise._grids[0]
    work.until = inf
    asked = Asked(work, grids, range(5), {board: [] for board in range(5)})
    looked: list[Mapping[int, int]] = []
    many: list[dict[int, int]] = []

    def near(whole: Sequence[int], losses: Mapping[int, int]) -> dict[int, NearSets]:
        looked.append(dict(losses))
        found = plainly(tuple(whole), losses)
        many.append({board: len(one.losses) for board, one in found.items()})
        return found

    plainly, prices = asked._near, np.array([part.length * part.width for part in case.parts])
    asked._valued(range(5), asked.in_whole(prices))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(asked, "_near", near)
        patch.setattr(asked, "_worth", lambda whole: int(1.1 * np.dot(whole, work.known.wanted)))
        patch.setattr(asked, "_chosen", lambda *_: None)
        assert asked.sets(prices) is None
    assert len(looked) > 2
    counts = dict(many[0])
    assert min(counts.values()) < max(counts.values())
    lost = dict(looked[0])
    for losses, found in zip(looked[1:], many[1:], strict=True):
        assert all(counts[board] < 1_500 for board in losses), "asked again though it gave enough"
        assert all(loss > lost[board] for board, loss in losses.items())
        assert all(number >= counts[board] for board, number in found.items())
        counts.update(found)
        lost.update(losses)


@pytest.mark.parametrize("gives", [True, False])
def test_what_boards_have_to_spare_next_depends_on_the_first(
    gives: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Less if those gave a plan, more if not; none is asked twice."""
    case = a_case("large", 0, Sawing.RIP_FIRST)
    wanted = [part.quantity for part in case.parts]
    sets = SetBySet(case.boards, case.parts, case.shop, wanted, lambda _: None)._setwise
    sets.work.until = inf
    margins, asked = list[float](), list[tuple[int, ...]]()

    def cheapest(margin: float) -> Iterator[tuple[int, ...]]:
        margins.append(margin)
        yield from ((0, 1), (0, 2), (0, 3), (0, 4))

    def planned(boards: tuple[int, ...], soon: bool = False) -> bool:
        assert soon
        asked.append(boards)
        return gives

    monkeypatch.setattr(sets, "_can", lambda: True)
    monkeypatch.setattr(sets, "_cheapest", cheapest)
    monkeypatch.setattr(sets, "_planned", planned)
    sets.look_soon(60.0)
    assert len(margins) == 2
    assert (margins[1] < margins[0]) == gives
    assert asked == [(0, 1), (0, 2), (0, 3), (0, 4)][: 2 if gives else 4]


@pytest.mark.parametrize("seed", range(4))
def test_careful_pitches_round_up_by_little(seed: int) -> None:
    case = a_case("medium", seed, Sawing.RIP_FIRST)
    about: tuple[Level, ...] = ((21.0, 2.5), (30.0, 5.0))
    shop, kerf = case.shop, case.shop.allowances.kerf
    areas = np.array([part.quantity * part.length * part.width for part in case.parts])
    sizes = (
        np.array([sawn_length(part, shop.allowances) + kerf for part in case.parts]),
        np.array([sawn_width(part, shop.allowances) + kerf for part in case.parts]),
    )

    def lost(axis: int, pitch: float) -> float:
        """By rounding up, and three tenths of a cell where clear wood ends, in shares of a size."""
        cells = np.ceil(sizes[axis] / pitch - 1e-9)
        ends = 0.3 * pitch / float(np.average(sizes[axis], weights=areas))
        return float(np.average(cells * pitch / sizes[axis] - 1.0, weights=areas)) + ends

    for board in (board for board in case.boards if not board.grain):
        for asked in about:
            pitches = careful_level(board, case.parts, shop, asked)
            careful = careful_field(board, case.parts, shop, pitches)
            assert careful.ground.row == pytest.approx(pitches[1], rel=1e-9)
            rows = careful.ground.width / pitches[1]
            assert rows == pytest.approx(round(rows))
            divided = careful.ground.width / np.ceil(careful.ground.width / asked[1])
            for axis, other in ((0, asked[0]), (1, float(divided))):
                assert 0.8 * asked[axis] <= pitches[axis] <= 1.2 * asked[axis]
                assert lost(axis, pitches[axis]) <= lost(axis, other) + 1e-9
            cells = (careful.field.lengths, careful.field.widths)
            for own, size, pitch in zip(cells, sizes, pitches, strict=True):
                assert (np.array(own) * pitch >= size - 1e-6 * pitch).all()
                assert ((np.array(own) - 1) * pitch < size).all()


def test_what_is_known_of_boards_alone_is_not_told_back() -> None:
    case = a_case("small", 2, Sawing.RIP_FIRST)
    known = outside_of(question_of(case.boards, case.parts, case.shop))
    known.cut([1.0] * len(known.money), 2.0)
    known.bar(0, tuple(known.most[0]))
    alone = known.alone()
    assert not alone.cuts()
    assert alone.rows_of(0) == known.rows_of(0)
    alone.price(0, [1.0] * len(known.wanted), 1.0)
    alone.bar(1, tuple(known.most[1]))
    assert len(alone.rows_of(0)[0]) == len(known.rows_of(0)[0]) + 1
    assert not known.rows_of(1)[1]


def test_boards_that_are_to_spare_more_cost_as_much_or_more() -> None:
    case = a_case("small", 3, Sawing.RIP_FIRST)
    asked = []
    for margin in (-0.05, 0.0, 0.1, 0.3):
        known = outside_of(question_of(case.boards, case.parts, case.shop))
        work = _Work(case.boards, case.parts, case.shop, known, 1e6, None)
        subsets = Subsets(work, [p.length * p.width for p in case.parts], 0, copies=False, margin=margin)
        money = [bound for bound in subsets.bounds(0.0) if bound is not None]
        asked.append(money[-1])
    assert asked == sorted(asked)
    assert asked[-1] > asked[0]


def plans_of(case: Case, seconds: float = 60.0, **rest: object) -> list[dict[int, list[Place]]]:
    found: list[dict[int, list[Place]]] = []

    def hear(places: Mapping[int, Sequence[Place]]) -> None:
        found.append({board: list(own) for board, own in places.items()})

    wanted = [part.quantity for part in case.parts]
    look_for_plans(case, wanted, seconds, hear, **rest)
    return found


def look_for_plans(case: Case, wanted: Sequence[int], seconds: float, hear: OnLayout, **rest: object) -> None:
    """Look for plans set by set, first and then, so long each."""
    one = SetBySet(case.boards, case.parts, case.shop, wanted, hear, **rest)  # type: ignore[arg-type]
    one.look_soon(seconds)
    one.look(seconds)


def pieces_of(case: Case, places: Mapping[int, Sequence[Place]]) -> list[Piece]:
    return [(case.boards[b].id, case.parts[t].name, x, y) for b, own in places.items() for t, x, y in own]


def money_of(case: Case, places: Mapping[int, object]) -> float:
    return money_for(case.boards[board] for board in places)


@pytest.mark.parametrize(
    ("seed", "sawing", "stages"),
    [
        (1, Sawing.RIP_FIRST, 3),
        (7, Sawing.CROSSCUT_FIRST, 3),
        (5, Sawing.RIP_FIRST, 2),
    ],
)
def test_plans_told_hold_and_get_cheaper(seed: int, sawing: Sawing, stages: int) -> None:
    case = a_case("small", seed, sawing, stages)
    job = job_of(case.boards, case.parts, case.shop)
    found = plans_of(case)
    money = [money_of(case, places) for places in found]
    assert money
    assert money == sorted(set(money), reverse=True)
    for places in found:
        pieces = pieces_of(case, places)
        draft = draft_of(job, pieces)
        assert draft is not None, "not allowed where it lies, or not to be sawn"
        assert not any(draft.missing)
        assert len(pieces) == sum(part.quantity for part in case.parts), "more than was wanted"
    known = outside_of(question_of(case.boards, case.parts, case.shop))
    bounds = straight_bounds(case.boards, case.parts, case.shop, known, seconds=3.0)
    assert max(bound for bound in bounds if bound is not None) <= money[-1] + 0.005


def test_only_what_undercuts_a_plan_known_elsewhere_is_told() -> None:
    case = a_case("small", 1, Sawing.RIP_FIRST)
    money = [money_of(case, places) for places in plans_of(case)]
    assert not plans_of(case, below=lambda: money[-1])
    again = [money_of(case, places) for places in plans_of(case, below=lambda: money[-1] + 0.01)]
    assert again[-1:] == money[-1:]


def test_locked_pieces_keep_their_wood_and_their_board_is_paid_for() -> None:
    case = a_case("small", 1, Sawing.RIP_FIRST)
    whole = plans_of(case)[-1]
    board = min(whole)
    own = whole[board]
    sizes = job_of(case.boards, case.parts, case.shop).maps[board].sizes
    held = [(x, y, x + sizes[t][0], y + sizes[t][1]) for t, x, y in own]
    taken: list[list[tuple[float, float, float, float]]] = [[] for _ in case.boards]
    taken[board] = held
    left = [part.quantity for part in case.parts]
    for t, _, _ in own:
        left[t] -= 1
    found: list[Mapping[int, Sequence[Place]]] = []
    look_for_plans(case, left, 60.0, found.append, taken=taken)
    assert found
    last = found[-1]
    others = [sum(money_of(case, {b: 0}) for b in places if b != board) for places in found]
    assert others == sorted(set(others), reverse=True), "a board paid for already was counted"
    for t, x, y in last.get(board, ()):
        mine = (x, y, x + sizes[t][0], y + sizes[t][1])
        kerf = case.shop.allowances.kerf
        assert all(
            mine[2] + kerf <= other[0] + 1e-6
            or other[2] + kerf <= mine[0] + 1e-6
            or mine[3] + kerf <= other[1] + 1e-6
            or other[3] + kerf <= mine[1] + 1e-6
            for other in held
        )
    assert sum(len(places) for places in last.values()) == sum(left)


def test_what_cannot_be_placed_or_has_no_time_tells_nothing() -> None:
    case = a_case("small", 1, Sawing.RIP_FIRST)
    huge = replace(case, parts=(replace(case.parts[0], length=9_000.0), *case.parts[1:]))
    assert not plans_of(huge)
    began = monotonic()
    assert not plans_of(case, seconds=0.0)
    assert monotonic() - began < 30.0


def test_parts_of_more_kinds_than_there_are_bits_for_are_planned_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Each board is asked for as many kinds as there are bits for, so that a plan is put together of few."""
    case = a_case("small", 1, Sawing.RIP_FIRST)
    least = money_of(case, plans_of(case)[-1])
    wanted = [part.quantity for part in case.parts]
    needed = sum(copies.bit_length() + 1 for copies in wanted)
    monkeypatch.setattr("layout.solve.packed._BITS", needed - 1)
    assert not Packed(wanted).fits
    found: list[Mapping[int, Sequence[Place]]] = []
    look_for_plans(case, wanted, 60.0, found.append)
    assert found
    assert all(sum(map(len, places.values())) == sum(wanted) for places in found)
    assert all(len({t for t, _, _ in own}) < len(wanted) for places in found for own in places.values())
    assert money_of(case, found[-1]) >= least - 0.005


@pytest.mark.parametrize("stages", [2, 3])
def test_plans_are_looked_for_once_beside_bounds(stages: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """When prices rule out no more boards, or a good part of the time is over; the bounds are the same."""
    monkeypatch.setattr("layout.solve.straight._COUNTED", 0)
    case = a_case("small", 2, Sawing.RIP_FIRST, stages)
    asked: list[float] = []

    def bound(look: Callable[[float], None] | None) -> float:
        known = outside_of(question_of(case.boards, case.parts, case.shop))
        job = case.boards, case.parts, case.shop, known, 0.0, 8.0, None, None
        return max(money for money in straight_bounds(*job, look) if money is not None)

    with_look = bound(asked.append)
    assert len(asked) <= 1
    assert all(0.0 < seconds <= 8.0 for seconds in asked)
    money = [money_of(case, places) for places in plans_of(case)]
    assert max(with_look, bound(None)) <= money[-1] + 0.005
    assert asked


def test_the_other_process_says_what_undercuts_what_it_was_told(capsys: pytest.CaptureFixture[str]) -> None:
    case = a_case("small", 1, Sawing.RIP_FIRST)
    job = job_of(case.boards, case.parts, case.shop)
    told = SimpleNamespace(boards=None)

    def look(told: SimpleNamespace) -> None:
        proof = _Proof(case.boards, case.parts, case.shop, (), told)  # type: ignore[arg-type]
        assert proof.goes_on(Work.SOON, 60.0)
        assert proof.goes_on(Work.REST, 60.0)
        # What boards were seen to give, a bound may begin with.
        for sets in proof._sets.seen:
            assert sets
            assert any(any(counts) for counts in sets)

    look(told)
    lines = capsys.readouterr().out.splitlines()
    assert lines.count("soon") == 1
    lines.remove("soon")
    assert lines
    money = []
    for line in lines:
        word, _, value = line.partition(" ")
        assert word == "plan"
        draft = draft_of(job, json.loads(value))
        assert draft is not None
        assert not any(draft.missing)
        money.append(draft.money(job))
    assert money == sorted(set(money), reverse=True)
    told.boards = {piece[0] for piece in json.loads(lines[-1].partition(" ")[2])}
    look(told)
    assert capsys.readouterr().out == "soon\n"
