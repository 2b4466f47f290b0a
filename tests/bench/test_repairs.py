"""Plans with repairs beside plans without, in the same time. Run by hand:

    pytest tests/bench/test_repairs.py -m bench -s

By the clock, with both cores: the second one is what this is about. `BENCH_JOBS` and
`BENCH_SECONDS` before the command ask for other numbers of jobs and another limit.
"""

import os
import time
from dataclasses import replace

import numpy as np
import pytest

from layout.allowances import Sawing
from layout.check import violations
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from tests.bench.jobs import a_case

pytestmark = pytest.mark.bench

SEEDS = range(int(os.environ.get("BENCH_JOBS", "6")))
LIMIT = float(os.environ.get("BENCH_SECONDS", "10"))


@pytest.mark.parametrize("size", ["small", "medium", "large"])
def test_repairs_beside_none(size: str) -> None:
    print(f"\n{size}, {LIMIT:g} s: without repairs | with them | seconds taken for these")
    above = []
    for seed in SEEDS:
        case = a_case(size, seed, list(Sawing)[seed % len(Sawing)])
        costs = []
        for allowed in (False, True):
            shop = replace(case.shop, repairs=replace(case.shop.repairs, allowed=allowed))
            clock = time.monotonic()
            layout = plan(case.boards, case.parts, shop, SolveParams(seconds=LIMIT, explain=False))
            took = time.monotonic() - clock
            assert violations(case.boards, case.parts, shop, layout) == ()
            assert not layout.unplaced
            costs.append(layout.cost)
        print(f"  {seed}, {shop.sawing.value}: {costs[0]:.1f} | {costs[1]:.1f} | {took:.1f}", flush=True)
        above.append(100 * (costs[1] / costs[0] - 1))
    dearer, most = sum(more > 0.01 for more in above), max(above)
    print(
        f"  with them dearer {dearer} of {len(above)}, by {most:.1f} % at most; mean {np.mean(above):.1f} %"
    )
