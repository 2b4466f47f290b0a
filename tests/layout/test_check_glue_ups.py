"""Each thing that can be wrong with a glue-up is provoked once, by spoiling a good one."""

from dataclasses import replace

import pytest

from layout.allowances import Shop
from layout.check import violations
from layout.glue import GlueKind, GlueUp, Stave
from layout.parts import Part, Staves
from layout.placement import Layout, Placement
from layout.stock import Board, Face, Price
from tests.builders import tiny_shop

SHOP = tiny_shop()
SHELF = Part("shelf", 420, 200, 22, staves=Staves(least=60, most=120, joint=2, trim=6))
LEG = Part("leg", 420, 60, 42, layers=2)
WIDE = Part("side", 420, 320, 22)
PANEL = GlueUp(
    "shelf",
    1,
    GlueKind.PANEL,
    (Stave("shelf stave 1", 1, 100), Stave("shelf stave 2", 1, 100)),
    loss=8,
)
LAYERS = GlueUp("leg", 1, GlueKind.LAYERS, (Stave("leg layer 1", 1, 21), Stave("leg layer 2", 1, 21)), loss=3)
REJOINED = GlueUp("side", 1, GlueKind.REJOINED, (Stave("side", 1, 160), Stave("side", 1, 160)), loss=4.5)


def board(**rest: object) -> Board:
    return Board.square_edged("1", 2000, 400, 27, price=Price(40.0), **rest)


def laid(*names: str, widths: tuple[float, ...]) -> tuple[Placement, ...]:
    """Pieces side by side, a kerf apart."""
    found, y = [], 3.0
    for name, width in zip(names, widths, strict=True):
        found.append(Placement(name, 1, "1", 20, y, from_front=2.5))
        y += width + 3
    return tuple(found)


def messages(part: Part, layout: Layout, wood: Board | None = None, shop: Shop = SHOP) -> list[str]:
    return [found.message for found in violations([wood or board()], [part], shop, layout)]


def panel(up: GlueUp = PANEL) -> Layout:
    names = [stave.part for stave in up.staves]
    return Layout(placements=laid(*names, widths=(106,) * len(names)), glue_ups=(up,), cost=40)


def test_good_glue_ups() -> None:
    assert messages(SHELF, panel()) == []
    legs = Layout(placements=laid("leg layer 1", "leg layer 2", widths=(67, 67)), glue_ups=(LAYERS,), cost=40)
    assert messages(LEG, legs) == []
    side = Layout(placements=laid("side", widths=(328.5,)), glue_ups=(REJOINED,), cost=40)
    assert messages(WIDE, side) == []


@pytest.mark.parametrize(
    ("up", "message"),
    [
        (
            replace(PANEL, staves=(Stave("shelf stave 1", 1, 100), Stave("shelf stave 2", 1, 98))),
            "shelf 1: is 200 mm, but its pieces add up to 198 mm.",
        ),
        (
            replace(PANEL, staves=(Stave("shelf stave 1", 1, 130), Stave("shelf stave 2", 1, 70))),
            "shelf 1: stave 1 is 130 mm wide; 60 mm to 120 mm was asked for.",
        ),
        (replace(PANEL, loss=2), "shelf 1: states a loss of 2 mm, but joints and trimming take 8 mm."),
        (replace(PANEL, kind=GlueKind.LAYERS), "shelf 1: is not to be made as layers."),
        (
            replace(PANEL, staves=(Stave("shelf stave 1", 1, 100), Stave("shelf stave 1", 1, 100))),
            "shelf stave 1: is the name of two pieces; each stave needs a name of its own.",
        ),
        (replace(PANEL, part="shelve"), "shelve 1: is glued up, but the cutting list has no such part."),
        (replace(PANEL, copy=2), "shelf 1: has 0 glue-ups stated, not 1."),
    ],
)
def test_spoilt_panels(up: GlueUp, message: str) -> None:
    assert message in messages(SHELF, panel(up))


def test_layers_and_rejoined_parts_are_judged_too() -> None:
    uneven = replace(LAYERS, staves=(Stave("leg layer 1", 1, 30), Stave("leg layer 2", 1, 12)))
    found = messages(LEG, Layout(glue_ups=(uneven,)))
    assert "leg 1: has 2 layers of 12 mm to 30 mm; 2 alike were asked for." in found
    whole = replace(REJOINED, staves=(Stave("side", 1, 320),))
    assert "side 1: is ripped into 1; the planer of 310 mm needs 2." in messages(
        WIDE, Layout(glue_ups=(whole,))
    )
    assert "side 1: has 0 glue-ups stated, not 1." in messages(WIDE, Layout())
    assert "rail 1: has 1 glue-ups stated, not 0." in messages(
        Part("rail", 420, 60, 22), Layout(glue_ups=(replace(LAYERS, part="rail"),))
    )


def test_a_stave_not_placed_must_be_listed() -> None:
    short = replace(panel(), placements=panel().placements[:1])
    assert "shelf stave 2 1 is neither placed nor listed as not placed." in messages(SHELF, short)


def test_a_stave_is_sawn_wide_enough_for_its_joints() -> None:
    tight = Layout(
        placements=laid("shelf stave 1", "shelf stave 2", widths=(104, 104)), glue_ups=(PANEL,), cost=40
    )
    assert any("leave only 1 mm for a saw cut of 3 mm" in text for text in messages(SHELF, tight))


def test_the_rings_alternate_where_the_heart_is_known() -> None:
    found = messages(SHELF, panel(), board(heart=Face.FRONT))
    assert found == ["shelf stave 2 1 on board 1: the heart side of the board must lie down in it."]
    turned = replace(panel().placements[1], face_from=Face.BACK)
    right = replace(panel(), placements=(panel().placements[0], turned))
    assert messages(SHELF, right, board(heart=Face.FRONT)) == []
