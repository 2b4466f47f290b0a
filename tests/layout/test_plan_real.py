"""Plans on real boards, kept outside the project."""

from pathlib import Path

import pytest

from layout.allowances import Allowances, Sawing, Shop
from layout.check import violations
from layout.parts import Part, PartSide, Visibility
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from tests.bench.board_maps import mapped_boards

pytestmark = pytest.mark.data

PARTS = (
    Part("side rail", 900, 70, 22, quantity=4),
    Part("slat", 700, 45, 20, quantity=6, sides={PartSide.BACK: Visibility.SEEN_IN_USE}),
    Part("drawer front", 380, 110, 20, quantity=3, tolerates={Visibility.SHOW: "J20"}),
    Part("runner", 420, 30, 18, quantity=6, sides={PartSide.FACE: Visibility.CONCEALED}),
)


@pytest.mark.parametrize("sawing", list(Sawing))
def test_long_boards(shared_data: Path, sawing: Sawing) -> None:
    boards = mapped_boards(shared_data, "long", 4)
    shop = Shop(sawing, allowances=Allowances(skim=1.0))
    layout = plan(boards, PARTS, shop, SolveParams(iterations=30, prove=False))
    assert violations(boards, PARTS, shop, layout) == ()
    assert len(layout.placements) + len(layout.unplaced) == 19
    assert len(layout.placements) >= 15


def test_short_boards(shared_data: Path) -> None:
    boards = mapped_boards(shared_data, "short", 12)
    shop = Shop(allowances=Allowances(skim=1.0))
    layout = plan(boards, PARTS, shop, SolveParams(iterations=30, prove=False))
    assert violations(boards, PARTS, shop, layout) == ()
