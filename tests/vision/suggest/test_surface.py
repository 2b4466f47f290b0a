import numpy as np

from tests.vision.suggest.made_boards import PX_PER_MM, clear_board, photographed
from vision.suggest.surface import surface_of


def test_clear_grain_is_as_light_near_the_ends_of_a_long_stretch_as_in_its_middle():
    """Leaning directions must not bring wood from elsewhere on the board: half of this one is dark."""
    board = clear_board(920, 130)
    board[130:] *= 0.5
    surface = surface_of(photographed(board), PX_PER_MM)
    off = (surface.clear - surface.lab)[..., 0]
    for rows in (slice(16, 50), slice(80, 114)):
        middle = float(off[rows, 400:520].mean())
        for end in (slice(5, 60), slice(-60, -5)):
            assert abs(float(off[rows, end].mean()) - middle) < 1.5


def test_clear_grain_at_one_edge_knows_nothing_of_the_other():
    """Rows that leave at one edge come in at the other, but no mean may mix the two."""
    board = clear_board(920, 130)
    board[:60] *= 0.5
    surface = surface_of(photographed(board), PX_PER_MM)
    off = (surface.clear - surface.lab)[..., 0]
    assert np.abs(off[-8:].mean(axis=0)).max() < 6
    assert np.abs(off[:8].mean(axis=0)).max() < 6
