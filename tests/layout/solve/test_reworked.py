"""Plans that lack little: pieces change places, the books stay right, the saw can still follow."""

from random import Random

import pytest

from layout.allowances import Sawing
from layout.check import violations
from layout.cuts import sawable
from layout.placement import Placement
from layout.solve.construct import Draft, boards_by_value, first_draft, parts_by_size
from layout.solve.filling import Filler, Filling
from layout.solve.improve import Walk
from layout.solve.job import Job, job_of
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.pool import Pool
from layout.solve.result import layout_of
from layout.solve.reworked import annealed
from layout.solve.stop import Stop
from tests.bench.jobs import Case, a_case

CLASSES = [(Sawing.CROSSCUT_FIRST, 3), (Sawing.RIP_FIRST, 3), (Sawing.RIP_FIRST, 2), (Sawing.BAND_SAW, 3)]


def walk_of(case: Case, locked: tuple[Placement, ...] = (), seed: int = 0) -> Walk:
    wanted = [part.quantity - sum(item.part == part.name for item in locked) for part in case.parts]
    job = job_of(case.boards, case.parts, case.shop, wanted, None, locked)
    filler = Filler(job)
    draft = first_draft(job, filler, parts_by_size(job), boards_by_value(job))
    walk = Walk(job, filler, draft, Random(seed), pool=Pool())
    walk.begin(draft)
    return walk


def without_a_board(walk: Walk) -> tuple[list[int], Draft]:
    """The plan's boards less the one that holds least, and what is left of the plan on them."""
    least = min(walk.best.fillings.values(), key=lambda filling: sum(filling.counts)).board
    draft = walk.best.copy()
    draft.clear(least)
    return [board for board in walk.best.fillings if board != least], draft


def boxes_of(job: Job, filling: Filling) -> list[tuple[float, float, float, float]]:
    sizes = job.maps[filling.board].sizes
    return [(x, y, x + sizes[part][0], y + sizes[part][1]) for part, x, y in filling.places]


@pytest.mark.parametrize(("sawing", "stages"), CLASSES)
@pytest.mark.parametrize("seed", [0, 3])
def test_books_are_right_and_every_board_can_be_sawn(sawing: Sawing, stages: int, seed: int) -> None:
    walk = walk_of(a_case("medium", seed, sawing, stages))
    boards, draft = without_a_board(walk)
    found = annealed(walk, boards, draft, Stop(SolveParams(iterations=400)), 1.0, 400)
    assert set(found.fillings) <= set(boards)
    for number, wanted in enumerate(walk.job.wanted):
        held = sum(filling.counts[number] for filling in found.fillings.values())
        assert held + found.missing[number] == wanted
        assert found.missing[number] >= 0
    for filling in found.fillings.values():
        kinds = [part for part, _, _ in filling.places]
        assert tuple(kinds.count(part) for part in range(len(walk.job.parts))) == filling.counts
        assert sawing is Sawing.BAND_SAW or sawable(
            boxes_of(walk.job, filling), sawing, stages, walk.job.kerf
        )
    case = a_case("medium", seed, sawing, stages)
    layout = layout_of(walk.job, found, case.boards, case.parts, (), (), 0)
    wrong = violations(case.boards, case.parts, case.shop, layout)
    assert [item for item in wrong if item.board is not None] == [], "but for what has no place"


def test_it_never_lacks_more_than_it_began_with() -> None:
    for seed in range(4):
        walk = walk_of(a_case("medium", seed), seed=seed)
        boards, draft = without_a_board(walk)
        found = annealed(walk, boards, draft, Stop(SolveParams(iterations=300)), 1.0, 300)
        assert walk.worth(found)[0] <= walk.worth(draft)[0]


def test_the_same_seed_reworks_alike() -> None:
    ends = []
    for _ in range(2):
        walk = walk_of(a_case("medium", 1), seed=7)
        boards, draft = without_a_board(walk)
        ends.append(annealed(walk, boards, draft, Stop(SolveParams(iterations=200)), 1.0, 200).fillings)
    assert ends[0] == ends[1]


def test_a_plan_that_is_whole_is_offered() -> None:
    walk = walk_of(a_case("small", 0))
    whole = walk.best.copy()
    assert not any(whole.missing)
    last = list(whole.fillings)[-1]
    begun = whole.copy()
    begun.put(Filling(last, *_less_one(whole.fillings[last])))
    walk.begin(begun)
    found = annealed(walk, list(whole.fillings), begun, Stop(SolveParams(iterations=3000)), 1.0, 3000)
    assert not any(found.missing), "one piece was taken off a board that had room for it"
    assert walk.best_worth[0] == 0.0


def _less_one(filling: Filling) -> tuple[tuple[int, ...], tuple[tuple[int, float, float], ...]]:
    part = filling.places[-1][0]
    counts = tuple(n - (number == part) for number, n in enumerate(filling.counts))
    return counts, filling.places[:-1]


@pytest.mark.parametrize(("sawing", "stages"), CLASSES)
def test_locked_pieces_keep_their_place(sawing: Sawing, stages: int) -> None:
    case = a_case("medium", 2, sawing, stages)
    first = plan(case.boards, case.parts, case.shop, SolveParams(iterations=60, prove=False))
    board = first.placements[0].board
    locked = tuple(item for item in first.placements if item.board == board)[:2]
    walk = walk_of(case, locked)
    assert any(walk.job.taken)
    boards, draft = without_a_board(walk)
    found = annealed(walk, boards, draft, Stop(SolveParams(iterations=400)), 1.0, 400)
    layout = layout_of(walk.job, found, case.boards, case.parts, locked, (), 0)
    wrong = violations(case.boards, case.parts, case.shop, layout, locked=locked)
    assert [item for item in wrong if item.board is not None] == []


def test_a_stop_is_heard() -> None:
    walk = walk_of(a_case("medium", 0))
    boards, draft = without_a_board(walk)
    stop = Stop(SolveParams(iterations=10_000), lambda: stop.rounds >= 25)
    annealed(walk, boards, draft, stop, 1.0, 5_000)
    assert stop.rounds <= 26
