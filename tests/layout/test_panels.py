from dataclasses import replace

import pytest

from layout.allowances import Shop
from layout.checks.glued import as_sawn
from layout.errors import LayoutError
from layout.glue import GlueKind
from layout.outline import rectangle
from layout.panels import glue_ups_of, least_staves, most_staves, rejoined_pieces, sawn_parts
from layout.parts import Part, PartSide, Rings, Staves, Visibility, Zone, ZoneRule
from layout.placement import Layout
from tests.builders import tiny_parts, tiny_shop

SHOP = tiny_shop()
TOP = Part(
    "top",
    520,
    400,
    20,
    sides={PartSide.NEAR_EDGE: Visibility.SHOW},
    zones=(
        Zone("dowels", rectangle(0, 0, 40, 400)),
        Zone("under the rail", rectangle(100, 90, 420, 120), ZoneRule.COVERED, PartSide.BACK),
    ),
    staves=Staves(least=70, most=120, joint=2, trim=6),
)
LEG = Part(
    "leg",
    560,
    45,
    42,
    quantity=2,
    layers=3,
    sides={PartSide.BACK: Visibility.SEEN_IN_USE},
    zones=(
        Zone("mortise", rectangle(0, 10, 60, 35), side=PartSide.FACE),
        Zone("hole", rectangle(300, 10, 330, 35)),
    ),
)


def staves_of(top: Part, *widths: float) -> tuple[Part, ...]:
    return sawn_parts([top], SHOP, glue_ups_of([top], SHOP, {top.name: widths}))


def test_how_many_staves_a_panel_takes() -> None:
    assert (least_staves(TOP), most_staves(TOP)) == (4, 5)
    narrow = replace(TOP, width=130, zones=())
    with pytest.raises(LayoutError, match="no number of staves of 70 to 120 mm adds up to 130 mm"):
        least_staves(narrow)


def test_staves_are_parts_with_glued_edges_concealed() -> None:
    first, second, third, last = staves_of(TOP, 90, 100, 110, 100)
    assert [part.name for part in (first, second, third, last)] == [f"top stave {n}" for n in (1, 2, 3, 4)]
    assert first.visibility(PartSide.NEAR_EDGE) is Visibility.SHOW
    assert first.visibility(PartSide.FAR_EDGE) is Visibility.CONCEALED
    assert last.visibility(PartSide.FAR_EDGE) is Visibility.SEEN_IN_USE
    assert {second.visibility(side) for side in (PartSide.NEAR_EDGE, PartSide.FAR_EDGE)} == {
        Visibility.CONCEALED
    }
    assert all(part.visibility(PartSide.FACE) is Visibility.SHOW for part in (first, second, third, last))
    # An inner stave loses a millimetre at each joint; an outer one is trimmed by half of 6.
    assert [part.width_allowance for part in (first, second, third, last)] == [6, 2, 2, 6]
    assert third.same_board_as == "top stave 1"


def test_zones_fall_to_the_staves_they_lie_on() -> None:
    first, second, third, _ = staves_of(TOP, 90, 100, 110, 100)
    assert [zone.name for zone in first.zones] == ["dowels"]
    assert {zone.name: zone.outline for zone in second.zones} == {
        "dowels": rectangle(0, 0, 40, 100),
        "under the rail": rectangle(100, 0, 420, 30),
    }
    assert [zone.outline for zone in third.zones] == [rectangle(0, 0, 40, 110)]


def test_a_shaped_panel_shapes_its_outer_staves() -> None:
    bowed = replace(TOP, zones=(), outline=((0, 40), (260, 0), (520, 40), (520, 400), (0, 400)))
    first, second, *_ = staves_of(bowed, 90, 100, 110, 100)
    assert first.outline is not None
    assert second.outline is None


def test_rings_alternate_lie_alike_or_as_they_come() -> None:
    def hearts(rings: Rings) -> list[bool | None]:
        assert TOP.staves is not None
        return [
            part.heart_up
            for part in staves_of(replace(TOP, staves=replace(TOP.staves, rings=rings)), *[100] * 4)
        ]

    assert hearts(Rings.ALTERNATE) == [True, False, True, False]
    assert hearts(Rings.ALIKE) == [True] * 4
    assert hearts(Rings.AS_IT_COMES) == [None] * 4


def test_copies_of_a_panel_have_names_of_their_own() -> None:
    pair = replace(TOP, quantity=2)
    ups = glue_ups_of([pair], SHOP, {"top": [100.0] * 4})
    assert [up.copy for up in ups] == [1, 2]
    assert [part.name for part in sawn_parts([pair], SHOP, ups)][::4] == ["top 1 stave 1", "top 2 stave 1"]
    assert ups[0].loss == 3 * 2 + 6


def test_layers_hide_their_glue_faces() -> None:
    ups = glue_ups_of([LEG], SHOP, {})
    first, middle, last = sawn_parts([LEG], SHOP, ups)
    assert [(up.copy, up.kind) for up in ups] == [(1, GlueKind.LAYERS), (2, GlueKind.LAYERS)]
    assert (first.name, first.thickness, first.quantity) == ("leg layer 1", 14, 2)
    seen = [
        (part.visibility(PartSide.FACE), part.visibility(PartSide.BACK)) for part in (first, middle, last)
    ]
    hidden = Visibility.CONCEALED
    assert seen == [(Visibility.SHOW, hidden), (hidden, hidden), (hidden, Visibility.SEEN_IN_USE)]
    assert [[zone.name for zone in part.zones] for part in (first, middle, last)] == [
        ["mortise", "hole"],
        ["hole"],
        ["hole"],
    ]
    assert middle.width_allowance == 4 + 3


def test_a_part_wider_than_the_planer_is_rejoined_and_says_what_is_lost() -> None:
    shelf = Part("shelf", 420, 640, 20)
    assert rejoined_pieces(shelf, SHOP) == 3
    (up,) = glue_ups_of([shelf], SHOP, {})
    assert (up.kind, up.loss) == (GlueKind.REJOINED, 9.0)
    assert "9 mm are lost" in up.cautions[0]
    (sawn,) = sawn_parts([shelf], SHOP, [up])
    assert sawn.width_allowance == 4 + 9
    assert sawn_parts([replace(shelf, width=300)], SHOP, []) == (replace(shelf, width=300),)


def test_layers_and_staves_exclude_each_other() -> None:
    with pytest.raises(ValueError, match="layers is 2; give 1 or more, and 1 for a panel"):
        replace(TOP, layers=2)
    with pytest.raises(ValueError, match="staves of 90 to 80 mm"):
        Staves(least=90, most=80)


@pytest.mark.parametrize("rings", list(Rings))
def test_the_verifier_works_out_the_same_parts_by_itself(rings: Rings) -> None:
    assert TOP.staves is not None
    bowed = replace(
        TOP,
        quantity=2,
        outline=((0, 40), (260, 0), (520, 40), (520, 400), (0, 400)),
        staves=replace(TOP.staves, rings=rings),
    )
    parts = (bowed, LEG, Part("shelf", 420, 640, 20), *tiny_parts())
    ups = glue_ups_of(parts, SHOP, {"top": (90, 100, 110, 100)})
    ours = sawn_parts(parts, SHOP, ups)
    theirs = as_sawn(parts, SHOP, Layout(glue_ups=ups))
    # Wishes for one board are no rule, so the verifier does not look at them.
    assert [replace(part, same_board_as=None) for part in ours] == [
        replace(part, same_board_as=None) for part in theirs
    ]


def test_nothing_glued_changes_nothing() -> None:
    assert glue_ups_of(tiny_parts(), Shop(), {}) == ()
    assert sawn_parts(tiny_parts(), Shop(), ()) == tiny_parts()
