"""A copy without a place says how near it came, in the way of which fault, and what would help."""

from dataclasses import replace

import pytest

from layout.clear import ClearMap, clear_map
from layout.ground import Ground, ground_of
from layout.parts import Part
from layout.solve import whynot
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.whynot import smallest_cut
from tests.builders import tiny_board, tiny_parts, tiny_shop

QUICK = SolveParams(iterations=20, prove=False)
RAIL = tiny_parts()[0]


def reasons(*parts: Part) -> list[str]:
    return [item.reason for item in plan([tiny_board()], parts, tiny_shop(), QUICK).unplaced]


def test_too_long_says_by_how_much() -> None:
    # 1210 sawn, 960 between the end trims
    (reason,) = reasons(replace(RAIL, length=1200.0, quantity=1))
    assert "250 mm too long for board 1" in reason


def test_too_wide_says_by_how_much() -> None:
    # 234 sawn, 204 between the edge trims
    (reason,) = reasons(replace(RAIL, width=230.0, length=400.0, quantity=1))
    assert "30 mm too wide for board 1" in reason


def test_too_thick_says_what_is_needed() -> None:
    (reason,) = reasons(replace(RAIL, thickness=26.0, quantity=1))
    assert "29 mm of thickness" in reason
    assert "has 27" in reason


def test_a_fault_in_the_way_is_named_with_the_nearest_miss() -> None:
    # 610 x 124 sawn must pass the knot at 78..122, which may lie in the 2 mm of its width that are
    # planed off: 87 are left beyond 120, less than 37 mm narrower never fits, and touching does not count
    (reason,) = reasons(replace(RAIL, length=600.0, width=120.0, quantity=1))
    assert "dead knot at 500" in reason
    assert "37.5 mm narrower it would fit board 1" in reason
    assert "making that fault good would do" in reason.lower()


def test_wood_taken_by_other_parts_is_said_and_a_board_set_aside_is_named() -> None:
    spare = replace(tiny_board(), id="2", forbidden=True)
    layout = plan([tiny_board(), spare], [replace(RAIL, quantity=9)], tiny_shop(), QUICK)
    assert layout.unplaced
    assert all("other parts have the wood" in item.reason for item in layout.unplaced)
    assert all("Board 2, set aside, has a place" in item.reason for item in layout.unplaced)


@pytest.mark.parametrize(("length", "miss"), [(950.0, 0.0), (960.0, 10.0), (1100.0, 150.0)])
def test_the_miss_is_exact_on_a_bare_board(length: float, miss: float) -> None:
    ground = ground_of(replace(tiny_board(), defects=()), tiny_shop())
    assert smallest_cut(replace(RAIL, length=length), ground, (), True) == miss


def test_a_curved_part_is_not_swept_over_a_fine_map(monkeypatch: pytest.MonkeyPatch) -> None:
    # One such reason took two minutes and 700 MB.
    looked_at = []

    def seen(ground: Ground, part: Part, *rest: object) -> ClearMap:
        looked_at.append((part.outline is not None, ground.row))
        return clear_map(ground, part, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(whynot, "clear_map", seen)
    curved = ((0.0, 0.0), (600.0, 0.0), (600.0, 100.0), (300.0, 120.0), (0.0, 100.0))
    (reason,) = reasons(replace(RAIL, length=600.0, width=120.0, quantity=1, outline=curved))
    assert "mm narrower it would fit board 1" in reason
    assert (True, whynot._FINE[1]) not in looked_at
    (reason,) = reasons(replace(RAIL, length=600.0, width=120.0, quantity=1))
    assert (False, whynot._FINE[1]) in looked_at
