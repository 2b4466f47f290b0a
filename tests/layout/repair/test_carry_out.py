"""Every kind of repair, made on a board that asks for it and passed by the verifier."""

from dataclasses import replace
from typing import Any

import pytest

from layout.allowances import RepairRules, Shop
from layout.check import violations
from layout.glue import Repair, RepairKind
from layout.outline import bounds_of, rectangle
from layout.parts import Part, PartSide, Visibility, Zone
from layout.placement import CutKind, Layout, Placement
from layout.repair.carry_out import Unmended, carried_out
from layout.repair.donor import left_over
from layout.repair.looks import Looks
from layout.solve.result import with_cuts
from layout.stock import Board, Defect, DefectKind, Face, Price, Where, Wish

SHOP = Shop(repairs=RepairRules(allowed=True))
CONCEALED = dict.fromkeys(PartSide, Visibility.CONCEALED)
RAIL = Part("rail", 900, 70, 22)
KNOT = Defect("k", DefectKind.SOUND_KNOT, rectangle(400, 50, 418, 66), Where.THROUGH)


def board_with(*defects: Defect, **rest: Any) -> Board:
    return Board.square_edged("1", 2400, 200, 27, defects=defects, price=Price(50), **rest)


def repaired(
    board: Board, part: Part, shop: Shop = SHOP, looks: tuple[Looks, ...] = (), **place: Any
) -> tuple[Layout, tuple[Unmended, ...]]:
    bare = Layout(placements=(Placement(part.name, 1, "1", 40, 20, from_front=2.5, **place),))
    return carried_out([board], [part], shop, with_cuts(bare, [board], [part], shop), looks, "board 2: 38.00")


def made(board: Board, part: Part, shop: Shop = SHOP, **place: Any) -> Repair:
    """The one repair, after the verifier has passed the whole layout."""
    layout, left = repaired(board, part, shop, **place)
    assert left == ()
    assert [found.message for found in violations([board], [part], shop, layout)] == []
    (repair,) = layout.repairs
    assert repair.alternative == "board 2: 38.00"
    return repair


def test_without_the_maker_s_word_a_show_face_is_not_patched() -> None:
    layout, left = repaired(board_with(KNOT), RAIL)
    assert layout.repairs == ()
    assert left[0].reason == "no repair of the sound knot k on face fits here"
    assert "shows on its face" in violations([board_with(KNOT)], [RAIL], SHOP, layout)[0].message


def test_a_patch_over_a_sound_knot() -> None:
    repair = made(board_with(KNOT), replace(RAIL, mend_show=True))
    assert (repair.kind, repair.side, repair.depth) == (RepairKind.PATCH, PartSide.FACE, 5.0)
    x0, y0, x1, y1 = bounds_of(repair.outline)
    # The knot lies at 355..373 x 28..44 of the part; 2 mm margin and 3 mm of patch come all round.
    assert (y0, y1) == pytest.approx((23, 49), abs=0.05)
    assert (x0, x1) == pytest.approx((355 - 5 - 26, 373 + 5 + 26), abs=0.1)
    assert repair.donor is not None
    assert repair.donor.face is Face.FRONT
    assert repair.cost == pytest.approx(25 / 60 * 40, abs=0.01)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("face", list(Face))
def test_a_patch_follows_the_part_however_it_lies(face: Face, turned: bool) -> None:
    repair = made(board_with(KNOT), replace(RAIL, mend_show=True), face_from=face, end_for_end=turned)
    x0, _, x1, _ = bounds_of(repair.outline)
    middle = 364 if not turned else 900 - 364
    assert (x0 + x1) / 2 == pytest.approx(middle, abs=0.1)
    assert repair.donor is not None
    assert repair.donor.face is face


def test_a_loose_knot_is_patched_right_through() -> None:
    dead = replace(KNOT, kind=DefectKind.DEAD_KNOT)
    repair = made(board_with(dead), replace(RAIL, mend_show=True))
    assert repair.depth == 22
    assert any("right through" in caution for caution in repair.cautions)


def test_two_faces_with_a_sound_knot_take_two_patches() -> None:
    sides = {PartSide.BACK: Visibility.SHOW}
    layout, left = repaired(board_with(KNOT), replace(RAIL, mend_show=True, sides=sides))
    assert left == ()
    assert {repair.side for repair in layout.repairs} == {PartSide.FACE, PartSide.BACK}
    assert violations([board_with(KNOT)], [replace(RAIL, mend_show=True, sides=sides)], SHOP, layout) == ()


def test_a_slice_on_a_concealed_face() -> None:
    decay = Defect("d", DefectKind.DECAY, rectangle(30, 40, 90, 70), Where.BACK, 6)
    repair = made(board_with(decay), RAIL)
    assert (repair.kind, repair.side, repair.slope) == (RepairKind.SLICE, PartSide.BACK, 12)
    # 3.5 mm of decay are left after planing 2.5; half a millimetre more comes out, over 47 mm from the end.
    assert repair.depth == pytest.approx(4.0 + 47 / 12, abs=0.02)
    assert repair.at == pytest.approx(12 * repair.depth)
    assert repair.donor is not None
    assert repair.donor.thickness == pytest.approx(repair.depth + 3)
    assert any("wedge of 4.8 degrees" in caution for caution in repair.cautions)


def test_a_slice_is_not_glued_on_a_tapered_piece() -> None:
    """It runs from edge to edge of a straight one: here it would reach outside the part."""
    decay = Defect("d", DefectKind.DECAY, rectangle(30, 40, 90, 70), Where.BACK, 6)
    tapered = ((0.0, 0.0), (RAIL.length, 20.0), (RAIL.length, RAIL.width - 20.0), (0.0, RAIL.width))
    layout, _ = repaired(board_with(decay), replace(RAIL, outline=tapered))
    assert all(repair.kind is not RepairKind.SLICE for repair in layout.repairs)


def test_a_splice_for_a_split_end() -> None:
    split = Defect("s", DefectKind.SPLIT, rectangle(0, 40, 90, 45), Where.THROUGH)
    repair = made(board_with(split), replace(RAIL, sides=CONCEALED))
    assert repair.kind is RepairKind.SPLICE
    assert repair.slope > 10
    assert repair.at + repair.slope * 22 == pytest.approx(300)  # the middle third is left whole
    assert any("unverified" in caution for caution in repair.cautions)


def test_a_splice_takes_a_fault_out_of_a_joint() -> None:
    split = Defect("s", DefectKind.SPLIT, rectangle(0, 40, 80, 45), Where.THROUGH)
    tenon = Zone("tenon", rectangle(0, 0, 30, 70))
    assert made(board_with(split), replace(RAIL, sides=CONCEALED, zones=(tenon,))).kind is RepairKind.SPLICE
    long_tenon = Zone("tenon", rectangle(0, 0, 60, 70))
    _, left = repaired(board_with(split), replace(RAIL, sides=CONCEALED, zones=(long_tenon,)))
    assert left  # the scarf would run into the joint


def test_an_edge_strip_for_wane() -> None:
    wane = Defect("w", DefectKind.WANE, rectangle(0, 0, 700, 30), Where.THROUGH)
    repair = made(board_with(wane), replace(RAIL, sides=CONCEALED))
    assert (repair.kind, repair.side) == (RepairKind.EDGE_STRIP, PartSide.NEAR_EDGE)
    assert bounds_of(repair.outline) == pytest.approx((0, 0, 900, 13), abs=0.05)
    assert (
        made(board_with(wane), replace(RAIL, sides=CONCEALED), face_from=Face.BACK).side is PartSide.FAR_EDGE
    )


def test_filler_for_a_fine_check() -> None:
    check = Defect("c", DefectKind.CHECK, rectangle(300, 50, 380, 52), Where.FRONT, 8)
    seen = replace(RAIL, sides={PartSide.FACE: Visibility.SEEN_IN_USE})
    repair = made(board_with(check), seen)
    assert repair.kind is RepairKind.FILLER
    assert repair.donor is None
    wide = replace(check, outline=rectangle(300, 50, 380, 54))
    assert made(board_with(wide), seen).kind is RepairKind.PATCH


def test_patches_keep_off_joints_and_edges() -> None:
    patched = replace(RAIL, mend_show=True)
    near_edge = replace(KNOT, outline=rectangle(400, 30, 418, 46))
    assert repaired(board_with(near_edge), patched)[1]
    mortise = Zone("mortise", rectangle(250, 20, 330, 50))
    assert repaired(board_with(KNOT), replace(patched, zones=(mortise,)))[1]


def test_the_budget_of_a_face() -> None:
    knots = [
        replace(KNOT, id=f"k{n}", outline=rectangle(x, 50, x + 10, 60)) for n, x in enumerate((200, 450, 700))
    ]
    patched = replace(RAIL, mend_show=True)
    assert repaired(board_with(*knots), patched)[1]
    three = replace(SHOP, repairs=replace(SHOP.repairs, per_face=3))
    layout, left = repaired(board_with(*knots), patched, three)
    assert (len(layout.repairs), left) == (3, ())
    assert violations([board_with(*knots)], [patched], three, layout) == ()
    assert layout.cost == pytest.approx(50 + 3 * 16.67)


def test_no_repair_without_wood_for_it() -> None:
    small = Board.square_edged("1", 970, 120, 27, defects=(KNOT,), price=Price(50))
    assert repaired(small, replace(RAIL, mend_show=True))[1]


def test_what_the_maker_wants_in_no_part_is_not_patched_over() -> None:
    assert repaired(board_with(replace(KNOT, wish=Wish.KEEP_OFF)), replace(RAIL, mend_show=True))[1]


def test_a_kind_never_made() -> None:
    never = replace(SHOP, repairs=replace(SHOP.repairs, patch=-1))
    assert repaired(board_with(KNOT), replace(RAIL, mend_show=True), never)[1]


def looks_of(colour: Any, grain: Any = ()) -> Looks:
    """The front of the board, 100 mm cells."""
    cells = [[colour(i, j) for j in range(2)] for i in range(24)]
    angles = [[grain(i, j) for j in range(2)] for i in range(24)] if grain else ()
    return Looks("1", "front", 100, tuple(map(tuple, cells)), tuple(map(tuple, angles)))


def test_the_donor_nearest_in_colour_is_taken() -> None:
    brown, pale = (55.0, 8.0, 25.0), (68.0, 5.0, 22.0)
    looks = looks_of(lambda i, _j: brown if i < 10 or i >= 15 else pale)
    layout, _ = repaired(board_with(KNOT), replace(RAIL, mend_show=True), looks=(looks,))
    donor = layout.repairs[0].donor
    assert donor is not None
    assert donor.colour == pytest.approx(0, abs=1e-9)
    assert donor.x1 <= 1000 or donor.x0 >= 1500
    assert not any("by eye" in caution for caution in layout.repairs[0].cautions)
    only_pale = looks_of(lambda i, j: brown if 2 <= i < 6 and j == 0 else pale)
    assert repaired(board_with(KNOT), replace(RAIL, mend_show=True), looks=(only_pale,))[1]


def test_the_grain_of_the_donor_lies_within_three_degrees() -> None:
    looks = looks_of(lambda _i, _j: (55.0, 8.0, 25.0), lambda i, _j: 0.0 if i < 12 else 4.0)
    layout, _ = repaired(board_with(KNOT), replace(RAIL, mend_show=True), looks=(looks,))
    donor = layout.repairs[0].donor
    assert donor is not None
    assert donor.x1 <= 1300
    steep = looks_of(lambda _i, _j: (55.0, 8.0, 25.0), lambda i, j: 0.0 if i in (3, 4) and j == 0 else 9.0)
    assert repaired(board_with(KNOT), replace(RAIL, mend_show=True), looks=(steep,))[1]


def test_offcuts_lose_what_donors_take() -> None:
    board, part = board_with(KNOT), replace(RAIL, mend_show=True)
    layout, _ = repaired(board, part)
    donor = layout.repairs[0].donor
    assert donor is not None
    for offcut in layout.offcuts:
        apart = (
            offcut.x1 <= donor.x0 or offcut.x0 >= donor.x1 or offcut.y1 <= donor.y0 or offcut.y0 >= donor.y1
        )
        assert apart
    assert layout.offcuts


@pytest.mark.parametrize("kerf", [0.0, 3.0])
def test_no_blank_lies_across_a_cut(kerf: float) -> None:
    """A cut without a kerf takes no wood, and a blank across it would be sawn in two all the same."""
    shop = replace(SHOP, allowances=replace(SHOP.allowances, kerf=kerf))
    board = board_with(KNOT)
    bare = Layout(placements=(Placement(RAIL.name, 1, "1", 40, 20, from_front=2.5),))
    layout = with_cuts(bare, [board], [RAIL], shop)
    across = [cut.at for cut in layout.cuts if cut.kind is CutKind.CROSSCUT and cut.start < 1 < cut.end]
    assert across
    for lump in left_over(board, [RAIL], shop, layout):
        x0, _, x1, _ = lump.bounds
        assert not any(x0 < at + kerf / 2 < x1 for at in across)
