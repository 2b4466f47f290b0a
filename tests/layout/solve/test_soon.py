"""What is soon found of boards: prices used on, time that is short, a slab from its first row alone."""

from collections.abc import Mapping, Sequence
from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.allowances import Sawing
from layout.cuts import sawable
from layout.solve.careful_boards import Grids
from layout.solve.counted import Sets, heights_of
from layout.solve.fields import Field
from layout.solve.priced import Slabs
from layout.solve.prove import _Proof
from layout.solve.sawn_out import SawnOut
from layout.solve.setwise import SetBySet
from layout.solve.slabs import Place
from layout.solve.steps import Work
from layout.solve.subsets import Subsets
from tests.bench.jobs import Case, a_case
from tests.layout.solve.test_setwise import money_of, plans_of
from tests.layout.solve.test_straight import fields


@settings(max_examples=25, deadline=None)
@given(field=fields(), stages=st.sampled_from((2, 3)))
def test_a_slab_of_all_rows_needs_no_more_than_the_first_one(field: Field, stages: int) -> None:
    most = (2, 2)[: len(field.lengths)]
    slabs = Slabs(field, stages, exact=True)
    sets = Sets([n if t in slabs.parts else 0 for t, n in enumerate(most)])
    every, first = heights_of(slabs, sets), SawnOut(heights_of(slabs, sets, rows=1))
    for counts in product(*(range(n + 1) for n in sets.most)):
        pieces = first.slab(counts)
        assert (pieces is not None) == (every.heights[-1, 0, sets.number(counts)] <= field.across)
        if pieces is None:
            continue
        boxes = [(x, y, x + field.lengths[t], y + field.widths[t]) for t, x, y in pieces]
        assert tuple(sum(t == part for part, _, _ in pieces) for t in range(len(most))) == counts
        assert all(field.places[t][x, y] for t, x, y in pieces)
        assert sawable(boxes, Sawing.RIP_FIRST, stages, 0.0)


def grids_of(case: Case) -> Grids:
    sets = SetBySet(case.boards, case.parts, case.shop, [p.quantity for p in case.parts], lambda _: None)
    sets._work.until = np.inf
    return Grids(sets._work, (30.0, 5.0), 0.6)


@pytest.mark.parametrize("seed", range(4))
def test_prices_of_one_margin_serve_the_next(seed: int) -> None:
    """The boards chosen cost the same as by prices found anew, and fewer choices have to fall."""
    case = a_case("small", seed, Sawing.RIP_FIRST)
    areas = [part.length * part.width for part in case.parts]

    def asked(before: Subsets | None, grids: Grids, margin: float) -> tuple[Subsets, float, int]:
        grids.known = grids.work.known.alone()
        one = Subsets(grids, areas, 0, copies=False, margin=margin, before=before)
        fallen = sum(1 for _ in one.bounds(0.0))
        return one, sum(grids.known.money[board] for board in one.standing), fallen

    grids = grids_of(case)
    first, dear, _ = asked(None, grids, 0.02)
    _, again, fallen = asked(first, grids, -0.04)
    _, anew, more = asked(None, grids_of(case), -0.04)
    assert again == pytest.approx(anew)
    assert again <= dear + 1e-9
    assert fallen <= more


def sets_by(case: Case, found: list[Mapping[int, Sequence[Place]]], below: float) -> SetBySet:
    wanted = [part.quantity for part in case.parts]
    return SetBySet(case.boards, case.parts, case.shop, wanted, found.append, None, lambda: below)


def test_boards_are_not_asked_where_there_is_no_time_for_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Which of many would be asked is known then, and the time is left to what comes next."""
    case = a_case("small", 1, Sawing.RIP_FIRST)
    in_turn = money_of(case, list(plans_of(case))[-1])
    monkeypatch.setattr("layout.solve.setwise.MOST_BOARDS", 0)
    soon: list[Mapping[int, Sequence[Place]]] = []
    sets = sets_by(case, soon, 2.0 * in_turn)
    monkeypatch.setattr("layout.solve.setwise._AS_LONG", 1e9)
    sets.look_soon(60.0)
    assert not soon
    monkeypatch.undo()
    sets.look_soon(60.0)
    assert soon
    least = money_of(case, soon[-1])
    sets.look(60.0)
    assert min(money_of(case, places) for places in soon) <= min(least, in_turn + 0.005)


def test_the_quick_bound_is_said_only_where_there_is_no_other(capsys: pytest.CaptureFixture[str]) -> None:
    case = a_case("tiny", 7, Sawing.RIP_FIRST)
    told = SimpleNamespace(boards=None)

    def said(*steps: Work) -> list[str]:
        proof = _Proof(case.boards, case.parts, case.shop, (), told)  # type: ignore[arg-type]
        for work in steps:
            assert proof.goes_on(work, 10.0)
        return [line.split()[0] for line in capsys.readouterr().out.splitlines()]

    assert said(Work.QUICK) == ["bound"]
    assert set(said(Work.SETS, Work.QUICK)) <= {"class", "plan"}
    assert said(Work.QUICK, Work.SAWING)[0] == "bound"


def test_parts_too_small_for_such_a_search_do_not_cost_the_bound(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is asked first must not keep what follows from being said."""

    def too_small(*_: object) -> None:
        raise OverflowError("a board is worth too much")

    case = a_case("tiny", 7, Sawing.RIP_FIRST)
    proof = _Proof(case.boards, case.parts, case.shop, (), SimpleNamespace(boards=None))  # type: ignore[arg-type]
    monkeypatch.setattr(Slabs, "best", too_small)
    assert proof.goes_on(Work.SOON, 10.0)
    assert capsys.readouterr().out == "soon\n"
    assert proof.goes_on(Work.QUICK, 10.0)
    assert capsys.readouterr().out.startswith("bound ")
