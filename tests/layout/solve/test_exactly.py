"""Boards asked place by place: right on plates that everything is tried on; plans that hold, bounds too."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ortools.sat.python import cp_model

from layout.allowances import Allowances, Sawing, Shop, sawn_length, sawn_width
from layout.check import violations
from layout.cuts import sawable
from layout.outline import rectangle
from layout.parts import Part
from layout.placement import Layout, Placement
from layout.poses import poses
from layout.solve.bound import outside_of, question_of, quick_bound
from layout.solve.exactly import nested_bounds
from layout.solve.fields import Field
from layout.solve.job import job_of
from layout.solve.one_board import Asked, OneBoard, Programme
from layout.solve.outside import Outside
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.prover import draft_of
from layout.solve.result import layout_of
from layout.solve.slabs import Place
from layout.stock import Board, Price
from tests.bench.jobs import a_case
from tests.layout.solve.test_straight import STRAIGHT, every_set, fields

CLASSES = [*product(STRAIGHT, (2, 3)), (Sawing.BAND_SAW, 3)]


def asked_of(field: Field, turned: bool) -> Asked:
    """A grid as the programme sees a board, cell by cell; turned for crosscut first."""
    places = [
        [
            (x, y, x, y)
            for x, y in np.argwhere(found).tolist()
            if x + a <= field.along and y + b <= field.across
        ]
        for found, a, b in zip(field.places, field.lengths, field.widths, strict=True)
    ]
    sizes = list(zip(field.lengths, field.widths, strict=True))
    if turned:
        places = [[(y, x, y, x) for x, y, _, _ in cells] for cells in places]
        sizes = [(b, a) for a, b in sizes]
    room = (field.across, field.along) if turned else (field.along, field.across)
    return Asked(*room, tuple(sizes), tuple(map(tuple, places)), 0.0, 0.0)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(field=fields(), which=st.sampled_from(CLASSES))
def test_the_programme_agrees_with_trying_everything(field: Field, which: tuple[Sawing, int]) -> None:
    sawing, stages = which
    asked = asked_of(field, sawing is Sawing.CROSSCUT_FIRST)
    most = (2, 2)[: len(field.lengths)]
    # A dozen stages part whatever a layout of four pieces can be parted into, but for pinwheels of five.
    truth = every_set(field, most, 12 if sawing is Sawing.BAND_SAW else stages)
    for counts in product(*(range(n + 1) for n in most)):
        if not any(counts):
            continue
        there = all(asked.places[t] for t, n in enumerate(counts) if n)
        programme = Programme(asked, counts, sawing, stages) if there else None
        status = cp_model.INFEASIBLE if programme is None else programme.solved(20.0)
        assert (status != cp_model.INFEASIBLE) == (counts in truth)
        if programme is None or status == cp_model.INFEASIBLE:
            continue
        boxes = [
            (50 * x, 50 * y, 50 * x + asked.sizes[t][0], 50 * y + asked.sizes[t][1])
            for t, x, y in programme.places()
        ]
        assert sawable(boxes, sawing, stages, 0.0)
        assert not any(
            a[0] < b[2] - 1e-6 and b[0] < a[2] - 1e-6 and a[1] < b[3] - 1e-6 and b[1] < a[3] - 1e-6
            for n, a in enumerate(boxes)
            for b in boxes[:n]
        )


@pytest.mark.parametrize(("sawing", "stages"), CLASSES)
@pytest.mark.parametrize("seed", [3, 7])
def test_what_a_plan_takes_from_a_board_is_never_refused(seed: int, sawing: Sawing, stages: int) -> None:
    case = a_case("tiny", seed, sawing, stages)
    boards, parts, shop = case.boards, case.parts, case.shop
    layout = plan(boards, parts, shop, SolveParams(iterations=60, prove=False, explain=False))
    for board in boards:
        names = [item.part for item in layout.placements if item.board == board.id]
        counts = tuple(names.count(part.name) for part in parts)
        one = OneBoard(board, parts, shop, (), counts)
        assert one.gives(counts, (4.0, 1.5), False, 20.0) is not False


@pytest.mark.parametrize("seed", [3, 7])
def test_bounds_and_plans_without_a_rule_of_cutting(seed: int) -> None:
    case = a_case("tiny", seed, Sawing.BAND_SAW)
    boards, parts, shop = case.boards, case.parts, case.shop
    known = outside_of(question_of(boards, parts, shop, cells=15_000))
    found: list[Mapping[int, list[Place]]] = []
    bounds = [m for m in nested_bounds(boards, parts, shop, known, 0.0, 30.0, on_layout=found.append) if m]
    other = plan(boards, parts, shop, SolveParams(iterations=150, prove=False, explain=False))
    assert other.unplaced or max(bounds) <= other.cost + 1e-6
    job = job_of(boards, parts, shop)
    for places in found:
        draft = draft_of(
            job, [(boards[b].id, parts[t].name, x, y) for b, here in places.items() for t, x, y in here]
        )
        assert draft is not None
        layout = layout_of(job, draft, boards, parts, (), (), 0)
        assert violations(boards, parts, shop, layout) == ()
        assert layout.cost >= max(bounds) - 0.005
    assert found or max(bounds) < other.cost


@pytest.mark.parametrize(("sawing", "told"), [(Sawing.BAND_SAW, False), (Sawing.RIP_FIRST, True)])
def test_nothing_is_told_of_tilted_pieces_sawn_out_freely(sawing: Sawing, told: bool) -> None:
    case = a_case("tiny", 3, sawing)
    board = replace(case.boards[0], grain=5.0)
    nothing = tuple(0 for _ in case.parts)
    one = OneBoard(board, case.parts, case.shop, (), nothing)
    assert any(pose.tilt for part in case.parts for pose in poses(part, board, case.shop, 1))
    for careful in (False, True):
        assert (one.gives(nothing, (4.0, 1.5), careful, 1.0) is not None) == told


def test_pieces_may_come_near_each_other_corner_to_corner() -> None:
    allowances = Allowances(kerf=3.0, end_trim=0.0, edge_trim=0.0, skim=1.0)
    shop = Shop(Sawing.BAND_SAW, 3, allowances)
    parts = (Part("one", 300, 60, 20), Part("other", 200, 50, 20))
    long, wide = (sum(size(part, allowances) for part in parts) + 2.2 for size in (sawn_length, sawn_width))
    board = Board("1", rectangle(0, 0, long, wide), rectangle(0, 0, long, wide), 30.0, price=Price(10.0))
    far = long - sawn_length(parts[1], allowances), wide - sawn_width(parts[1], allowances)
    lying = (
        Placement("one", 1, "1", 0.0, 0.0, from_front=5.0),
        Placement("other", 1, "1", *far, from_front=5.0),
    )
    assert violations((board,), parts, shop, Layout(lying, sawing=Sawing.BAND_SAW, cost=10.0)) == ()
    assert OneBoard(board, parts, shop, (), (1, 1)).gives((1, 1), (4.0, 1.5), False, 5.0) is True
    assert quick_bound(question_of((board,), parts, shop)) == pytest.approx(10.0)
    straight = replace(shop, sawing=Sawing.RIP_FIRST)
    assert OneBoard(board, parts, straight, (), (1, 1)).gives((1, 1), (4.0, 1.5), False, 5.0) is False


def test_doubts_are_no_knowledge() -> None:
    known = Outside((2,), (10.0, 12.0), ((2,), (2,)))
    hope = known.doubting([(0, (1,))])
    before, after = hope.whole(5.0), known.whole(5.0)
    assert before is not None
    assert after is not None
    assert round(before.money, 4) == 12.0
    assert round(after.money, 4) == 10.0
