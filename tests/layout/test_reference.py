"""The search against a constraint programme that solves small jobs to the end, free of any saw.

On careful maps (to half a millimetre) the programme's cheapest boards are what free
nesting can reach at best with those maps; the search must reach it on small jobs.
"""

import pytest

from layout.allowances import Sawing
from layout.check import violations
from layout.solve.bound import question_of
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.programme import proved_bound
from tests.bench.jobs import a_case


@pytest.mark.parametrize("seed", [2, 3, 4, 5, 6])
def test_free_nesting_reaches_what_the_programme_finds_cheapest(seed: int) -> None:
    case = a_case("tiny", seed, Sawing.BAND_SAW)
    question = question_of(case.boards, case.parts, case.shop, careful=True)
    best, done = proved_bound(question, 60.0, deterministic=20.0)
    layout = plan(case.boards, case.parts, case.shop, SolveParams(iterations=1000, prove=False))
    assert violations(case.boards, case.parts, case.shop, layout) == ()
    assert done
    if best is None:
        assert layout.unplaced
    else:
        assert not layout.unplaced
        assert layout.cost == pytest.approx(best, abs=0.011)
