"""The margin round a defect grows by its own face's error, in the engine, the verifier and the maps alike."""

from dataclasses import replace

import pytest
from shapely import Polygon

from layout.allowances import Allowances, Shop
from layout.check import violations
from layout.checks import sides, wood
from layout.ground import grown, sure_wood, usable_wood
from layout.outline import rectangle
from layout.parts import Part, PartSide, Visibility
from layout.placement import Layout
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.stock import Board, Defect, DefectKind, Where

SHOP = Shop(
    allowances=Allowances(kerf=3, end_trim=0, edge_trim=0, length=0, width=0, skim=1, defect_margin=1)
)
PITCH = Defect("p", DefectKind.BARK_POCKET, rectangle(300, 40, 340, 60), Where.FRONT, depth=4.0)


def board(**errors: tuple[float, float]) -> Board:
    """A board with bark in its front, 40 mm from its datum edge."""
    return Board.square_edged("1", 700, 100, 24, defects=(PITCH,), **errors)


@pytest.mark.parametrize(("where", "more"), [(Where.FRONT, 2.0), (Where.BACK, 9.0), (Where.THROUGH, 9.0)])
def test_engine_and_verifier_grow_a_defect_by_its_face(where: Where, more: float) -> None:
    depth = None if where is Where.THROUGH else 4.0
    fault = replace(PITCH, where=where, depth=depth)
    made = board(error_front=(0.5, 1.0), error_back=(0.5, 8.0))
    for reach in (grown(fault, made, SHOP), sides.grown(fault, made, SHOP)):
        assert reach.bounds == pytest.approx((298.5, 40 - more, 341.5, 60 + more), abs=0.1)


def test_engine_and_verifier_take_each_outline_less_its_own_error() -> None:
    made = replace(board(error_front=(0.5, 1.0), error_back=(2.0, 8.0)), back=rectangle(0, -20, 700, 120))
    for found in (sure_wood(made), wood.solid(made)):
        assert found.bounds == pytest.approx((2.0, 1.0, 698.0, 99.0))
    for found in (usable_wood(made, SHOP), wood.usable_wood(made, SHOP)):
        assert found.symmetric_difference(Polygon(rectangle(2, 1, 698, 99))).area == pytest.approx(
            0, abs=1e-6
        )


def test_a_piece_beside_a_fault_of_the_sure_face_is_planned_and_passed() -> None:
    part = Part("rail", 600, 34, 20, sides={PartSide.FACE: Visibility.SHOW, PartSide.BACK: Visibility.SHOW})
    params = SolveParams(seconds=5.0, iterations=20)
    sure = board(error_front=(0.5, 1.0), error_back=(0.5, 5.0))
    turned = replace(sure, defects=(replace(PITCH, where=Where.BACK),))
    for made, fits in ((replace(sure, back=rectangle(0, -9, 700, 109)), True), (turned, False)):
        found = plan((made,), (part,), SHOP, params)
        assert bool(found.placements) is fits
        assert not violations((made,), (part,), SHOP, found)


def test_what_the_engine_may_not_use_the_verifier_refuses() -> None:
    part = Part("rail", 600, 34, 20, sides={PartSide.FACE: Visibility.SHOW, PartSide.BACK: Visibility.SHOW})
    sure = replace(board(error_front=(0.5, 1.0)), back=rectangle(0, -9, 700, 109))
    found = plan((sure,), (part,), SHOP, SolveParams(seconds=5.0, iterations=20))
    unsure = replace(sure, error_front=(0.5, 5.0))
    assert isinstance(found, Layout)
    assert any("p at" in one.message for one in violations((unsure,), (part,), SHOP, found))
