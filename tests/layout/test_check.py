"""Each kind of violation is provoked once, by spoiling one thing in a good layout."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from layout import cuts
from layout.allowances import Sawing
from layout.checks import sawing
from layout.parts import Part
from layout.placement import Cut, CutKind, Layout, Offcut, Placement, Unplaced
from layout.stock import Price, PriceBasis
from tests.builders import tiny_board, tiny_layout, tiny_shop
from tests.layout.checked import bare, good, messages, moved


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


def test_each_face_is_as_small_as_its_own_error_makes_it() -> None:
    board, parts, shop, layout = good()
    unsure = replace(board, error_back=(0.0, 6.0))
    assert "picture error 0 mm along and 6 mm across" in messages((unsure, parts, shop, layout))[0]
    wider = tuple((x, y * 1.1 - 10) for x, y in board.back)  # its back reaches 10 mm beyond on either side
    said = messages((replace(unsure, back=wider), parts, shop, layout))
    assert not any("outside the sound outline" in one for one in said)


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
