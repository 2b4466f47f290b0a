"""Outlines row by row and cells barred one by one, held to shapely and to plain looking."""

import numpy as np
import pytest
import shapely

from layout.row_loops import bar_cells, row_extents

ROW, TINY = 2.5, 1e-6


@pytest.mark.parametrize("seed", range(12))
def test_stretches_of_rows_are_those_of_the_outline_cut_by_them(seed: int) -> None:
    chance = np.random.default_rng(seed)
    points = chance.uniform(-10.0, 60.0, size=(9, 2))
    if seed % 3 == 0:  # corners on the lines between rows, and edges along them
        points = np.round(points / ROW) * ROW
    ring = np.vstack((points, points[:1]))
    low, high = np.full(20, np.inf), np.full(20, -np.inf)
    row_extents(ring, ROW, low, high)
    line = shapely.LineString(ring)
    for j in range(20):
        inside = line.intersection(shapely.box(-100.0, j * ROW + TINY, 100.0, (j + 1) * ROW - TINY))
        if inside.is_empty:
            assert low[j] == np.inf
            assert high[j] == -np.inf
        else:
            assert low[j] == pytest.approx(inside.bounds[0], abs=1e-6)
            assert high[j] == pytest.approx(inside.bounds[2], abs=1e-6)


@pytest.mark.parametrize("fortran", [False, True])
def test_cells_are_barred_where_a_place_in_them_meets_a_stretch(fortran: bool) -> None:
    chance = np.random.default_rng(7)
    column, room = 3.0, 33.0
    for _ in range(40):
        low = chance.uniform(-5.0, 45.0, size=3)
        high = low + chance.uniform(0.1, 12.0, size=3)
        across, which = chance.integers(0, 14, size=3), np.array([0, 2])
        near, far = 0.0, float(chance.uniform(2.0, 9.0))
        first, last = int(chance.integers(0, 2)), int(chance.integers(1, 5))
        found = np.zeros((10, 12), dtype=np.bool_, order="F" if fortran else "C")
        found[4, 5] = True
        bar_cells(found, low, high, across, which, near, far, room, column, first, last)
        for j, i in np.ndindex(found.shape):
            # Places of the cell as a fine row of them, the ends left out.
            places = np.minimum(np.linspace(i * column + 1e-4, (i + 1) * column - 1e-4, 400), room)
            if i * column > room:
                places = np.zeros(0)
            meets = any(
                first <= across[one] - j <= last
                and ((places + far > low[one]) & (places + near < high[one])).any()
                for one in which
            )
            assert found[j, i] == (meets or (j, i) == (4, 5))
