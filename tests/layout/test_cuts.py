"""Sawing apart ends, however little a piece lies beside the cut that frees it."""

from random import Random

from layout.allowances import Allowances, Sawing, Shop
from layout.cuts import sawable, sawn_apart
from layout.outline import rectangle
from layout.stock import Board
from tests.robust.sizes import hang_after

KERF = 1.5
SHOP = Shop(Sawing.CROSSCUT_FIRST, 3, Allowances(kerf=KERF))
BOARD = Board("1", rectangle(0, 0, 1000, 400), rectangle(0, 0, 1000, 400), 30.0)


def stacked(low: float, sizes: list[float], gap: float) -> list[tuple[float, float, float, float]]:
    """Pieces one above the other, the same distance between all."""
    boxes = []
    for size in sizes:
        boxes.append((30.0, low, 430.0, low + size))
        low += size + gap
    return boxes


def test_a_piece_a_hair_off_the_cut_is_still_sawn_once() -> None:
    """A gap of a kerf and just what counts as to size: rounded up or down, a lump is done or is sawn."""
    chance = Random(1)
    for _ in range(400):
        sizes = [chance.uniform(30, 60) for _ in range(4)]
        boxes = stacked(chance.uniform(10, 90), sizes, KERF + 0.05)
        assert sawable(boxes, SHOP.sawing, SHOP.stages, KERF)
        with hang_after(5, f"pieces at {boxes}"):
            sawn = sawn_apart(BOARD, boxes, SHOP)
        assert 4 <= len(sawn.cuts) <= 13
        assert [cut.order for cut in sawn.cuts] == list(range(1, len(sawn.cuts) + 1))


def test_the_pieces_of_the_layout_that_was_never_sawn_through() -> None:
    boxes = [
        (900.9378367268357, 196.8401788243379, 960.0, 236.7901788243379),
        (900.9378367268357, 238.3401788243379, 960.0, 270.3401788243379),
    ]
    with hang_after(5, "two pieces"):
        sawn = sawn_apart(BOARD, boxes, SHOP)
    assert {cut.stage for cut in sawn.cuts} == {1, 2}
