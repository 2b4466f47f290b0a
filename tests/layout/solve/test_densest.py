"""The densest fillings hold, keep to the copies there are, and beat the quick ones at the same prices."""

from random import Random

import pytest

from layout.allowances import Sawing
from layout.cuts import sawable
from layout.solve.densest import Densest
from layout.solve.filling import Filler
from layout.solve.job import Job, job_of
from layout.solve.market import Market
from layout.solve.params import SolveParams
from layout.solve.pool import Pool
from layout.solve.result import best_pose
from layout.solve.stop import Stop
from tests.bench.jobs import a_case


def a_job(sawing: Sawing, stages: int = 3) -> Job:
    case = a_case("few", 3, sawing, stages)
    return job_of(case.boards, case.parts, case.shop)


@pytest.mark.parametrize(
    ("sawing", "stages"),
    [(Sawing.RIP_FIRST, 3), (Sawing.CROSSCUT_FIRST, 2), (Sawing.BAND_SAW, 3)],
)
def test_pieces_may_lie_where_they_lie_and_can_be_sawn(sawing: Sawing, stages: int) -> None:
    job = a_job(sawing, stages)
    left = [1] * len(job.parts)
    densest, stop = Densest(job), Stop(SolveParams(iterations=10_000))
    for board in range(len(job.boards)):
        found = list(densest.filled(stop, board, left, job.areas(), Random(1)))
        assert found
        for filling in found:
            assert all(0 <= n <= most for n, most in zip(filling.counts, left, strict=True))
            assert sum(filling.counts) == len(filling.places) > 0
            sizes = job.maps[board].sizes
            boxes = [(x, y, x + sizes[t][0], y + sizes[t][1]) for t, x, y in filling.places]
            assert sawable(boxes, sawing, stages, job.kerf)
            for t, x, y in filling.places:
                assert best_pose(job.grounds[board], job.parts[t], x, y) is not None
    assert stop.rounds > 0


def test_worth_more_than_quick_fillings_with_copies_without_end() -> None:
    job = a_job(Sawing.CROSSCUT_FIRST)
    job.wanted = [50] * len(job.parts)
    stop = Stop(SolveParams(iterations=10_000))
    market = Market(job, Filler(job), Pool(), Random(2), [1.0] * len(job.parts))
    market.thorough, worth = True, market.worth * job.areas()
    for board in range(len(job.boards)):
        quick = [market.filled(stop, board, job.wanted, worth, 1.0) for _ in range(20)]
        dense = market.densest(stop, board, job.wanted, worth)
        # A careful grid costs a little of every size, never the worth of a look ahead.
        assert max(worth @ f.counts for f in dense) > 0.97 * max(worth @ f.counts for f in quick)


def test_none_without_time_or_when_one_is_not_thorough() -> None:
    job = a_job(Sawing.RIP_FIRST)
    short = Stop(SolveParams(seconds=0.1))
    assert list(Densest(job).filled(short, 0, job.wanted, job.areas(), Random(1))) == []
    market = Market(job, Filler(job), Pool(), Random(2), [1.0] * len(job.parts))
    assert market.densest(Stop(SolveParams()), 0, job.wanted, market.worth) == []
