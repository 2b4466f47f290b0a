"""Glue-ups in the plan: widths chosen, staves placed with everything else, ordered, and always proved."""

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.allowances import RepairRules
from layout.check import violations
from layout.errors import LayoutError
from layout.glue import GlueKind
from layout.outline import rectangle
from layout.panels import sawn_parts
from layout.parts import Part, Rings, Staves
from layout.placement import Layout
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.stock import Board, Defect, DefectKind, Face, Price, Where
from tests.builders import tiny_board, tiny_parts, tiny_shop

SHOP = tiny_shop()
FEW = SolveParams(iterations=30, prove=False)
SHELF = Part("shelf", 450, 280, 22, staves=Staves(least=60, most=110))


def board(id: str, price: float, length: float, width: float, *faults: Defect, **rest: object) -> Board:
    return Board.square_edged(id, length, width, 27, defects=faults, price=Price(price), **rest)


def proved(boards: list[Board], parts: list[Part], layout: Layout) -> None:
    assert [found.message for found in violations(boards, parts, SHOP, layout)] == []


def test_a_panel_and_its_neighbours_on_the_list() -> None:
    boards = [board("1", 40.0, 2200, 200), board("2", 60.0, 2200, 220)]
    parts = [SHELF, *tiny_parts()]
    layout = plan(boards, parts, SHOP, FEW)
    proved(boards, parts, layout)
    (up,) = layout.glue_ups
    assert up.kind is GlueKind.PANEL
    assert sum(stave.size for stave in up.staves) == pytest.approx(280)
    assert all(60 <= stave.size <= 110 for stave in up.staves)
    assert layout.unplaced == ()
    assert layout.boards_used == ("1",)


def test_widths_are_chosen_to_fit_the_board() -> None:
    """A board 76 mm wide takes no stave of 95 mm: three of 63 make the panel."""
    narrow = [board("1", 40.0, 1480, 76)]
    parts = [replace(SHELF, width=190, staves=Staves(least=55, most=124))]
    layout = plan(narrow, parts, SHOP, FEW)
    proved(narrow, parts, layout)
    assert layout.unplaced == ()
    assert [round(stave.size, 1) for stave in layout.glue_ups[0].staves] == [63.3, 63.3, 63.3]


def test_two_widths_where_no_equal_ones_fit() -> None:
    """Boards of 97 and 84 mm give staves of 85 and 72 at most: 155 mm of panel need one of each."""
    boards = [board("1", 40.0, 520, 97), board("2", 20.0, 520, 84)]
    parts = [replace(SHELF, width=155, staves=Staves(least=60, most=90))]
    layout = plan(boards, parts, SHOP, FEW)
    proved(boards, parts, layout)
    assert layout.unplaced == ()
    wide, slim = sorted((stave.size for stave in layout.glue_ups[0].staves), reverse=True)
    assert wide > 77.5 > slim


def test_staves_come_from_one_board_where_that_costs_no_more() -> None:
    knot = Defect("k", DefectKind.SOUND_KNOT, rectangle(480, 40, 520, 90), Where.THROUGH)
    boards = [
        board("1", 40.0, 1000, 110, knot),
        board("2", 40.0, 1000, 110, knot),
        board("3", 40.0, 2000, 110),
    ]
    parts = [replace(SHELF, width=200)]
    layout = plan(boards, parts, SHOP, FEW)
    proved(boards, parts, layout)
    assert len(layout.boards_used) == 1


def test_staves_are_numbered_as_they_lie_in_the_board() -> None:
    boards = [board("1", 40.0, 2600, 120)]
    parts = [replace(SHELF, width=400, staves=Staves(least=90, most=110))]
    layout = plan(boards, parts, SHOP, FEW)
    proved(boards, parts, layout)
    places = {item.part: item for item in layout.placements}
    inner = [places[stave.part].x for stave in layout.glue_ups[0].staves[1:-1]]
    assert inner == sorted(inner)


@pytest.mark.parametrize("rings", [Rings.ALTERNATE, Rings.ALIKE])
def test_hearts_lie_as_the_maker_wants_them(rings: Rings) -> None:
    boards = [board("1", 40.0, 2600, 120, heart=Face.BACK)]
    parts = [replace(SHELF, width=400, staves=Staves(least=90, most=110, rings=rings))]
    layout = plan(boards, parts, SHOP, FEW)
    proved(boards, parts, layout)
    places = {item.part: item for item in layout.placements}
    up = [places[stave.part].face_from is Face.BACK for stave in layout.glue_ups[0].staves]
    assert up == ([True] * 4 if rings is Rings.ALIKE else [True, False, True, False])


def test_layers_and_rejoined_parts_are_placed() -> None:
    boards = [board("1", 90.0, 1500, 420)]
    parts = [Part("leg", 400, 45, 40, layers=2), Part("side", 500, 330, 22)]
    layout = plan(boards, parts, SHOP, FEW)
    proved(boards, parts, layout)
    assert {up.kind for up in layout.glue_ups} == {GlueKind.LAYERS, GlueKind.REJOINED}
    assert layout.unplaced == ()


def test_a_locked_stave_stays_and_keeps_the_widths() -> None:
    boards = [board("1", 40.0, 2200, 200), board("2", 60.0, 2200, 220)]
    first = plan(boards, [SHELF], SHOP, FEW)
    stave = next(item for item in first.placements if item.part == "shelf stave 2")
    fixed = replace(stave, locked=True)
    again = plan(boards, [SHELF], SHOP, replace(FEW, seed=5, glue_ups=first.glue_ups), locked=[fixed])
    assert [found.message for found in violations(boards, [SHELF], SHOP, again, locked=[fixed])] == []
    assert [stave.size for stave in again.glue_ups[0].staves] == [
        stave.size for stave in first.glue_ups[0].staves
    ]


def test_cautions_speak_of_these_boards() -> None:
    wet = [
        board("1", 40.0, 560, 120, moisture=9.0, heart=Face.FRONT),
        board("2", 40.0, 560, 120, moisture=12.5, heart=Face.FRONT),
    ]
    parts = [replace(SHELF, width=210, staves=Staves(least=90, most=110))]
    (up,) = plan(wet, parts, SHOP, FEW).glue_ups
    said = " ".join(up.cautions)
    assert "differ by 3.5 % in moisture" in said
    assert "more than one board" in said
    assert "not known" not in said


def test_a_panel_that_cannot_be_made() -> None:
    odd = replace(SHELF, width=130, staves=Staves(least=70, most=120))
    with pytest.raises(LayoutError, match="panel shelf: no number of staves"):
        plan([tiny_board()], [odd], SHOP, FEW)


def random_job(seed: int) -> tuple[list[Board], list[Part]]:
    chance = Random(seed)
    boards = []
    for number in range(chance.randint(1, 4)):
        length, width = chance.uniform(900, 2600), chance.uniform(100, 260)
        faults = []
        for n in range(chance.randint(0, 5)):
            x, y = chance.uniform(0, length - 60), chance.uniform(0, width - 30)
            shape = rectangle(x, y, x + chance.uniform(5, 60), y + chance.uniform(5, 30))
            kind = chance.choice(
                (DefectKind.SOUND_KNOT, DefectKind.SAPWOOD, DefectKind.CHECK, DefectKind.PITH)
            )
            faults.append(Defect(f"d{n}", kind, shape, chance.choice(list(Where))))
        heart = chance.choice((None, Face.FRONT, Face.BACK))
        boards.append(board(str(number), chance.uniform(20, 90), length, width, *faults, heart=heart))
    least = chance.uniform(50, 80)
    staves = Staves(
        least=least, most=least * 2.2, rings=chance.choice(list(Rings)), one_board=chance.random() < 0.5
    )
    return boards, [
        Part(
            "panel",
            chance.uniform(300, 700),
            chance.uniform(160, 420),
            20,
            quantity=chance.randint(1, 2),
            staves=staves,
        ),
        Part("post", chance.uniform(300, 800), chance.uniform(35, 70), 40, layers=2),
        Part("rail", chance.uniform(300, 800), chance.uniform(40, 90), 20, quantity=2, mend_show=True),
    ]


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10_000), st.booleans())
def test_no_glued_plan_has_a_violation(seed: int, mending: bool) -> None:
    boards, parts = random_job(seed)
    shop = replace(SHOP, repairs=RepairRules(allowed=mending))
    layout = plan(boards, parts, shop, SolveParams(iterations=10, seed=seed, prove=False))
    assert [found.message for found in violations(boards, parts, shop, layout)] == []
    named = {part.name for part in sawn_parts(parts, shop, layout.glue_ups)}
    assert {item.part for item in (*layout.placements, *layout.unplaced)} <= named


def test_staves_held_to_one_board_take_over_no_bound_found_with_them_held() -> None:
    boards = [board("dear", 90.0, 1200, 260), board("a", 30.0, 1200, 130), board("b", 30.0, 1200, 130)]
    parts = [Part("panel", 1000, 220, 20, staves=Staves(least=110, most=110, joint=2, trim=4))]
    layout = plan(boards, parts, SHOP, SolveParams(seconds=4.0))
    assert layout.bound is None or layout.bound.cost <= 60.0 + 1e-6
