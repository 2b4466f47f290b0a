"""The bounds for straight cuts: exact on plates small enough to try everything, and below every plan."""

from collections.abc import Iterator, Mapping
from io import BytesIO
from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from layout.allowances import Sawing
from layout.check import violations
from layout.cuts import Box, sawable
from layout.solve.bound import outside_of, question_of
from layout.solve.counted import Sets, heights_of, sets_of
from layout.solve.fields import Field
from layout.solve.job import job_of
from layout.solve.outside import Outside
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.priced import Slabs
from layout.solve.prover import Prover, draft_of
from layout.solve.result import layout_of
from layout.solve.sawn_out import SawnOut
from layout.solve.slabs import Place
from layout.solve.steps import Work
from layout.solve.straight import straight_bounds
from tests.bench.jobs import a_case

Counts = tuple[int, ...]
STRAIGHT = (Sawing.RIP_FIRST, Sawing.CROSSCUT_FIRST)


def every_set(field: Field, most: Counts, stages: int) -> set[Counts]:
    """All sets of parts in all layouts of a grid that can be sawn, by trying everything."""
    boxes = [
        (t, (x, y, x + field.lengths[t], y + field.widths[t]))
        for t, places in enumerate(field.places)
        for x, y in np.argwhere(places).tolist()
        if x + field.lengths[t] <= field.along and y + field.widths[t] <= field.across
    ]
    found = {(0,) * len(most)}

    def more(first: int, lying: list[Box], counts: Counts) -> None:
        for number in range(first, len(boxes)):
            t, box = boxes[number]
            if counts[t] == most[t] or any(_overlap(box, other) for other in lying):
                continue
            now = (*counts[:t], counts[t] + 1, *counts[t + 1 :])
            if sawable([*lying, box], Sawing.RIP_FIRST, stages, 0.0):
                found.add(now)
            more(number + 1, [*lying, box], now)

    more(0, [], (0,) * len(most))
    return found


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


@st.composite
def fields(draw: st.DrawFn) -> Field:
    along, across = draw(st.integers(3, 6)), draw(st.integers(2, 5))
    sizes = draw(st.lists(st.tuples(st.integers(2, 4), st.integers(1, 3)), min_size=1, max_size=2))
    chance = np.random.default_rng(draw(st.integers(0, 10_000)))
    places = tuple(chance.random((along, across)) < 0.6 for _ in sizes)
    return Field(along, across, tuple(a for a, _ in sizes), tuple(b for _, b in sizes), places)


def told(found: NDArray[np.bool_]) -> set[Counts]:
    return {tuple(row) for row in np.argwhere(found).tolist()}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(field=fields(), stages=st.sampled_from((2, 3)), prices=st.tuples(st.integers(1, 9), st.integers(1, 9)))
def test_the_programmes_agree_with_trying_everything(
    field: Field, stages: int, prices: tuple[int, int]
) -> None:
    kinds = len(field.lengths)
    most = (2, 2)[:kinds]
    finest = Slabs(field, stages, step=1, apart=1.0)
    truth = every_set(field, most, stages)
    assert told(sets_of(finest, most)) == truth
    assert told(sets_of(Slabs(field, stages), most)) >= truth
    assert told(sets_of(Slabs(field, stages, exact=True), most)) <= truth
    # Unlimited copies: as many as there is room for.
    room = tuple(
        (field.along * field.across) // (a * b) for a, b in zip(field.lengths, field.widths, strict=True)
    )
    if np.prod([n + 1 for n in room]) <= 12:
        best = max(int(np.dot(prices[:kinds], counts)) for counts in every_set(field, room, stages))
        worth, pieces = finest.best(prices[:kinds])
        assert worth == best
        assert Slabs(field, stages).best(prices[:kinds])[0] >= best
        assert worth == sum(prices[t] for t, _, _ in pieces)


@pytest.mark.parametrize("across", [254, 255, 256, 700])
def test_a_board_of_many_rows_gives_what_its_few_useful_rows_give(across: int) -> None:
    """From 255 rows on heights need two bytes; numpy 2.5 refuses what older ones let wrap round."""
    chance = np.random.default_rng(3)
    for _ in range(8):
        few = tuple(chance.random((6, 5)) < 0.6 for _ in range(2))
        rows = [np.zeros((6, across), np.bool_) for _ in few]
        for wide, narrow in zip(rows, few, strict=True):
            wide[:, across - 5 :] = narrow
        small = Slabs(Field(6, 5, (3, 2), (2, 3), few), 3, step=1, apart=1.0)
        large = Slabs(Field(6, across, (3, 2), (2, 3), tuple(rows)), 3, step=1, apart=1.0)
        assert told(sets_of(large, (2, 2))) == told(sets_of(small, (2, 2)))


@settings(max_examples=25, deadline=None)
@given(field=fields(), stages=st.sampled_from((2, 3)))
def test_pieces_found_without_relaxing_can_be_sawn(field: Field, stages: int) -> None:
    _, pieces = Slabs(field, stages, exact=True).best([3] * len(field.lengths))
    boxes = [(x, y, x + field.lengths[t], y + field.widths[t]) for t, x, y in pieces]
    assert all(field.places[t][x, y] for t, x, y in pieces)
    assert not any(_overlap(a, b) for n, a in enumerate(boxes) for b in boxes[:n])
    assert sawable(boxes, Sawing.RIP_FIRST, stages, 0.0)


@settings(max_examples=25, deadline=None)
@given(field=fields(), stages=st.sampled_from((2, 3)))
def test_every_set_counted_without_relaxing_can_be_laid_out_and_sawn(field: Field, stages: int) -> None:
    most = (2, 3)[: len(field.lengths)]
    slabs = Slabs(field, stages, exact=True)
    sawn_out = SawnOut(heights_of(slabs, Sets([n if t in slabs.parts else 0 for t, n in enumerate(most)])))
    for counts in product(*(range(n + 1) for n in most)):
        pieces = sawn_out.pieces(counts)
        assert (pieces is not None) == bool(sets_of(slabs, most)[counts])
        if pieces is None:
            continue
        boxes = [(x, y, x + field.lengths[t], y + field.widths[t]) for t, x, y in pieces]
        assert tuple(sum(t == part for part, _, _ in pieces) for t in range(len(most))) == counts
        assert all(field.places[t][x, y] for t, x, y in pieces)
        assert all(x1 <= field.along and y1 <= field.across for _, _, x1, y1 in boxes)
        assert not any(_overlap(a, b) for n, a in enumerate(boxes) for b in boxes[:n])
        assert sawable(boxes, Sawing.RIP_FIRST, stages, 0.0)


def class_bounds(size: str, seed: int, sawing: Sawing, stages: int, seconds: float) -> Iterator[float | None]:
    case = a_case(size, seed, sawing, stages)
    question = question_of(case.boards, case.parts, case.shop, cells=15_000)
    return straight_bounds(case.boards, case.parts, case.shop, outside_of(question), 0.0, seconds)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000), sawing=st.sampled_from(STRAIGHT), stages=st.sampled_from((2, 3)))
def test_no_plan_undercuts_the_bound_of_its_class(seed: int, sawing: Sawing, stages: int) -> None:
    case = a_case("tiny", seed, sawing, stages)
    layout = plan(case.boards, case.parts, case.shop, SolveParams(iterations=150, prove=False))
    if layout.unplaced:
        return
    for money in class_bounds("tiny", seed, sawing, stages, 3.0):
        assert money is not None
        assert money <= layout.cost + 1e-6


@pytest.mark.parametrize("sawing", STRAIGHT)
@pytest.mark.parametrize("seed", [1, 2])
def test_prices_bound_what_is_too_large_to_count(
    sawing: Sawing, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("layout.solve.straight._COUNTED", 0)
    case = a_case("small", seed, sawing, 2)
    layout = plan(case.boards, case.parts, case.shop, SolveParams(iterations=100, prove=False))
    found = [money for money in class_bounds("small", seed, sawing, 2, 3.0) if money is not None]
    assert not layout.unplaced
    assert 0.0 < max(found) <= layout.cost + 1e-6


@pytest.mark.parametrize(("sawing", "stages"), list(product(STRAIGHT, (2, 3))))
def test_what_prices_ask_of_boards_together_every_plan_has(
    sawing: Sawing, stages: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("layout.solve.straight._COUNTED", 0)
    for seed in (3, 7):
        case = a_case("tiny", seed, sawing, stages)
        known = outside_of(question_of(case.boards, case.parts, case.shop, cells=15_000))
        bounds = list(straight_bounds(case.boards, case.parts, case.shop, known, 0.0, 3.0))
        layout = plan(case.boards, case.parts, case.shop, SolveParams(iterations=100, prove=False))
        if layout.unplaced:
            continue
        used = {item.board for item in layout.placements}
        assert known.cuts()
        assert None not in bounds
        for worths, least in known.cuts():
            assert sum(worths[n] for n, board in enumerate(case.boards) if board.id in used) >= least
            assert max(worths) > 0


PROOF = [((Work.QUICK, 60.0), (Work.SAWING, 60.0))]


class Patient(Prover):
    """A second process that is waited for until it has a bound of the class, however busy the machine."""

    def __init__(self, *task: object) -> None:
        *job, work, seed, _ = task
        work = [tuple((what, 60.0) for what, _ in steps) for steps in work]  # type: ignore[attr-defined]
        super().__init__(*job, work, seed)  # type: ignore[arg-type]
        for _ in range(120):
            if not self.of_class:
                self.wait(0.5)


def test_the_second_process_says_of_which_class_a_bound_is() -> None:
    case = a_case("tiny", 7, Sawing.RIP_FIRST)
    prover = Patient(case.boards, case.parts, case.shop, (), PROOF, 0)
    prover.close()
    assert prover.bound == pytest.approx(93.01, abs=0.01)
    assert prover.of_class


def test_what_a_library_writes_between_bounds_does_not_end_the_listening() -> None:
    case = a_case("tiny", 7, Sawing.RIP_FIRST)
    prover = Prover(case.boards, case.parts, case.shop, (), ())
    lines = b"HighsMipSolverData::transformNewIntegerFeasibleSolution tmpSolver.run();\nclass 12.5\n"
    prover.listen(0, BytesIO(lines))
    assert (prover.bound, prover.of_class) == (12.5, True)


def test_a_plan_says_of_which_class_its_bound_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("layout.solve.plan.Prover", Patient)
    case = a_case("tiny", 7, Sawing.RIP_FIRST)
    layout = plan(case.boards, case.parts, case.shop, SolveParams(seconds=3.0))
    assert layout.bound is not None
    assert layout.bound.sawing is layout.sawing is Sawing.RIP_FIRST
    # Which proof is there first is chance; the one for any straight cuts holds for the class as well.
    assert layout.bound.method.endswith(("rip first in 3 stages", "by any straight cuts"))
    assert layout.bound.cost <= layout.cost


@pytest.mark.parametrize(
    ("seed", "sawing", "stages"),
    [(7, Sawing.RIP_FIRST, 3), (7, Sawing.RIP_FIRST, 2), (3, Sawing.CROSSCUT_FIRST, 3)],
)
def test_plans_found_beside_a_bound_hold(seed: int, sawing: Sawing, stages: int) -> None:
    case = a_case("tiny", seed, sawing, stages)
    boards, parts, shop = case.boards, case.parts, case.shop
    known = outside_of(question_of(boards, parts, shop, cells=15_000))
    found: list[Mapping[int, list[Place]]] = []
    bounds = [m for m in straight_bounds(boards, parts, shop, known, 0.0, 60.0, on_layout=found.append) if m]
    assert found
    job = job_of(boards, parts, shop)
    for places in found:
        pieces = [(boards[b].id, parts[t].name, x, y) for b, here in places.items() for t, x, y in here]
        draft = draft_of(job, pieces)
        assert draft is not None
        layout = layout_of(job, draft, boards, parts, (), (), 0)
        assert violations(boards, parts, shop, layout) == ()
        assert len(layout.placements) == sum(part.quantity for part in parts)
        assert layout.cost >= max(bounds) - 0.005
    beside = [(board, part, x + 1e4, y) for board, part, x, y in pieces[:1]] + pieces[1:]
    assert draft_of(job, beside) is None
    assert draft_of(job, [*pieces, pieces[0]]) is None


def test_what_is_barred_leaves_the_rest_of_a_board_s_sets() -> None:
    known = Outside((3, 3), (10.0, 100.0), ((3, 3), (3, 3)))
    known.give(0, [(3, 1), (1, 3)])
    known.bar(0, (2, 1))
    assert set(known.sets_of(0) or ()) == {(3, 0), (1, 3)}
    known.bar(0, (1, 2))
    assert set(known.sets_of(0) or ()) == {(3, 0), (1, 1), (0, 3)}
    known.bar(0, (4, 4))
    assert set(known.sets_of(0) or ()) == {(3, 0), (1, 1), (0, 3)}


def test_what_is_known_of_boards_is_added_up() -> None:
    known = Outside((2, 2), (10.0, 12.0, 30.0), ((2, 2), (2, 2), (2, 2)))

    def money() -> float | None:
        answer = known.whole(5.0)
        return None if answer is None else round(answer.money, 4)

    assert money() == 10.0
    known.price(0, (1, 1), 3)  # three pieces at most
    assert money() == 12.0
    known.bar(1, (2, 2))
    assert money() == 22.0
    known.give(2, [(2, 1)])
    known.give(0, [(1, 0)])
    known.give(1, [(0, 1)])
    assert money() == 42.0
    known.cut((1, 5, 3), 7)  # the second and the third, or more
    assert known.chosen(5.0) == (pytest.approx(42.0), (1, 2))
    known.cut((4, 4, 1), 6)
    assert money() == 52.0
    known.give(2, [])
    assert money() is None


@pytest.mark.parametrize(("sawing", "stages"), list(product(STRAIGHT, (2, 3))))
def test_a_board_that_holds_locked_parts_gives_no_more_than_before(sawing: Sawing, stages: int) -> None:
    case = a_case("tiny", 3, sawing, stages)
    question = question_of(case.boards, case.parts, case.shop, cells=15_000)
    free = list(straight_bounds(case.boards, case.parts, case.shop, outside_of(question), 0.0, 3.0))
    taken = [[(0.0, 0.0, board.length, board.width)] for board in case.boards[:1]] + [()] * (
        len(case.boards) - 1
    )
    less = list(straight_bounds(case.boards, case.parts, case.shop, outside_of(question), 0.0, 3.0, taken))
    assert less[-1] is None or free[-1] is None or less[-1] >= free[-1] - 1e-6
