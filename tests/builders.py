"""One tiny board and cutting list that everybody knows by heart, and a layout for them done by hand.

The board "1" is 1000 x 210 x 27 mm with one knot right through it::

      0   20                450|453      478-522                    980  1000
      +---+------------------+--+-------------------------------------+---+   0
      |   | rail 1  430 x 64 |  |                                     |   |   3 .. 67
      |   +------------------+  |            +--+                     |   |
      |   | rail 2  430 x 64 |  |            |k1|  80 .. 120          |   |  70 .. 134
      |   +----------------+-+  |            +--+                     |   |
      |   | slat    410 x 64 |  |                                     |   | 137 .. 201
      +---+----------------+-+--+-------------------------------------+---+ 210

Kerf 3, end trim 20, edge trim 3, each part sawn 10 longer and 4 wider, at least
1.5 mm planed off each face, 2 mm kept clear round a defect.
"""

from layout.allowances import Allowances, Shop
from layout.outline import rectangle
from layout.parts import Part
from layout.placement import Cut, CutKind, Layout, Offcut, Placement
from layout.stock import Board, Defect, DefectKind, Price, Where

__all__ = ["tiny_board", "tiny_knot", "tiny_layout", "tiny_parts", "tiny_shop"]


def tiny_knot() -> Defect:
    """A dead knot of 44 x 40 mm right through the board."""
    return Defect("k1", DefectKind.DEAD_KNOT, rectangle(478, 80, 522, 120), Where.THROUGH)


def tiny_board(*more: Defect) -> Board:
    """The board; further defects may be added."""
    return Board.square_edged("1", 1000, 210, 27, defects=(tiny_knot(), *more), price=Price(40.0))


def tiny_parts() -> tuple[Part, ...]:
    """Two rails with a show face and one slat, all 22 mm thick."""
    return (Part("rail", 420, 60, 22, quantity=2), Part("slat", 400, 60, 22))


def tiny_shop() -> Shop:
    """A shop that crosscuts first and has round figures for every allowance."""
    return Shop(
        allowances=Allowances(kerf=3, end_trim=20, edge_trim=3, length=10, width=4, skim=1.5, defect_margin=2)
    )


def tiny_layout() -> Layout:
    """All three parts left of the knot, sawn in three stages."""
    return Layout(
        placements=(
            Placement("rail", 1, "1", 20, 3, from_front=2.5),
            Placement("rail", 2, "1", 20, 70, from_front=2.5),
            Placement("slat", 1, "1", 20, 137, from_front=2.5),
        ),
        cuts=(
            Cut("1", 1, CutKind.CROSSCUT, 17, 0, 210, 1, kept_before=False),
            Cut("1", 2, CutKind.CROSSCUT, 450, 0, 210, 1),
            Cut("1", 3, CutKind.RIP, 0, 20, 450, 2, kept_before=False),
            Cut("1", 4, CutKind.RIP, 67, 20, 450, 2),
            Cut("1", 5, CutKind.RIP, 134, 20, 450, 2),
            Cut("1", 6, CutKind.RIP, 201, 20, 450, 2),
            Cut("1", 7, CutKind.CROSSCUT, 430, 137, 201, 3),
        ),
        offcuts=(Offcut("1", 453, 0, 1000, 210),),
        cost=40.0,
    )
