"""Each kind of violation is provoked once, by spoiling one thing in a good layout."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from layout import cuts
from layout.allowances import Sawing, Shop
from layout.check import violations
from layout.checks import sawing
from layout.outline import Outline, rectangle
from layout.parts import Part, PartSide, Visibility, Zone, ZoneRule
from layout.placement import Cut, CutKind, Layout, Offcut, Placement, Unplaced
from layout.stock import Board, Defect, DefectKind, Face, Price, PriceBasis, Where, Wish
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop

Job = tuple[Board, tuple[Part, ...], Shop, Layout]


def good() -> Job:
    return tiny_board(), tiny_parts(), tiny_shop(), tiny_layout()


def messages(job: Job, locked: tuple[Placement, ...] = ()) -> list[str]:
    board, parts, shop, layout = job
    return [found.message for found in violations([board], parts, shop, layout, locked=locked)]


def moved(number: int, **change: object) -> Layout:
    """The tiny layout with one placement changed and no cuts or offcuts listed."""
    places = list(tiny_layout().placements)
    places[number] = replace(places[number], **change)  # type: ignore[arg-type]
    return replace(tiny_layout(), placements=tuple(places), cuts=(), offcuts=())


def bare() -> Layout:
    return replace(tiny_layout(), cuts=(), offcuts=())


def test_the_layout_made_by_hand_is_good() -> None:
    assert messages(good()) == []


# --- wood that is there --------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"x": 19.0}, "lies 1 mm outside the sound outline near 19 mm"),  # into the end trim
        ({"y": 2.0}, "lies 1 mm outside the sound outline"),  # into the edge trim
        ({"x": 560.0}, "lies 10 mm outside the sound outline near 980 mm"),  # past the far end trim
    ],
)
def test_a_piece_in_the_trim_is_outside(change: dict[str, float], where: str) -> None:
    board, parts, shop, _ = good()
    assert where in messages((board, parts, shop, moved(0, **change)))[0]


def test_the_error_of_the_picture_makes_the_board_smaller() -> None:
    board, parts, shop, layout = good()
    assert "picture error 1.5 mm" in messages((replace(board, error=1.5), parts, shop, layout))[0]


def test_wane_on_the_back_alone_counts() -> None:
    board, parts, shop, layout = good()
    waney = replace(board, back=((0, 12), (1000, 0), (1000, 210), (0, 210)))
    assert "rail 1 on board 1: lies" in messages((waney, parts, shop, layout))[0]


def test_two_pieces_overlap() -> None:
    board, parts, shop, _ = good()
    assert "rail 1 and rail 2 on board 1 overlap by 430 mm along and 4 mm across" in " ".join(
        messages((board, parts, shop, moved(1, y=63.0)))
    )


def test_too_little_room_for_the_saw() -> None:
    board, parts, shop, _ = good()
    assert "leave only 2 mm for a saw cut of 3 mm" in " ".join(
        messages((board, parts, shop, moved(1, y=69.0)))
    )


def test_a_board_too_thin_for_the_part() -> None:
    board, parts, shop, layout = good()
    thin = replace(board, thickness=24.0)
    assert messages((thin, parts, shop, layout))[0] == (
        "rail 1 on board 1: needs 25 mm to plane down to 22 mm, but the board is 24 mm thick."
    )


@pytest.mark.parametrize(("front", "face"), [(1.0, "front"), (4.5, "back")])
def test_too_little_planed_off_a_face(front: float, face: str) -> None:
    board, parts, shop, _ = good()
    found = messages((board, parts, shop, moved(0, from_front=front)))
    assert len(found) == 1
    assert f"is planed off the {face} face, but the least is 1.5 mm" in found[0]


def test_grain_and_tilt_add_up() -> None:
    board, parts, shop, layout = good()
    assert "the grain runs out at 1 in 11" in messages((replace(board, grain=5.0), parts, shop, layout))[0]
    tilted = moved(0, tilt=4.0, x=300.0, y=40.0)
    band_saw = replace(shop, sawing=Sawing.BAND_SAW)
    alone = replace(tilted, placements=tilted.placements[:1], sawing=Sawing.BAND_SAW)
    clean = replace(board, defects=())
    rail = (replace(parts[0], quantity=1),)
    assert "1 in 14" in messages((clean, rail, band_saw, alone))[0]
    along = replace(clean, grain=4.0)
    assert messages((along, rail, band_saw, alone)) == []


def test_a_part_that_must_not_lie_the_other_way_round() -> None:
    board, parts, shop, _ = good()
    one_way = (replace(parts[0], turn_end_for_end=False), parts[1])
    assert "may not be turned" in messages((board, one_way, shop, moved(0, end_for_end=True)))[0]


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


# --- saws -------------------------------------------------------------------------


def pinwheel() -> tuple[tuple[Part, ...], Layout]:
    """Four pieces round a hole: no straight cut goes through."""
    parts = (Part("long", 290, 56, 22, quantity=2), Part("short", 93, 116, 22, quantity=2))
    places = (
        Placement("long", 1, "1", 20, 3, from_front=2.5),
        Placement("short", 1, "1", 323, 3, from_front=2.5),
        Placement("long", 2, "1", 126, 126, from_front=2.5),
        Placement("short", 2, "1", 20, 66, from_front=2.5),
    )
    return parts, Layout(placements=places, cost=40.0)


def test_no_straight_cut_frees_a_pinwheel_but_a_band_saw_does() -> None:
    parts, layout = pinwheel()
    clean = replace(tiny_board(), defects=())
    found = messages((clean, parts, tiny_shop(), layout))
    assert len(found) == 1
    assert "cannot be sawn apart crosscut first in 3 stages" in found[0]
    shop = replace(tiny_shop(), sawing=Sawing.BAND_SAW)
    assert messages((clean, parts, shop, replace(layout, sawing=Sawing.BAND_SAW))) == []


def test_the_class_is_said_in_the_same_words_as_the_engine_says_it() -> None:
    begin, end = 'The class of layouts "crosscut first', "can be sawn."
    said = [
        str(text)[str(text).index(begin) : str(text).index(end)] for text in (cuts.__doc__, sawing.__doc__)
    ]
    assert said[0] == said[1]


def two_stubs() -> tuple[tuple[Part, ...], Layout]:
    """Two short pieces end to end over a long one: crosscut, rip, crosscut."""
    parts = (Part("stub", 140, 56, 22, quantity=2), Part("long", 320, 56, 22), Part("rest", 340, 126, 22))
    places = (
        Placement("stub", 1, "1", 20, 3, from_front=2.5),
        Placement("stub", 2, "1", 180, 3, from_front=2.5),
        Placement("long", 1, "1", 20, 66, from_front=2.5),
        Placement("rest", 1, "1", 600, 3, from_front=2.5),
    )
    return parts, Layout(placements=places, cost=40.0)


def test_stages_are_counted() -> None:
    parts, layout = two_stubs()
    job = (replace(tiny_board(), defects=()), parts, tiny_shop(), layout)
    assert messages(job) == []
    two = replace(tiny_shop(), stages=2)
    assert "stub 1, stub 2 cannot be sawn apart" in messages((job[0], parts, two, layout))[0]


def test_rip_first_begins_along_the_grain() -> None:
    parts = (Part("wide", 340, 186, 22), Part("narrow", 340, 86, 22, quantity=2))
    places = (
        Placement("wide", 1, "1", 20, 3, from_front=2.5),
        Placement("narrow", 1, "1", 600, 3, from_front=2.5),
        Placement("narrow", 2, "1", 600, 100, from_front=2.5),
    )
    clean = replace(tiny_board(), defects=())
    layout = Layout(placements=places, cost=40.0)
    two = replace(tiny_shop(), stages=2)
    assert messages((clean, parts, two, layout)) == []
    rip_first = replace(two, sawing=Sawing.RIP_FIRST)
    found = messages((clean, parts, rip_first, replace(layout, sawing=Sawing.RIP_FIRST)))
    assert "narrow 1, narrow 2 cannot be sawn apart rip first in 2 stages" in found[0]


def with_cuts(change: Callable[[list[Cut]], None]) -> list[str]:
    listed = list(tiny_layout().cuts)
    change(listed)
    return messages((*good()[:3], replace(tiny_layout(), cuts=tuple(listed))))


def test_a_cut_through_a_part() -> None:
    found = with_cuts(lambda cuts: cuts.__setitem__(3, replace(cuts[3], at=60.0)))
    assert "cut 4 of board 1 (rip at 60 mm) goes through rail 1." in found


def test_a_cut_that_stops_in_the_wood() -> None:
    found = with_cuts(lambda cuts: cuts.__setitem__(3, replace(cuts[3], end=400.0)))
    assert "runs right across no piece that is left then" in found[0]


def test_a_cut_left_out() -> None:
    found = with_cuts(lambda cuts: cuts.pop(3))
    assert "board 1: the cuts listed leave rail 1, rail 2 in one piece." in found


def test_a_part_left_too_long() -> None:
    found = with_cuts(lambda cuts: cuts.pop())
    assert found == ["board 1: the cuts listed leave slat 1 430 mm x 64 mm, to be sawn 410 mm x 64 mm."]


def test_a_wrong_stage() -> None:
    found = with_cuts(lambda cuts: cuts.__setitem__(3, replace(cuts[3], stage=1)))
    assert found == ["cut 4 of board 1 (rip at 67 mm) is called stage 1, but is stage 2."]


def test_one_stage_too_many() -> None:
    board, parts, shop, layout = good()
    two = replace(shop, stages=2)
    assert messages((board, parts, two, layout)) == []  # the last cut only trims the slat
    parts, layout = two_stubs()
    listed = (
        Cut("1", 1, CutKind.CROSSCUT, 350, 0, 210, 1),
        Cut("1", 2, CutKind.RIP, 63, 0, 350, 2),
        Cut("1", 3, CutKind.CROSSCUT, 170, 0, 63, 3),
    )
    clean = replace(board, defects=())
    assert "cut 3 of board 1 (crosscut at 170 mm) is stage 3, but the shop saws in 2 at most." in messages(
        (clean, parts, two, replace(layout, cuts=listed))
    )


# --- books ------------------------------------------------------------------------


def test_copies_are_counted() -> None:
    board, parts, shop, layout = good()
    fewer = replace(bare(), placements=layout.placements[1:])
    assert "rail 1 is neither placed nor listed as not placed." in messages((board, parts, shop, fewer))
    told = replace(fewer, unplaced=(Unplaced("rail", 1, "no clear place is long enough"),))
    assert messages((board, parts, shop, told)) == []
    mute = replace(fewer, unplaced=(Unplaced("rail", 1, " "),))
    assert "no reason is given" in messages((board, parts, shop, mute))[0]
    twice = replace(layout, unplaced=(Unplaced("rail", 1, "no place"),))
    assert "rail 1 is in the layout 2 times." in messages((board, parts, shop, twice))
    third = moved(1, copy=3)
    found = messages((board, parts, shop, third))
    assert "rail 3 is in the layout, but only 2 are wanted." in found


def test_parts_and_boards_nobody_knows() -> None:
    board, parts, shop, layout = good()
    assert "the cutting list has no such part" in " ".join(
        messages((board, parts, shop, moved(0, part="rial")))
    )
    assert "there is no such board" in " ".join(messages((board, parts, shop, moved(0, board="9"))))
    ghost = replace(layout, unplaced=(Unplaced("rial", 1, "no place"),))
    assert "the cutting list has no such part" in messages((board, parts, shop, ghost))[0]
    elsewhere = replace(layout, offcuts=(*layout.offcuts, Offcut("9", 0, 0, 400, 100)))
    assert messages((board, parts, shop, elsewhere)) == [
        "an offcut is listed on board 9, but there is no such board."
    ]


def test_a_board_not_to_be_cut() -> None:
    board, parts, shop, layout = good()
    assert "which is not to be cut" in messages((replace(board, forbidden=True), parts, shop, layout))[0]


def test_locks_are_kept() -> None:
    fixed = replace(tiny_layout().placements[0], locked=True)
    assert messages(good(), (fixed,)) == []
    assert messages(good(), (replace(fixed, y=40.0),)) == [
        "rail 1 is locked on board 1 and must stay where it is."
    ]
    assert "sawn already" in messages(good(), (replace(fixed, cut=True),))[0]


@pytest.mark.parametrize(
    ("offcut", "what"),
    [
        (Offcut("1", 440, 0, 1000, 210), "takes wood of rail 1"),
        (Offcut("1", 453, 0, 1010, 210), "reaches past the edge of the board"),
        (Offcut("1", 700, 0, 990, 210), "less than the 300 mm x 40 mm worth keeping"),
        (Offcut("1", 600, 100, 1000, 210), "overlaps the offcut"),
    ],
)
def test_offcuts_are_real(offcut: Offcut, what: str) -> None:
    board, parts, shop, layout = good()
    more = (offcut,) if "takes" in what or "edge" in what else (*layout.offcuts, offcut)
    assert what in " ".join(messages((board, parts, shop, replace(layout, offcuts=more))))


def test_the_money_is_added_up_again() -> None:
    board, parts, shop, layout = good()
    assert messages((board, parts, shop, replace(layout, cost=39.0))) == [
        "the cost is given as 39.00, but the boards come to 40.00."
    ]
    assert messages((replace(board, owned=True), parts, shop, replace(layout, cost=0.0))) == []
    by_volume = replace(board, price=Price(4000.0, PriceBasis.CUBIC_METRE))
    assert messages((by_volume, parts, shop, replace(layout, cost=22.68))) == []  # 0.00567 m3
