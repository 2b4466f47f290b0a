"""Staves of free width: a panel's account, maps from the narrowest stave, plans no set of widths gives."""

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.check import violations
from layout.clear import clear_map
from layout.outline import rectangle
from layout.parts import Part, PartSide, Rings, Staves, Visibility, Zone
from layout.solve.family import Books, Family
from layout.solve.memory import known_ground
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.strips import stave_map
from layout.solve.widths import by_turns, families_of, is_free, offered_widths
from layout.stock import Board, Defect, DefectKind, Face, Price, Where
from tests.builders import tiny_shop

SHOP = tiny_shop()
SHELF = Part("shelf", 450, 300, 22, staves=Staves(least=60, most=120))


def board(id: str, price: float, length: float, width: float, *faults: Defect, **rest: object) -> Board:
    return Board.square_edged(id, length, width, 27, defects=faults, price=Price(price), **rest)


def family(part: Part, *widths: float, count: int | None = None, heart: Face | None = None) -> Family:
    return families_of(part, count, widths, [board("1", 1.0, 900, 200, heart=heart)])[0]


def books_of(one: Family) -> Books:
    return Books([kind.part for kind in one.kinds], [one])


def number(books: Books, size: float, group: int) -> int:
    return next(n for n, item in books.members.items() if item.size == size * 1000 and item.group == group)


def test_what_is_left_of_a_panel_can_always_be_made_up() -> None:
    books = books_of(family(SHELF, 120, 100, 60))
    left = books.left(books.wanted(()))
    wide, slim = number(books, 120, 0), number(books, 60, 0)
    inner = number(books, 100, 1)
    assert [left[wide], left[slim], left[inner]] == [1, 1, 1]
    left[wide] -= 1
    assert left[inner]  # 300 - 120 - 100 leave 80 for the other outer stave
    left[inner] -= 1
    assert not left[inner]  # nothing would be left for the outer one
    assert not left[slim]  # 60 of 80 would leave 20
    left[wide] -= 1  # the last one is trimmed
    assert books.counts(books.wanted(()), left)[-2:] == (300_000, 2)
    assert not any(left[part] for part in books.members)


def test_staves_that_lie_by_turns_are_so_many_of_each() -> None:
    part = replace(SHELF, staves=Staves(least=60, most=120, rings=Rings.ALTERNATE))
    assert by_turns(part, [board("1", 1.0, 900, 200, heart=Face.BACK)])
    assert not by_turns(part, [board("1", 1.0, 900, 200)])
    one = family(part, 120, 75, count=4, heart=Face.BACK)
    assert sorted(group.quota or 0 for group in one.groups) == [1, 1, 1, 1]
    assert {kind.part.heart_up for kind in one.kinds} == {True, False}


def test_three_widths_where_two_do_not_do() -> None:
    """Boards of 132, 111 and 93 mm: no equal staves and no two widths make 300 mm, three do."""
    boards = [board("a", 30.0, 520, 132), board("b", 30.0, 520, 111), board("c", 30.0, 520, 93)]
    layout = plan(boards, [SHELF], SHOP, SolveParams(iterations=200, prove=False))
    assert violations(boards, [SHELF], SHOP, layout) == ()
    assert layout.unplaced == ()
    assert len({round(stave.size) for stave in layout.glue_ups[0].staves}) == 3


def test_panels_that_keep_to_sets() -> None:
    assert is_free(SHELF)
    assert is_free(replace(SHELF, zones=(Zone("tongue", rectangle(0, 0, 40, 300)),)))
    assert is_free(replace(SHELF, zones=(Zone("moulding", rectangle(0, 0, 450, 20)),)))
    assert not is_free(replace(SHELF, zones=(Zone("lock", rectangle(200, 100, 260, 180)),)))
    assert not is_free(replace(SHELF, outline=((0, 0), (450, 0), (400, 300), (0, 300))))
    assert not is_free(replace(SHELF, width=110))


@pytest.mark.parametrize("least", [60.0, 100.0])
def test_the_widths_of_before_and_the_limits_are_offered(least: float) -> None:
    part = replace(SHELF, staves=Staves(least=least, most=max(least, 110.0)))
    found = offered_widths(part, [board("1", 1.0, 900, 97)], SHOP, (100.0,))
    assert {100.0, least, max(least, 110.0)} <= set(found)
    assert len(set(found)) == len(found)


def faulty(seed: int) -> Board:
    chance = Random(seed)
    length, width = chance.uniform(700, 1500), chance.uniform(100, 240)
    faults = []
    for n in range(chance.randint(1, 7)):
        x, y = chance.uniform(0, length - 40), chance.uniform(0, width - 25)
        shape = rectangle(x, y, x + chance.uniform(3, 40), y + chance.uniform(3, 25))
        where = chance.choice(list(Where))
        depth = None if where is Where.THROUGH else chance.choice((None, chance.uniform(1, 25)))
        faults.append(Defect(f"d{n}", chance.choice(list(DefectKind)), shape, where, depth))
    return board("1", 30.0, length, width, *faults, heart=chance.choice((None, Face.FRONT)))


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 100_000), st.booleans())
def test_maps_from_the_narrowest_stave_allow_nothing_that_the_stave_s_own_map_does_not(
    seed: int, edged: bool
) -> None:
    one = faulty(seed)
    sides = {PartSide.NEAR_EDGE: Visibility.SHOW} if edged else {}
    part = replace(SHELF, sides=sides)
    count = 3 if by_turns(part, [one]) else None
    ground = known_ground(one, SHOP, 20_000)
    for kind in families_of(part, count, (120, 97, 61.5, 60), [one])[0].kinds:
        careful, own = stave_map(ground, kind), clear_map(ground, kind.part)
        assert careful.ok.shape == own.ok.shape
        assert not (careful.ok & ~own.ok).any()
