"""The verifier asked again: neither what it remembers nor what it passes over changes its answer."""

from collections.abc import Iterator
from dataclasses import replace
from random import Random

import pytest

from layout import check
from layout.check import Violation, violations
from layout.errors import LayoutError
from layout.glue import Repair
from layout.outline import rectangle
from layout.placement import Layout, Placement
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.stock import Board, Defect, DefectKind, Where
from tests.layout.checked import good, moved
from tests.robust.random_jobs import RandomJob, a_late_fault, random_job


def afresh(job: RandomJob, layout: Layout) -> tuple[Violation, ...]:
    check._last = {}
    return violations(job.boards, job.parts, job.shop, layout)


def test_every_thing_an_answer_depends_on_is_noticed_when_it_changes() -> None:
    board, parts, shop, layout = good()
    far = replace(board, id="2")
    assert violations([board, far], parts, shop, layout) == ()

    def wrong(board: Board = board, layout: Layout = layout, **of_shop: object) -> bool:
        kept = check._last
        found = violations([board, far], parts, replace(shop, **of_shop), layout)  # type: ignore[arg-type]
        check._last = kept
        return bool(found)

    knot = Defect("late", DefectKind.DEAD_KNOT, rectangle(100, 20, 120, 40), Where.THROUGH)
    assert not wrong()
    assert wrong(board=replace(board, thickness=10.0))
    assert wrong(board=replace(board, defects=(*board.defects, knot)))
    assert wrong(layout=moved(0, x=19.0))
    assert wrong(layout=replace(layout, cuts=layout.cuts[1:]))
    assert wrong(allowances=replace(shop.allowances, kerf=30.0))
    assert wrong(least_offcut=(5000.0, 5000.0)) == bool(layout.offcuts)
    assert wrong(layout=replace(layout, cost=layout.cost + 1))


def spoilt(layout: Layout, chance: Random) -> Layout:
    """The same with one thing moved, taken away or listed twice."""
    at = chance.randrange(len(layout.placements))
    item = layout.placements[at]
    places: list[Placement] = [*layout.placements]
    places[at] = chance.choice(
        (
            replace(item, x=item.x + chance.uniform(-40, 40)),
            replace(item, y=item.y + chance.uniform(-20, 20)),
            replace(item, face_from=item.face_from.other),
            replace(item, end_for_end=not item.end_for_end),
            replace(item, tilt=item.tilt + 0.3),
        )
    )
    drop = chance.random()
    cuts = layout.cuts[1:] if drop < 0.2 else layout.cuts
    repairs: tuple[Repair, ...] = layout.repairs[1:] if 0.2 < drop < 0.4 else layout.repairs
    return replace(layout, placements=tuple(places), cuts=cuts, repairs=repairs)


@pytest.fixture(scope="module")
def planned() -> list[tuple[RandomJob, Layout]]:
    return list(_planned())


def _planned() -> Iterator[tuple[RandomJob, Layout]]:
    for seed in range(32, 47):
        job = random_job(seed)
        try:
            layout = plan(job.boards, job.parts, job.shop, SolveParams(iterations=1, prove=False))
        except LayoutError:
            continue
        if layout.placements:
            yield job, layout


def test_asked_again_after_any_change_it_answers_as_if_for_the_first_time(
    planned: list[tuple[RandomJob, Layout]],
) -> None:
    found = 0
    for number, (job, layout) in enumerate(planned):
        chance = Random(number)
        check._last = {}
        for step in range(6):
            now = spoilt(layout, chance) if step else layout
            if step == 4:
                late = a_late_fault(job.boards[0], chance)
                defects = (*job.boards[0].defects, late)
                job = replace(job, boards=(replace(job.boards[0], defects=defects), *job.boards[1:]))
            told = violations(job.boards, job.parts, job.shop, now)
            kept = check._last
            assert told == afresh(job, now), f"job {number}, step {step}"
            check._last = kept
            found += bool(told)
    assert found > 25


def test_a_fault_passed_over_as_far_away_would_have_made_no_difference(
    planned: list[tuple[RandomJob, Layout]], monkeypatch: pytest.MonkeyPatch
) -> None:
    spoiled = [
        (job, spoilt(layout, Random(number)))
        for number, (job, layout) in enumerate(planned)
        for _ in range(4)
    ]
    quick = [afresh(job, layout) for job, layout in spoiled]
    monkeypatch.setattr("layout.checks.sides._is_far", lambda *_: False)
    assert [afresh(job, layout) for job, layout in spoiled] == quick
