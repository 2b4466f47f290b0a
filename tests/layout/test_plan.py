"""Plans hold: every answer passes the independent verifier, whatever the job and the saw."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout.allowances import Sawing
from layout.check import violations
from layout.solve.params import SolveParams
from layout.solve.plan import Progress, plan
from tests.bench.jobs import a_case
from tests.builders import tiny_board, tiny_parts, tiny_shop

QUICK = SolveParams(iterations=15, prove=False)


@pytest.mark.parametrize("sawing", list(Sawing))
def test_the_tiny_job_fits_one_board(sawing: Sawing) -> None:
    shop = replace(tiny_shop(), sawing=sawing)
    layout = plan([tiny_board()], tiny_parts(), shop, QUICK)
    assert len(layout.placements) == 3
    assert layout.cost == 40.0
    assert violations([tiny_board()], tiny_parts(), shop, layout) == ()


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000), sawing=st.sampled_from(list(Sawing)), stages=st.sampled_from([2, 3]))
def test_no_plan_has_a_violation(seed: int, sawing: Sawing, stages: int) -> None:
    case = a_case("tiny", seed, sawing, stages)
    layout = plan(case.boards, case.parts, case.shop, QUICK)
    assert violations(case.boards, case.parts, case.shop, layout) == ()


def test_the_same_seed_and_rounds_give_the_same_plan() -> None:
    case = a_case("small", 3)
    one = plan(case.boards, case.parts, case.shop, QUICK)
    other = plan(case.boards, case.parts, case.shop, QUICK)
    assert one == other


def test_a_plan_stops_when_asked_and_says_how_far_it_is() -> None:
    told: list[Progress] = []
    case = a_case("tiny", 1)
    layout = plan(
        case.boards,
        case.parts,
        case.shop,
        SolveParams(seconds=60),
        on_progress=told.append,
        should_stop=lambda: True,
    )
    assert told
    assert told[-1].wanted == sum(part.quantity for part in case.parts)
    assert violations(case.boards, case.parts, case.shop, layout) == ()


def test_a_part_longer_than_every_board_is_left_with_a_reason() -> None:
    long = replace(tiny_parts()[0], name="beam", length=5000.0, quantity=1)
    layout = plan([tiny_board()], [*tiny_parts(), long], tiny_shop(), QUICK)
    assert [item.part for item in layout.unplaced] == ["beam"]
    assert layout.unplaced[0].reason


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000), sawing=st.sampled_from(list(Sawing)), data=st.data())
def test_locked_parts_stay_and_the_rest_is_planned_round_them(
    seed: int, sawing: Sawing, data: st.DataObject
) -> None:
    case = a_case("tiny", seed, sawing)
    first = plan(case.boards, case.parts, case.shop, QUICK)
    locked = [
        replace(item, locked=True, cut=data.draw(st.booleans()))
        for item in first.placements
        if data.draw(st.booleans())
    ]
    again = plan(case.boards, case.parts, case.shop, QUICK, locked=locked)
    assert violations(case.boards, case.parts, case.shop, again, locked=locked) == ()


def test_without_parts_or_boards_there_is_nothing_to_saw() -> None:
    nothing = plan([tiny_board()], [], tiny_shop(), QUICK)
    assert (nothing.placements, nothing.unplaced, nothing.cost) == ((), (), 0)
    no_boards = plan([], tiny_parts(), tiny_shop(), QUICK)
    assert len(no_boards.unplaced) == 3


@pytest.mark.parametrize("repairs", [False, True])
def test_with_every_board_barred_a_long_search_has_nothing_to_look_for(repairs: bool) -> None:
    """The walks drew from no boards at all, which a short search never came to."""
    case = a_case("small", 5)
    boards = [replace(board, forbidden=True) for board in case.boards]
    shop = replace(case.shop, repairs=replace(case.shop.repairs, allowed=repairs))
    nothing = plan(boards, case.parts, shop, SolveParams(iterations=3000))
    assert nothing.placements == ()
    assert len(nothing.unplaced) == sum(part.quantity for part in case.parts)
    assert all("no board" in item.reason for item in nothing.unplaced)


def test_a_forbidden_board_is_left_alone() -> None:
    case = a_case("small", 5)
    first = plan(case.boards, case.parts, case.shop, QUICK)
    used = first.boards_used[0]
    boards = [replace(board, forbidden=board.id == used) for board in case.boards]
    again = plan(boards, case.parts, case.shop, QUICK)
    assert used not in again.boards_used
    assert violations(boards, case.parts, case.shop, again) == ()
