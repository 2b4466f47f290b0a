"""A map's cells are closed: a corner on the line between two of them lies in both."""

from dataclasses import replace
from math import inf, isfinite

import numpy as np
import pytest

from layout.clear import ClearMap, clear_map
from layout.ground import ground_of
from layout.stock import Defect, DefectKind, Where
from tests.builders import tiny_board, tiny_parts, tiny_shop

DEEP_KNOT = Defect("k", DefectKind.DEAD_KNOT, ((300, 40), (330, 40), (330, 70), (300, 70)), Where.THROUGH)


@pytest.fixture
def two_cells() -> ClearMap:
    """A map with one place that can be mended for 7, and nothing beyond it along the board."""
    found = clear_map(ground_of(tiny_board(), tiny_shop()), tiny_parts()[0])
    mend = np.full(found.ok.shape, inf, dtype=np.float32)
    mend[2, 1] = 7.0
    return replace(found, ok=np.zeros_like(found.ok), mend=mend)


@pytest.mark.parametrize(("along", "across"), [(2.0, 1.0), (3.0, 1.5), (2.5, 2.0), (3.0, 2.0)])
def test_a_corner_on_a_line_costs_what_the_better_cell_does(
    two_cells: ClearMap, along: float, across: float
) -> None:
    # Fillings begun at the far end put corners just there; an endless cost once stopped the whole plan.
    ground = two_cells.ground
    x, y = ground.x0 + along * ground.column, ground.y0 + across * ground.row
    assert two_cells.cost_at(x, y) == (7.0, 0.0)


def test_beyond_the_line_the_next_cell_counts(two_cells: ClearMap) -> None:
    ground = two_cells.ground
    beyond = two_cells.cost_at(ground.x0 + 3.01 * ground.column, ground.y0 + 1.5 * ground.row)
    assert not isfinite(beyond[0])


def test_a_knot_on_a_show_face_takes_places_away() -> None:
    part, shop = tiny_parts()[0], tiny_shop()
    clean = clear_map(ground_of(tiny_board(), shop), part).ok
    knotty = clear_map(ground_of(tiny_board(DEEP_KNOT), shop), part).ok
    assert not (knotty & ~clean).any(), "a defect never adds a place"
    assert knotty.sum() < clean.sum()
