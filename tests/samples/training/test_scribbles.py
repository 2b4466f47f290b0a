import numpy as np

from samples.training.scribbles import CHALK, PEN, PENCIL, TAPE, scribble


def test_figures_are_the_same_for_the_same_seed_and_leave_most_of_a_tile_bare():
    covers = []
    for seed in range(40):
        one, other = (scribble(np.random.default_rng(seed), (256, 512), 2.0) for _ in range(2))
        assert one.pen == other.pen
        assert np.array_equal(one.cover, other.cover)
        covers.append(float((one.cover > 0).mean()))
    assert max(covers) < 0.9
    assert 0.001 < np.median(covers) < 0.25


def test_every_pen_is_taken_and_only_labels_have_print():
    tiles = [scribble(np.random.default_rng(seed), (128, 256), 2.0, for_tests=True) for seed in range(60)]
    assert {tile.pen for tile in tiles} == {PENCIL, CHALK, PEN, TAPE}
    printed = [tile for tile in tiles if (tile.tone < 128).any()]
    assert printed
    assert all(tile.pen == TAPE for tile in printed)
    assert all((tile.cover[tile.tone < 128] > 0).all() for tile in printed)
