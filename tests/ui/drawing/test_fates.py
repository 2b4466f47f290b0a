"""What became of each defect, on the tiny board."""

from dataclasses import replace

from layout.outline import rectangle
from layout.parts import PartSide, Zone
from layout.placement import Layout
from layout.stock import Defect, DefectKind, Face, Where, Wish
from tests.builders import tiny_board, tiny_knot, tiny_layout, tiny_parts, tiny_shop
from ui.drawing.fates import Fate, fates


def fate_of(defect: Defect, layout: Layout | None = None) -> Fate:
    found = fates(tiny_board(defect), tiny_parts(), tiny_shop(), layout or tiny_layout())
    return found[-1].fate


def spot(where: Where, x: float, y: float, depth: float | None = None, **rest: object) -> Defect:
    outline = rectangle(x, y, x + 10, y + 10)
    return Defect("d", rest.pop("kind", DefectKind.STAIN), outline, where, depth, **rest)  # type: ignore[arg-type]


def test_the_knot_lies_in_the_offcut():
    found = fates(tiny_board(), tiny_parts(), tiny_shop(), tiny_layout())
    assert [(each.defect, each.fate) for each in found] == [(tiny_knot(), Fate.IN_OFFCUT)]


def test_in_the_end_trim_it_is_cut_away():
    assert fate_of(spot(Where.THROUGH, 2, 50)) is Fate.CUT_AWAY


def test_in_the_sawing_allowance_it_is_cut_away():
    # rail 1 is sawn 20..450 and finished 25..445; 2 mm are kept clear
    thin = Defect("d", DefectKind.STAIN, rectangle(21, 30, 22.5, 40), Where.THROUGH)
    assert fate_of(thin) is Fate.CUT_AWAY


def test_on_the_back_of_the_board_it_is_hidden_on_the_back_of_the_part():
    found = fates(tiny_board(spot(Where.BACK, 200, 30)), tiny_parts(), tiny_shop(), tiny_layout())[-1]
    assert found.fate is Fate.HIDDEN_BACK
    assert [(each.placement.part, each.placement.copy, each.side) for each in found.showings] == [
        ("rail", 1, PartSide.BACK)
    ]


def test_a_part_laid_the_other_way_over_shows_it():
    over = replace(tiny_layout().placements[0], face_from=Face.BACK)
    layout = replace(tiny_layout(), placements=(over, *tiny_layout().placements[1:]))
    assert fate_of(spot(Where.BACK, 200, 30), layout) is Fate.AGAINST


def test_no_deeper_than_planing_takes_it_is_planed_off():
    assert fate_of(spot(Where.FRONT, 200, 30, 2.5)) is Fate.PLANED_OFF
    assert fate_of(spot(Where.FRONT, 200, 30, 2.6)) is Fate.AGAINST


def test_deep_enough_from_the_back_it_reaches_the_show_face():
    # 27 thick, 2.5 off the front: 24.5 mm from the back it comes out
    assert fate_of(spot(Where.BACK, 200, 30, 24.4)) is Fate.HIDDEN_BACK
    assert fate_of(spot(Where.BACK, 200, 30, 24.5)) is Fate.AGAINST


def test_a_small_sound_knot_on_an_edge_seen_in_use_is_within_its_rule():
    knot = Defect("d", DefectKind.PIN_KNOT, rectangle(200, 61, 205, 66), Where.BACK, 5)
    found = fates(tiny_board(knot), tiny_parts(), tiny_shop(), tiny_layout())[-1]
    assert found.fate is Fate.SEEN
    assert {each.side for each in found.showings} == {PartSide.FAR_EDGE, PartSide.BACK}


def test_a_feature_worth_seeing_is_shown_and_one_to_keep_off_never_is():
    assert fate_of(spot(Where.FRONT, 200, 30, wish=Wish.SHOW)) is Fate.SHOWN
    assert fate_of(spot(Where.BACK, 200, 30, wish=Wish.KEEP_OFF)) is Fate.AGAINST


def test_a_joint_suffers_nothing_not_even_on_the_back():
    rail, slat = tiny_parts()
    tenon = Zone("tenon", rectangle(170, 0, 200, 60))
    parts = (replace(rail, zones=(tenon,)), slat)
    stain = spot(Where.BACK, 200, 30)
    assert fates(tiny_board(stain), parts, tiny_shop(), tiny_layout())[-1].fate is Fate.AGAINST


def test_only_the_margin_reaching_a_part_is_said():
    # finished rail 1 ends at y = 65; the defect begins at 66, its 2 mm margin at 64
    near = Defect("d", DefectKind.STAIN, rectangle(200, 66, 210, 70), Where.BACK)
    found = fates(tiny_board(near), tiny_parts(), tiny_shop(), tiny_layout())[-1]
    assert found.showings
    assert all(each.only_near for each in found.showings if each.placement.copy == 1)
