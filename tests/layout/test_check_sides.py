"""What each side of a part may show: each rule broken once, by spoiling one thing in a good layout."""

from dataclasses import replace

from layout.outline import Outline, rectangle
from layout.parts import Part, PartSide, Visibility, Zone, ZoneRule
from layout.placement import Layout
from layout.stock import Defect, DefectKind, Face, Where, Wish
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from tests.layout.checked import good, messages, moved

# --- what each side shows ---------------------------------------------------------


def knot(
    outline: Outline, where: Where = Where.THROUGH, depth: float | None = None, **rest: object
) -> Defect:
    return Defect("k2", DefectKind.SOUND_KNOT, outline, where, depth, **rest)  # type: ignore[arg-type]


IN_RAIL_1 = rectangle(200, 25, 220, 45)  # well inside: the finished rail 1 is 25..445 x 5..65


def with_defect(
    defect: Defect, parts: tuple[Part, ...] | None = None, layout: Layout | None = None
) -> list[str]:
    return messages((tiny_board(defect), parts or tiny_parts(), tiny_shop(), layout or tiny_layout()))


def test_a_through_knot_on_a_show_face() -> None:
    assert with_defect(knot(IN_RAIL_1)) == [
        "rail 1 on board 1: the sound knot k2 at 210 mm shows on its face (show), where 'clear' takes none."
    ]


def test_a_knot_of_the_back_is_hidden_and_turning_the_part_brings_it_up() -> None:
    back = knot(IN_RAIL_1, Where.BACK)
    assert with_defect(back) == []
    assert "shows on its face" in with_defect(back, layout=moved(0, face_from=Face.BACK))[0]


def test_a_shallow_defect_is_planed_away_on_the_face_that_loses_more() -> None:
    stain = Defect("s1", DefectKind.STAIN, IN_RAIL_1, Where.FRONT, 2.4)
    assert with_defect(stain) == []  # 2.5 mm come off the front
    assert "stain s1" in with_defect(stain, layout=moved(0, from_front=2.0))[0]


def test_a_deep_defect_comes_out_at_the_other_face() -> None:
    turned = moved(0, face_from=Face.BACK)  # its back lies to the board's front
    assert with_defect(knot(IN_RAIL_1, Where.FRONT, 24.0), layout=turned) == []
    assert "shows on its face" in with_defect(knot(IN_RAIL_1, Where.FRONT, 24.5), layout=turned)[0]


def test_a_hidden_face_has_its_limit_too() -> None:
    big = Defect("d1", DefectKind.DEAD_KNOT, rectangle(200, 20, 240, 52), Where.BACK)
    found = with_defect(big)
    assert (
        "is 32 mm across and shows on its back (concealed), where 'out of sight' takes 30 mm at most"
        in found[0]
    )


def test_the_margin_counts() -> None:
    near = knot(rectangle(200, -5, 220, 2.5), Where.THROUGH)  # finished rail 1 begins at y = 5
    assert with_defect(near) == []
    nearer = knot(rectangle(200, -5, 220, 3.5), Where.THROUGH)
    assert any("shows on its face" in text for text in with_defect(nearer))


def test_disturbed_grain_round_a_knot_counts() -> None:
    board, parts, shop, layout = good()
    wide = replace(shop, allowances=replace(shop.allowances, knot_along=1.0))
    assert any("dead knot k1" in text for text in messages((board, parts, wide, layout)))


def test_a_defect_across_an_edge_and_an_end() -> None:
    hidden = {PartSide.FACE: Visibility.CONCEALED}
    parts = (replace(tiny_parts()[0], sides=hidden), tiny_parts()[1])
    edge = knot(rectangle(200, 52, 220, 69))
    assert with_defect(edge, parts) == [
        "rail 1 on board 1: the sound knot k2 at 210 mm is 17 mm across and shows on its far edge"
        " (seen in use), where 'small features' takes 10 mm at most."
    ]
    end = knot(rectangle(10, 30, 40, 45))
    assert "its near end" in with_defect(end, parts)[0]


def test_end_for_end_swaps_the_edges() -> None:
    sides = {PartSide.FACE: Visibility.CONCEALED, PartSide.FAR_EDGE: Visibility.CONCEALED}
    parts = (replace(tiny_parts()[0], sides=sides), tiny_parts()[1])
    edge = knot(rectangle(200, 52, 220, 69))
    assert with_defect(edge, parts) == []
    assert "its near edge" in with_defect(edge, parts, moved(0, end_for_end=True))[0]


def test_the_slanting_side_of_a_shaped_part_is_an_edge() -> None:
    tapered = ((0.0, 0.0), (420.0, 0.0), (420.0, 60.0), (0.0, 20.0))
    sides = {PartSide.FACE: Visibility.CONCEALED}
    parts = (replace(tiny_parts()[0], outline=tapered, sides=sides), tiny_parts()[1])
    assert "its far edge" in with_defect(knot(rectangle(200, 35, 260, 55)), parts)[0]
    assert with_defect(knot(rectangle(60, 45, 80, 60)), parts) == []  # in the wood the taper takes off


def test_a_sound_zone_takes_nothing_even_inside_the_wood() -> None:
    tenon = Zone("tenon", rectangle(0, 0, 60, 60))
    parts = (replace(tiny_parts()[0], zones=(tenon,)), tiny_parts()[1])
    hidden = knot(rectangle(40, 30, 60, 50), Where.BACK, wish=Wish.TOLERATE)
    assert "reaches into the tenon, which must be sound" in with_defect(hidden, parts)[0]
    face_only = (replace(tiny_parts()[0], zones=(replace(tenon, side=PartSide.FACE),)), tiny_parts()[1])
    assert with_defect(hidden, face_only) == []


def test_a_covered_zone_is_judged_as_concealed() -> None:
    covered = Zone("under the top", rectangle(150, 0, 250, 60), ZoneRule.COVERED, PartSide.FACE)
    parts = (replace(tiny_parts()[0], zones=(covered,)), tiny_parts()[1])
    assert with_defect(knot(IN_RAIL_1), parts) == []
    assert "its face (show)" in with_defect(knot(rectangle(240, 25, 290, 45)), parts)[0]
    pith = Defect("p", DefectKind.PITH, IN_RAIL_1, Where.FRONT)
    assert "covered place of its face (concealed)" in with_defect(pith, parts)[0]


def test_what_the_maker_wants_of_a_defect() -> None:
    assert with_defect(knot(IN_RAIL_1, wish=Wish.SHOW)) == []
    kept_off = knot(IN_RAIL_1, Where.BACK, 8.0, wish=Wish.KEEP_OFF)
    assert "the maker wants it in no part" in with_defect(kept_off)[0]
    gone = knot(IN_RAIL_1, Where.BACK, 2.0, wish=Wish.KEEP_OFF)
    assert with_defect(gone) == []
