"""A bound is never above a layout of its class, and a proof is a proof."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from scipy.ndimage import binary_dilation

from layout.allowances import Sawing
from layout.check import violations
from layout.clear import clear_map, judged
from layout.ground import Ground, ground_of
from layout.hopeful import hopeful_map, hopeful_rectangles
from layout.outline import rectangle
from layout.parts import Part, PartSide, Visibility
from layout.placement import Layout
from layout.poses import as_placement, poses
from layout.solve.bound import question_of, quick_bound
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.programme import proved_bound
from layout.solve.prover import Prover
from layout.solve.steps import work_beside
from layout.stock import Board, Defect, DefectKind, Where
from tests.bench.jobs import a_case
from tests.builders import tiny_board, tiny_parts, tiny_shop
from tests.robust.random_jobs import random_job

SLOW = [HealthCheck.too_slow]


@settings(max_examples=6, deadline=None, suppress_health_check=SLOW)
@given(seed=st.integers(0, 10_000), sawing=st.sampled_from(list(Sawing)))
def test_no_plan_undercuts_a_bound(seed: int, sawing: Sawing) -> None:
    case = a_case("tiny", seed, sawing)
    layout = plan(case.boards, case.parts, case.shop, SolveParams(iterations=150, prove=False))
    question = question_of(case.boards, case.parts, case.shop, cells=15_000)
    quick = quick_bound(question)
    proved, _ = proved_bound(question, 20.0, deterministic=0.5)
    if layout.unplaced:
        return
    assert quick is not None
    assert proved is not None
    assert quick <= layout.cost + 1e-6
    assert proved <= layout.cost + 1e-6


@settings(max_examples=4, deadline=None, suppress_health_check=SLOW)
@given(seed=st.integers(0, 10_000))
def test_a_careful_map_lies_inside_the_hopeful_one_and_truth_between(seed: int) -> None:
    case = a_case("tiny", seed)
    chance = np.random.default_rng(seed)
    ground = ground_of(case.boards[0], case.shop, 15_000)
    truth_lies_between(ground, case.parts, chance)


@settings(max_examples=6, deadline=None, suppress_health_check=SLOW)
@given(seed=st.integers(0, 10_000))
@example(seed=2225)  # a board so odd that cutting it into convex pieces once found no end
def test_truth_lies_between_the_maps_of_shaped_parts(seed: int) -> None:
    job = random_job(seed)
    if not any(part.outline for part in job.parts):
        return
    ground = ground_of(job.boards[0], job.shop, 3_000 if seed % 2 else 20_000)
    parts = [part for part in job.parts if part.outline and part.layers == 1]
    truth_lies_between(ground, parts, np.random.default_rng(seed))


def truth_lies_between(ground: Ground, parts: Sequence[Part], chance: np.random.Generator) -> None:
    """Whatever a careful map allows and whatever is allowed by polygons, the hopeful map allows too."""
    for part in parts:
        careful, hopeful = clear_map(ground, part), hopeful_map(ground, part)
        if not careful.anywhere:
            continue
        columns, rows = careful.ok.shape  # the hopeful one may be a cell larger: it concedes a hair
        assert not (careful.ok & ~hopeful[:columns, :rows]).any()
        for _ in range(25):
            i, j = (int(chance.integers(size)) for size in careful.ok.shape)
            x = min(
                ground.x0 + (i + chance.random()) * ground.column, ground.x0 + ground.length - careful.length
            )
            y = min(ground.y0 + (j + chance.random()) * ground.row, ground.y0 + ground.width - careful.width)
            allowed = any(judged(ground, part, x, y, pose) for pose in poses(part, ground.board, ground.shop))
            assert allowed or not careful.ok[i, j]
            assert hopeful[i, j] or not allowed


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("grain", [-7.0, 5.4])
def test_truth_lies_between_the_maps_of_boards_whose_pieces_lie_tilted(seed: int, grain: float) -> None:
    case = a_case("small", seed)
    board = replace(case.boards[seed % len(case.boards)], grain=grain)
    ground = ground_of(board, case.shop, (3_000, 20_000)[seed % 2])
    assert any(pose.tilt for pose in poses(case.parts[0], board, case.shop))
    truth_lies_between(ground, case.parts, np.random.default_rng(seed))


def test_there_is_less_hope_for_tilted_pieces_than_their_boxes_would_have() -> None:
    """A knot in the middle of a board keeps a tilted piece off as it does a straight one."""
    knot = Defect("1", DefectKind.DEAD_KNOT, rectangle(480, 40, 520, 60), Where.THROUGH)
    board = Board("1", rectangle(0, 0, 1000, 100), rectangle(0, 0, 1000, 100), 30.0, defects=(knot,))
    part = Part("back", 300, 60, 16, 1, {PartSide.FACE: Visibility.SHOW})
    shares = []
    for grain in (0.0, -6.0):
        ground = ground_of(replace(board, grain=grain), tiny_shop(), pitch=(2.0, 1.0))
        shares.append(float(hopeful_map(ground, part).mean()))
    assert 0.0 < shares[1] < 0.6
    assert abs(shares[1] - shares[0]) < 0.15


@pytest.mark.parametrize(("seed", "grain"), [*((seed, 0.0) for seed in range(6)), (0, -6.5), (5, 7.0)])
def test_the_verifier_passes_no_piece_where_there_was_no_hope(seed: int, grain: float) -> None:
    """Next to hopeful cells, on their rims: what it forgives must have been conceded, along and across."""
    case = a_case("small", seed)
    chance, board = np.random.default_rng(seed), replace(case.boards[0], grain=grain)
    ground = ground_of(board, case.shop, pitch=((1.0, 0.4), (0.5, 0.2))[seed % 2])
    tried = 0
    for part in (replace(one, quantity=1) for one in case.parts):
        found = hopeful_map(ground, part)
        rim = np.argwhere(binary_dilation(found) & ~found)
        for i, j in rim[chance.permutation(len(rim))[:12]]:
            u, v = (float(chance.choice((1e-4, chance.random(), 1 - 1e-4))) for _ in range(2))
            x, y = ground.x0 + (i + u) * ground.column, ground.y0 + (j + v) * ground.row
            for pose in poses(part, board, case.shop):
                tried += 1
                lying = as_placement(part, 1, board, case.shop, float(x), float(y), pose)
                found_wrong = violations([board], [part], case.shop, Layout(placements=(lying,)))
                assert any(one.part for one in found_wrong), (part.name, x, y)
    assert tried > 20


def test_a_crooked_fault_leaves_no_hope_between_the_pieces_it_is_cut_into() -> None:
    """Ends of a part lay hopefully on the seams of a long fault, and where its pieces had been left out."""
    xs = np.arange(200.0, 811.0, 10.0)
    bend = 45.0 + 8.0 * np.sin(xs / 6.0)
    outline = [*zip(xs, bend, strict=True), *zip(xs[::-1], bend[::-1] + 12.0, strict=True)]
    pocket = Defect(
        "1", DefectKind.RESIN_POCKET, tuple((float(x), float(y)) for x, y in outline), Where.THROUGH
    )
    board = Board("1", rectangle(0, 0, 1500, 110), rectangle(0, 0, 1500, 110), 30.0, defects=(pocket,))
    part = Part("back", 500, 90, 16, 1, {PartSide.FACE: Visibility.CONCEALED})
    ground = ground_of(board, tiny_shop(), pitch=(1.0, 0.4))
    found = hopeful_map(ground, part)
    begins = np.flatnonzero(found.any(axis=1)) + ground.x0
    assert len(begins)
    assert not ((begins > 220.0) & (begins < 780.0)).any()


def test_rectangles_of_a_map_cover_just_its_true_cells() -> None:
    case = a_case("tiny", 2)
    ground = ground_of(case.boards[0], case.shop, 15_000)
    found = hopeful_map(ground, case.parts[0])
    again = np.zeros_like(found)
    for x0, y0, x1, y1 in hopeful_rectangles(found, ground):
        i0, i1 = round(x0 / ground.column), round(x1 / ground.column)
        j0, j1 = round(y0 / ground.row), round(y1 / ground.row)
        assert not again[i0:i1, j0:j1].any()
        again[i0:i1, j0:j1] = True
    assert (again == found).all()


def test_the_tiny_job_is_proved_and_what_cannot_be_placed_is_known() -> None:
    question = question_of([tiny_board()], tiny_parts(), tiny_shop())
    assert quick_bound(question) == pytest.approx(40.0)
    assert proved_bound(question, 10.0) == (pytest.approx(40.0), True)
    nothing = question_of([], tiny_parts(), tiny_shop())
    assert quick_bound(nothing) is None


def test_a_second_process_proves_while_one_waits() -> None:
    work = work_beside(Sawing.BAND_SAW, 2, 20.0, cores=2, listed=True)
    prover = Prover([tiny_board()], tiny_parts(), tiny_shop(), (), work)
    prover.wait(20.0)
    assert prover.done
    assert prover.meets(40.0)
    assert not prover.meets(41.0)
    prover.close()


def test_a_proved_plan_carries_its_proof() -> None:
    layout = plan([tiny_board()], tiny_parts(), tiny_shop(), SolveParams(seconds=15.0))
    assert layout.bound is not None
    assert layout.bound.proved
    assert layout.bound.sawing is layout.sawing
    assert layout.bound.cost == pytest.approx(layout.cost)


def test_a_bound_says_that_it_speaks_of_pieces_tilted_no_more_than_asked() -> None:
    case = a_case("tiny", 4, Sawing.RIP_FIRST)
    params = SolveParams(seconds=4.0, explain=False)
    for grain, said in ((0.0, False), (-5.5, True)):
        boards = [replace(board, grain=grain) for board in case.boards]
        bound = plan(boards, case.parts, case.shop, params).bound
        assert bound is not None
        assert ("tilted no more than their grain asks" in bound.method) is said
