"""Dense fillings: slabs as thick as their leader, and thicker ones."""

from random import Random

from layout.allowances import Allowances, Sawing, Shop
from layout.cuts import sawable
from layout.outline import rectangle
from layout.parts import Part
from layout.solve.dense import dense
from layout.solve.filling import Filler, Filling
from layout.solve.job import job_of
from layout.stock import Board, Defect, DefectKind, Where

NONE = Allowances(kerf=3.0, end_trim=0.0, edge_trim=0.0, length=0.0, width=0.0)
SHOP = Shop(Sawing.CROSSCUT_FIRST, 3, NONE)
PARTS = (Part("slat", 500, 70, 20), Part("rail", 470, 60, 20))


def stepped() -> Board:
    """A board whose two parts lie side by side, or not at all, and begin and end 100 mm apart."""
    faults = [
        Defect("low", DefectKind.SHAKE, rectangle(0, 10, 50, 60), Where.THROUGH),
        Defect("high", DefectKind.SHAKE, rectangle(0, 80, 150, 130), Where.THROUGH),
        Defect("far low", DefectKind.SHAKE, rectangle(560, 10, 710, 60), Where.THROUGH),
        Defect("far high", DefectKind.SHAKE, rectangle(660, 80, 710, 130), Where.THROUGH),
    ]
    return Board.square_edged("1", 710, 148, 30, defects=tuple(faults))


def filled(seed: int, thicker: bool) -> Filling:
    job = job_of([stepped()], PARTS, SHOP)
    worth = [part.length * part.width for part in PARTS]
    return dense(Filler(job), 0, [1, 1], worth, 0.0, Random(seed), beam=3, thicker=thicker)


def test_parts_that_begin_apart_lie_side_by_side_in_a_thicker_slab() -> None:
    most = [max(sum(filled(seed, thicker).counts) for seed in range(12)) for thicker in (False, True)]
    assert most == [1, 2]


def test_thicker_slabs_can_be_sawn() -> None:
    job = job_of([stepped()], PARTS, SHOP)
    for seed in range(12):
        sizes = job.maps[0].sizes
        places = filled(seed, thicker=True).places
        boxes = [(x, y, x + sizes[part][0], y + sizes[part][1]) for part, x, y in places]
        assert boxes
        assert sawable(boxes, SHOP.sawing, SHOP.stages, job.kerf)
