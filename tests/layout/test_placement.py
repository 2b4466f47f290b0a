from dataclasses import replace
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.outline import area_of, bounds_of, rectangle
from layout.placement import Layout, Placement, on_board, sawn_on_board
from layout.stock import Face
from tests.builders import tiny_layout, tiny_parts, tiny_shop

RAIL, ALLOWANCES = tiny_parts()[0], tiny_shop().allowances
NEAR_CORNER = ((0.0, 0.0), (6.0, 0.0), (0.0, 3.0))  # which way round it lies can be told


@pytest.mark.parametrize(
    ("face", "turned", "corner"),
    [
        # Rail 1 sawn lies 20..450 x 3..67, finished 25..445 x 5..65.
        (Face.FRONT, False, ((25, 5), (31, 5), (25, 8))),
        (Face.FRONT, True, ((445, 65), (439, 65), (445, 62))),
        (Face.BACK, False, ((25, 65), (31, 65), (25, 62))),
        (Face.BACK, True, ((445, 5), (439, 5), (445, 8))),
    ],
)
def test_where_the_near_corner_of_a_part_comes_to_lie(
    face: Face, turned: bool, corner: tuple[tuple[float, float], ...]
) -> None:
    placement = Placement("rail", 1, "1", 20, 3, face_from=face, end_for_end=turned)
    assert set(on_board(NEAR_CORNER, placement, RAIL, ALLOWANCES)) == set(corner)


@given(st.floats(-30, 30), st.booleans(), st.sampled_from(Face))
def test_a_tilt_turns_the_piece_about_its_middle_and_changes_no_size(
    tilt: float, turned: bool, face: Face
) -> None:
    placement = Placement("rail", 1, "1", 20, 3, face, turned, tilt)
    outline = sawn_on_board(placement, RAIL, ALLOWANCES)
    assert area_of(outline) == pytest.approx(430 * 64)
    x0, y0, x1, y1 = bounds_of(outline)
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((235, 35))
    assert max(hypot(x - 235, y - 35) for x, y in outline) == pytest.approx(hypot(215, 32))


def test_a_positive_tilt_runs_from_x_towards_y() -> None:
    placement = Placement("rail", 1, "1", 20, 3, tilt=10)
    far_end = rectangle(400, 28, 420, 32)
    _, y0, _, y1 = bounds_of(on_board(far_end, placement, RAIL, ALLOWANCES))
    assert (y0 + y1) / 2 > 35 + 30


def test_boards_used_in_the_order_they_appear() -> None:
    other = replace(tiny_layout().placements[0], board="0")
    layout = Layout(placements=(*tiny_layout().placements, other))
    assert layout.boards_used == ("1", "0")
    assert layout.on("0") == (other,)


def test_a_placement_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="placement of rail: x is nan"):
        Placement("rail", 1, "1", float("nan"), 0)
    with pytest.raises(ValueError, match="copy is 0; the first is 1"):
        Placement("rail", 0, "1", 0, 0)
