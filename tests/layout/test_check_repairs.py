"""Each thing that can be wrong with a repair is provoked once, by spoiling a good one made by hand."""

from dataclasses import replace
from typing import Any

import pytest

from layout.allowances import Allowances, RepairRules, Shop
from layout.check import violations
from layout.glue import Donor, Repair, RepairKind
from layout.outline import rectangle
from layout.parts import Part, PartSide, Visibility, Zone
from layout.placement import Cut, CutKind, Layout, Offcut, Placement
from layout.stock import Board, Defect, DefectKind, Face, Price, Where

SHOP = Shop(
    allowances=Allowances(kerf=3, end_trim=20, edge_trim=3, length=10, width=4, skim=1.5, defect_margin=2),
    repairs=RepairRules(allowed=True),
)
# Sawn 20..930 x 3..77, finished 25..925 x 5..75 of the board: part x = board x - 25, part y = board y - 5.
PLACE = Placement("rail", 1, "1", 20, 3, from_front=2.5)
RAIL = Part("rail", 900, 70, 22, mend_show=True)
CONCEALED = dict.fromkeys(PartSide, Visibility.CONCEALED)


def fault(kind: DefectKind, box: tuple[float, float, float, float], **rest: Any) -> Defect:
    return Defect("f", kind, rectangle(*box), rest.pop("where", Where.THROUGH), **rest)


def blank(length: float, width: float, thickness: float, face: Face = Face.FRONT) -> Donor:
    return Donor("1", 1000, 100, 1000 + length, 100 + width, face, thickness)


KNOT = fault(DefectKind.SOUND_KNOT, (425, 33, 445, 49))  # in the part 400..420 x 28..44
PATCH = Repair(
    RepairKind.PATCH,
    "rail",
    1,
    PartSide.FACE,
    ("f",),
    ((368, 36), (395, 23), (425, 23), (452, 36), (425, 49), (395, 49)),
    5,
    donor=blank(94, 32, 8),
    cost=16.67,
)
DECAY = fault(
    DefectKind.DECAY, (45, 30, 85, 50), where=Where.BACK, depth=6
)  # 3.5 mm left, to 62 from the end
SLICE = Repair(
    RepairKind.SLICE,
    "rail",
    1,
    PartSide.BACK,
    ("f",),
    rectangle(0, 0, 120, 70),
    10,
    slope=12,
    at=120,
    donor=blank(140, 74, 13, Face.BACK),
    cost=30,
)
SPLIT = fault(DefectKind.SPLIT, (0, 30, 60, 34))  # to 37 from the end, with its margin
SPLICE = Repair(
    RepairKind.SPLICE,
    "rail",
    1,
    PartSide.FACE,
    ("f",),
    rectangle(0, 0, 300, 70),
    22,
    slope=11,
    at=58,
    donor=blank(320, 74, 24),
    cost=40,
)
WANE = fault(DefectKind.WANE, (0, 0, 500, 12))  # 9 mm into the part, with its margin
STRIP = Repair(
    RepairKind.EDGE_STRIP,
    "rail",
    1,
    PartSide.NEAR_EDGE,
    ("f",),
    rectangle(0, 0, 900, 12),
    12,
    donor=blank(910, 15, 24),
    cost=20,
)
CHECK = fault(DefectKind.CHECK, (325, 40, 405, 42), where=Where.FRONT, depth=8)
FILLER = Repair(RepairKind.FILLER, "rail", 1, PartSide.FACE, ("f",), rectangle(297, 32, 383, 40), 6, cost=4)
HIDDEN = replace(RAIL, sides=CONCEALED)
BACK_HIDDEN = RAIL
GOOD = {
    RepairKind.PATCH: (KNOT, RAIL, PATCH),
    RepairKind.SLICE: (DECAY, BACK_HIDDEN, SLICE),
    RepairKind.SPLICE: (SPLIT, HIDDEN, SPLICE),
    RepairKind.EDGE_STRIP: (WANE, HIDDEN, STRIP),
    RepairKind.FILLER: (CHECK, RAIL, FILLER),
}


def messages(
    defect: Defect, part: Part, *repairs: Repair, shop: Shop = SHOP, cost: float | None = None, **rest: Any
) -> list[str]:
    board = Board.square_edged("1", 2000, 210, 27, defects=(defect,), price=Price(40.0))
    total = 40 + sum(repair.cost for repair in repairs) if cost is None else cost
    layout = Layout(placements=(PLACE,), repairs=repairs, cost=total, **rest)
    return [found.message for found in violations([board], [part], shop, layout)]


@pytest.mark.parametrize("kind", list(RepairKind))
def test_a_good_repair_makes_the_fault_good(kind: RepairKind) -> None:
    defect, part, repair = GOOD[kind]
    assert messages(defect, part) != []
    assert messages(defect, part, repair) == []


SPOILT = [
    (RepairKind.PATCH, {"side": PartSide.NEAR_EDGE}, "must lie in a face"),
    (
        RepairKind.PATCH,
        {"outline": ((369, 36), (396, 25), (424, 25), (451, 36), (424, 47), (396, 47))},
        "does not reach 3 mm beyond the fault all round",
    ),
    (RepairKind.PATCH, {"outline": rectangle(368, 23, 452, 49)}, "has a joint line across the grain"),
    (RepairKind.PATCH, {"depth": 2.0}, "is 2 mm deep; 3 mm is the least"),
    (RepairKind.PATCH, {"depth": 20.0}, "is 20 mm deep; 3 mm is the least, in it and below it"),
    (
        RepairKind.PATCH,
        {"outline": ((368, 36), (395, 3), (425, 3), (452, 36), (425, 69), (395, 69))},
        "comes nearer than 5 mm to an edge",
    ),
    (RepairKind.PATCH, {"cost": 10.0}, "is priced 10.00, but 25 minutes come to 16.67"),
    (RepairKind.PATCH, {"defects": ("ghost",)}, "is for a fault ghost that board 1 does not have"),
    (RepairKind.PATCH, {"donor": blank(60, 32, 8)}, "needs a blank of 84 mm x 26 mm; the donor is smaller"),
    (RepairKind.PATCH, {"donor": blank(94, 32, 4)}, "needs a blank 5 mm thick; the donor's is 4 mm"),
    (RepairKind.PATCH, {"donor": blank(94, 32, 30)}, "needs a blank 5 mm thick; the donor's is 30 mm"),
    (RepairKind.PATCH, {"donor": blank(94, 32, 8, Face.BACK)}, "has the wrong face of the donor outside"),
    (RepairKind.PATCH, {"donor": replace(blank(94, 32, 8), board="2")}, "takes its wood from board 2"),
    (RepairKind.PATCH, {"donor": replace(blank(94, 32, 8), grain=3.5)}, "has its grain 3.5 degrees off"),
    (RepairKind.PATCH, {"donor": replace(blank(94, 32, 8), colour=9.0)}, "differs in colour by 9.0"),
    (RepairKind.PATCH, {"donor": Donor("1", 900, 60, 994, 92, Face.FRONT, 8)}, "takes wood of rail 1"),
    (RepairKind.PATCH, {"donor": Donor("1", 1900, 100, 1994, 132, Face.FRONT, 8)}, "from its end trim"),
    (RepairKind.SLICE, {"side": PartSide.FACE}, "must lie on a concealed face"),
    (RepairKind.SLICE, {"outline": rectangle(10, 0, 130, 70)}, "must reach an end and both edges"),
    (RepairKind.SLICE, {"slope": 8.0}, "slopes 1 in 8; 1 in 10 or flatter holds"),
    (
        RepairKind.SLICE,
        {"outline": rectangle(0, 0, 100, 70)},
        "runs 100 mm, but 10 mm deep at 1 in 12 runs 120 mm",
    ),
    (
        RepairKind.SLICE,
        {"depth": 12.0, "outline": rectangle(0, 0, 144, 70)},
        "takes 12 mm of 22 mm, more than half",
    ),
    (RepairKind.SLICE, {"depth": 7.0, "outline": rectangle(0, 0, 84, 70)}, "is only 1.8 mm thick at the end"),
    (RepairKind.SLICE, {"depth": 8.3, "outline": rectangle(0, 0, 99.6, 70)}, "the fault goes 3.5 mm down"),
    (RepairKind.SPLICE, {"outline": rectangle(10, 0, 300, 70)}, "must take a whole end away"),
    (RepairKind.SPLICE, {"slope": 6.0}, "slopes 1 in 6; 1 in 8 is the steepest"),
    (RepairKind.SPLICE, {"slope": 9.0}, "has a scarf of 242 mm; 1 in 9 needs 198 mm"),
    (RepairKind.SPLICE, {"outline": rectangle(0, 0, 330, 70), "at": 88}, "has its joint in the middle third"),
    (
        RepairKind.SPLICE,
        {"at": 30, "outline": rectangle(0, 0, 272, 70)},
        "does not take the whole fault away",
    ),
    (RepairKind.EDGE_STRIP, {"side": PartSide.FAR_EDGE}, "must lie along an edge"),
    (RepairKind.EDGE_STRIP, {"outline": rectangle(0, 0, 800, 12)}, "must run the whole length"),
    (RepairKind.EDGE_STRIP, {"outline": rectangle(0, 0, 900, 30)}, "is 30 mm wide, more than a third"),
    (RepairKind.EDGE_STRIP, {"outline": rectangle(0, 0, 900, 8)}, "does not take the whole fault away"),
    (RepairKind.FILLER, {"outline": rectangle(320, 32, 383, 40)}, "does not fill the whole fault"),
]


@pytest.mark.parametrize(("kind", "change", "message"), SPOILT)
def test_a_spoilt_repair_is_found_out(kind: RepairKind, change: dict[str, Any], message: str) -> None:
    defect, part, repair = GOOD[kind]
    found = messages(defect, part, replace(repair, **change))
    assert any(message in text for text in found), found


@pytest.mark.parametrize(
    ("defect", "message"),
    [
        (replace(CHECK, outline=rectangle(325, 39, 405, 43)), "fills 4 mm; 3 mm is the most for a check"),
        (replace(CHECK, kind=DefectKind.STAIN), "fills a stain, which filler does not mend"),
    ],
)
def test_filler_has_its_limits(defect: Defect, message: str) -> None:
    assert any(message in text for text in messages(defect, RAIL, FILLER))


def test_soft_wood_must_come_out() -> None:
    soft = replace(KNOT, kind=DefectKind.DEAD_KNOT)
    assert any("is 5 mm deep, but the fault goes 22 mm down" in text for text in messages(soft, RAIL, PATCH))
    assert messages(soft, RAIL, replace(PATCH, depth=22, donor=blank(94, 32, 25))) == []


@pytest.mark.parametrize(
    ("kind", "zone", "message"),
    [
        (RepairKind.PATCH, rectangle(455, 20, 500, 50), "comes nearer than 5 mm to a joint or moulding"),
        (RepairKind.SLICE, rectangle(100, 0, 140, 70), "runs into a joint or moulding"),
        (RepairKind.SPLICE, rectangle(200, 0, 240, 70), "has its scarf in a joint or moulding"),
        (RepairKind.EDGE_STRIP, rectangle(600, 0, 640, 30), "runs through a joint or moulding"),
    ],
)
def test_repairs_keep_off_joints(kind: RepairKind, zone: Any, message: str) -> None:
    defect, part, repair = GOOD[kind]
    jointed = replace(part, zones=(Zone("mortise", zone),))
    assert any(message in text for text in messages(defect, jointed, repair))


def test_show_faces_only_if_the_maker_says_so() -> None:
    found = messages(KNOT, replace(RAIL, mend_show=False), PATCH)
    assert any("is seen on its face, a show face that is not to be repaired" in text for text in found)


def test_a_shop_that_makes_no_repairs() -> None:
    none = replace(SHOP, repairs=replace(SHOP.repairs, allowed=False))
    assert any("is not one the maker allows" in text for text in messages(KNOT, RAIL, PATCH, shop=none))


def test_budget_and_neighbours() -> None:
    one = replace(SHOP, repairs=replace(SHOP.repairs, per_face=1))
    twin = replace(PATCH, donor=Donor("1", 1200, 100, 1294, 132, Face.FRONT, 8))
    found = messages(KNOT, RAIL, PATCH, twin, shop=one)
    assert any("2 repairs on its face, but 1 are the most" in text for text in found)
    assert any("the patch and the patch run into each other" in text for text in found)


def test_donors_are_taken_once_and_from_left_over_wood() -> None:
    def found(**rest: Any) -> str:
        return " ".join(messages(KNOT, RAIL, PATCH, **rest))

    assert "takes wood of the offcut listed at 950 mm" in found(offcuts=(Offcut("1", 950, 90, 1980, 200),))
    assert "takes wood that cut 1 goes through" in found(
        cuts=(Cut("1", 1, CutKind.CROSSCUT, 1040, 0, 210, 1), Cut("1", 2, CutKind.RIP, 105, 0, 1040, 2))
    )
    back = replace(PATCH, side=PartSide.BACK, donor=replace(blank(94, 32, 8, Face.BACK), x0=1050, x1=1144))
    both = replace(RAIL, sides={PartSide.BACK: Visibility.SHOW})
    assert any("takes the wood of the patch of rail 1" in text for text in messages(KNOT, both, PATCH, back))
    on_knot = replace(PATCH, donor=Donor("1", 1000, 100, 1094, 132, Face.FRONT, 8))
    flaw = Defect("g", DefectKind.STAIN, rectangle(1050, 110, 1060, 120), Where.FRONT, 1)
    board = Board.square_edged("1", 2000, 210, 27, defects=(KNOT, flaw), price=Price(40.0))
    layout = Layout(placements=(PLACE,), repairs=(on_knot,), cost=56.67)
    assert any(
        "takes wood with the stain g in it" in v.message for v in violations([board], [RAIL], SHOP, layout)
    )


def test_repairs_belong_to_a_part_and_are_paid_for() -> None:
    assert any("belongs to no placed part" in text for text in messages(KNOT, RAIL, replace(PATCH, copy=2)))
    assert messages(KNOT, RAIL, PATCH, cost=40.0) == [
        "the cost is given as 40.00, but the boards come to 40.00 and the repairs to 16.67."
    ]


def test_a_repair_that_is_none() -> None:
    with pytest.raises(ValueError, match="every repair but a filler needs a donor"):
        replace(PATCH, donor=None)
    with pytest.raises(ValueError, match="depth is 0"):
        replace(PATCH, depth=0)
    with pytest.raises(ValueError, match="no size"):
        Donor("1", 10, 10, 10, 20, Face.FRONT, 5)
