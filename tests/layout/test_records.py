import json
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.allowances import Allowances, Sawing, Shop
from layout.errors import LayoutError
from layout.glue import Donor, GlueKind, GlueUp, Repair, RepairKind, Stave
from layout.outline import rectangle
from layout.parts import Part, PartSide, Staves, Visibility, Zone, ZoneRule
from layout.placement import Bound, Cut, CutKind, Layout, Offcut, Placement, Unplaced
from layout.records import Plan, from_record, record
from layout.stock import Board, Defect, DefectKind, Face, Price, PriceBasis, Turn, Where, Wish
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop

size = st.floats(0.5, 5000, allow_nan=False)
number = st.floats(-5000, 5000, allow_nan=False)
name = st.text(min_size=1, max_size=8)


@st.composite
def outlines(draw: Any) -> Any:
    x, y = draw(number), draw(number)
    return rectangle(x, y, x + draw(size), y + draw(size))


@st.composite
def defects(draw: Any) -> Defect:
    where = draw(st.sampled_from(Where))
    depth = None if where is Where.THROUGH else draw(st.none() | size)
    return Defect(
        draw(name),
        draw(st.sampled_from(DefectKind)),
        draw(outlines()),
        where,
        depth,
        draw(st.sampled_from(Wish)),
    )


@st.composite
def boards(draw: Any) -> Board:
    return Board(
        id=draw(name),
        front=draw(outlines()),
        back=draw(outlines()),
        thickness=draw(size),
        species=draw(name),
        defects=tuple({item.id: item for item in draw(st.lists(defects(), max_size=3))}.values()),
        turned=draw(st.sampled_from(Turn)),
        moisture=draw(st.none() | st.floats(1, 30)),
        price=Price(draw(st.floats(0, 1e4)), draw(st.sampled_from(PriceBasis))),
        owned=draw(st.booleans()),
        forbidden=draw(st.booleans()),
        error=draw(st.floats(0, 5)),
        grain=draw(st.floats(-45, 45)),
    )


@st.composite
def parts(draw: Any) -> Part:
    length, width = draw(st.floats(10, 3000)), draw(st.floats(10, 300))
    zone = Zone(
        draw(name), rectangle(0, 0, length / 2, width), draw(st.sampled_from(ZoneRule)), PartSide.FACE
    )
    return Part(
        name=draw(name),
        length=length,
        width=width,
        thickness=draw(size),
        quantity=draw(st.integers(1, 9)),
        sides=draw(st.dictionaries(st.sampled_from(PartSide), st.sampled_from(Visibility))),
        outline=draw(st.none() | st.just(((0.0, 0.0), (length, 0.0), (length, width)))),
        zones=draw(st.lists(st.just(zone), max_size=2)),
        length_allowance=draw(st.none() | size),
        max_slope=draw(st.none() | st.floats(0, 1)),
        same_board_as=draw(st.none() | name),
        turn_end_for_end=draw(st.booleans()),
        staves=draw(st.none() | st.just(Staves())),
        heart_up=draw(st.none() | st.booleans()),
        tolerates=draw(st.dictionaries(st.sampled_from(Visibility), st.sampled_from(["clear", "J10"]))),
    )


@st.composite
def layouts(draw: Any) -> Layout:
    placement = st.builds(
        Placement, name, st.integers(1, 9), name, number, number, st.sampled_from(Face), st.booleans(), number
    )
    cut = st.builds(
        Cut, name, st.integers(1, 9), st.sampled_from(CutKind), number, number, number, st.integers(1, 3)
    )
    donor = st.builds(
        Donor,
        name,
        st.just(1.0),
        st.just(2.0),
        size.map(lambda x: x + 1),
        size.map(lambda x: x + 2),
        st.sampled_from(Face),
        size,
    )
    repair = st.builds(
        Repair,
        st.sampled_from([kind for kind in RepairKind if kind is not RepairKind.FILLER]),
        name,
        st.integers(1, 9),
        st.sampled_from(PartSide),
        st.lists(name, max_size=2).map(tuple),
        outlines(),
        size,
        donor=donor,
        cautions=st.lists(name, max_size=2).map(tuple),
    )
    stave = st.builds(Stave, name, st.integers(1, 9), size)
    glue_up = st.builds(
        GlueUp,
        name,
        st.integers(1, 9),
        st.sampled_from(GlueKind),
        st.lists(stave, max_size=3).map(tuple),
        size,
    )
    bound = st.builds(Bound, number, st.sampled_from(Sawing), st.booleans(), name)
    return Layout(
        placements=tuple(draw(st.lists(placement, max_size=3))),
        cuts=tuple(draw(st.lists(cut, max_size=3))),
        offcuts=tuple(draw(st.lists(st.builds(Offcut, name, number, number, number, number), max_size=2))),
        unplaced=tuple(draw(st.lists(st.builds(Unplaced, name, st.integers(1, 9), name), max_size=2))),
        cost=draw(number),
        sawing=draw(st.sampled_from(Sawing)),
        bound=draw(st.none() | bound),
        seed=draw(st.integers(0, 2**31)),
        repairs=tuple(draw(st.lists(repair, max_size=2))),
        glue_ups=tuple(draw(st.lists(glue_up, max_size=2))),
    )


@settings(max_examples=60, deadline=None)
@given(boards(), parts(), layouts(), st.floats(0, 20))
def test_everything_comes_back_through_json_as_it_was(
    board: Board, part: Part, layout: Layout, kerf: float
) -> None:
    shop = Shop(sawing=Sawing.RIP_FIRST, stages=2, allowances=Allowances(kerf=kerf))
    plan = Plan((board,), (part,), shop, layout)
    assert from_record(Plan, json.loads(json.dumps(record(plan)))) == plan


def test_a_record_is_plain_and_whole() -> None:
    plain = record(tiny_board())
    assert plain["defects"][0]["kind"] == "dead knot"
    assert plain["price"] == {"amount": 40.0, "basis": "board"}
    assert plain["moisture"] is None
    assert record(tiny_parts())[1]["name"] == "slat"


def test_a_field_left_out_takes_its_default() -> None:
    part = from_record(Part, {"name": "rail", "length": 420, "width": 60, "thickness": 22})
    assert part == replace(tiny_parts()[0], quantity=1)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"colour": "brown"}, "part: 'colour' is not known"),
        ({"length": "long"}, "part.length is 'long'; give a number"),
        ({"length": True}, "part.length is True; give a number"),
        ({"quantity": 1.5}, "part.quantity is 1.5; give a whole number"),
        ({"turn_end_for_end": 1}, "part.turn_end_for_end is 1; give true or false"),
        ({"name": 7}, "part.name is 7; give text"),
        ({"sides": {"face": "shown"}}, "part.sides.face is 'shown'; give one of 'show', "),
        ({"sides": ["face"]}, "part.sides is ['face']; give an object"),
        ({"outline": [[0, 0], [1]]}, "part.outline[1] is [1]; give a list of 2"),
        ({"zones": {}}, "part.zones is {}; give a list"),
        ({"width": -4}, "part: part rail: width is -4.0; give a number above 0"),
    ],
)
def test_a_wrong_field_is_named(change: dict[str, object], message: str) -> None:
    with pytest.raises(LayoutError) as raised:
        from_record(Part, record(tiny_parts()[0]) | change)
    assert message in str(raised.value)


def test_a_missing_field_is_named() -> None:
    plain = record(tiny_parts()[0])
    del plain["thickness"]
    with pytest.raises(LayoutError, match="part: thickness is missing"):
        from_record(Part, plain)
    with pytest.raises(LayoutError, match="part is 'rail'; give an object"):
        from_record(Part, "rail")


def test_a_later_version_is_refused() -> None:
    plan = record(Plan((tiny_board(),), tiny_parts(), tiny_shop(), tiny_layout()))
    with pytest.raises(LayoutError, match="version is 2; this program reads version 1"):
        from_record(Plan, plan | {"version": 2})


def test_what_is_no_noun_has_no_record() -> None:
    with pytest.raises(TypeError, match="object is no noun"):
        record(object())
