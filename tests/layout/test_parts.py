from dataclasses import replace

import pytest

from layout.outline import rectangle
from layout.parts import Part, PartSide, Visibility, Zone
from tests.builders import tiny_parts

RAIL = tiny_parts()[0]


def test_what_is_seen_where_nothing_was_said() -> None:
    seen = {side: RAIL.visibility(side) for side in PartSide}
    assert seen.pop(PartSide.FACE) is Visibility.SHOW
    assert seen.pop(PartSide.BACK) is Visibility.CONCEALED
    assert set(seen.values()) == {Visibility.SEEN_IN_USE}
    back_seen = replace(RAIL, sides={PartSide.BACK: Visibility.SHOW})
    assert back_seen.visibility(PartSide.BACK) is Visibility.SHOW


def test_a_part_is_a_rectangle_unless_shaped() -> None:
    assert RAIL.shape == rectangle(0, 0, 420, 60)
    triangle = ((0.0, 0.0), (420.0, 0.0), (420.0, 60.0))
    assert replace(RAIL, outline=tuple(reversed(triangle))).shape == triangle


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"name": ""}, "the name is missing"),
        ({"length": 0}, "part rail: length is 0"),
        ({"width": float("inf")}, "part rail: width is inf"),
        ({"quantity": 0}, "quantity is 0; give 1 or more"),
        ({"length_allowance": -1}, "length_allowance is -1"),
        ({"outline": rectangle(0, 0, 421, 60)}, "outline reaches outside its 420 x 60 mm"),
        ({"zones": (Zone("tenon", rectangle(-5, 0, 40, 60)),)}, "zone tenon reaches outside"),
    ],
)
def test_a_part_that_cannot_be(change: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        replace(RAIL, **change)  # type: ignore[arg-type]


def test_a_zone_is_on_a_face_or_right_through() -> None:
    assert Zone("tenon", rectangle(0, 0, 40, 60)).side is None
    with pytest.raises(ValueError, match="give face, back or neither"):
        Zone("tenon", rectangle(0, 0, 40, 60), side=PartSide.NEAR_END)


def test_sides_are_the_six_of_a_part() -> None:
    assert len(set(PartSide)) == 6
    assert Part("leg", 700, 45, 45).quantity == 1
