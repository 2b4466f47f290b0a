"""Exact values of single plates: against exhaustive search, and against published optima (data)."""

from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout.solve.guillotine import Item, Plate, best_with_cuts, best_with_defects
from layout.solve.nested_plate import best_without_cuts, weighings
from tests.bench import plates

# Cintra, Miyazawa, Wakabayashi, Xavier: table at ime.usp.br/~glauber/gcut (read there by others of us)
GCUT = (56460, 60536, 61036, 61698, 246000, 238998, 242567, 246633, 971100, 982025, 980096, 979986)
GCUT_TURNED = (58136, 60611, 61626, 62265, 246000, 240951, 245866, 247787, 971100, 982025, 980096, 988694)
# Hifi & Zissimopoulos 1996, table at ibr.cs.tu-bs.de packlib
CGCUT_UNLIMITED = (249, 3076, 2240)
# Beasley 1985, Oper. Res. 33, 49-64 (from memory)
NGCUT = (164, 230, 247, 268, 358, 289, 430, 834, 924, 1452, 1688, 1865)


def exhaustive(plate: Plate) -> int:
    """Every first cut of every lump, and every item on it alone."""
    items = plate.lying()
    bad = {(x + i, y + j) for x, y, a, b in plate.defects for i in range(a) for j in range(b)}

    @cache
    def best(x0: int, y0: int, x1: int, y1: int) -> int:
        found = 0
        if not any(x0 <= x < x1 and y0 <= y < y1 for x, y in bad):
            found = max((v for a, b, v in items if (a, b) == (x1 - x0, y1 - y0)), default=0)
        for x in range(x0 + 1, x1):
            found = max(found, best(x0, y0, x, y1) + best(x, y0, x1, y1))
        for y in range(y0 + 1, y1):
            found = max(found, best(x0, y0, x1, y) + best(x0, y, x1, y1))
        return found

    return best(0, 0, plate.length, plate.width)


sides = st.integers(1, 4)
item = st.builds(Item, sides, sides, st.integers(1, 9))
defect = st.tuples(st.integers(0, 5), st.integers(0, 4), st.integers(1, 2), st.integers(1, 2))


@settings(max_examples=40, deadline=None)
@given(
    items=st.lists(item, min_size=1, max_size=4),
    size=st.tuples(st.integers(2, 7), st.integers(2, 6)),
    defects=st.lists(defect, max_size=2),
    turn=st.booleans(),
)
def test_the_programmes_agree_with_exhaustive_search(
    items: list[Item], size: tuple[int, int], defects: list[tuple[int, int, int, int]], turn: bool
) -> None:
    plate = Plate(*size, tuple(items), tuple(defects), turn)
    assert best_with_defects(plate) == exhaustive(plate)
    clear = Plate(*size, tuple(items), (), turn)
    assert best_with_cuts(clear) == exhaustive(clear)


def test_without_the_rule_of_cutting_a_pinwheel_fits() -> None:
    pinwheel = Plate(3, 3, (Item(2, 1, 2, 2), Item(1, 2, 2, 2), Item(1, 1, 1, 1)))
    assert best_without_cuts(pinwheel, 5.0) == (9, 9, True)
    assert best_with_cuts(Plate(3, 3, (Item(2, 1, 2), Item(1, 2, 2)))) == 8


def laid(plate: Plate, items: tuple[Item, ...], taken: frozenset[tuple[int, int]] = frozenset()) -> int:
    """Most value of single items laid anywhere on a plate, each tried in every place."""
    if not items:
        return 0
    one, rest = items[0], items[1:]
    found = laid(plate, rest, taken)
    for x in range(plate.length - one.length + 1):
        for y in range(plate.width - one.width + 1):
            wood = {(x + i, y + j) for i in range(one.length) for j in range(one.width)}
            if not wood & taken:
                found = max(found, one.value + laid(plate, rest, taken | wood))
    return found


@settings(max_examples=40, deadline=None)
@given(
    items=st.lists(
        st.builds(Item, sides, sides, st.integers(1, 9), st.integers(1, 2)), min_size=1, max_size=3
    ),
    size=st.tuples(st.integers(2, 5), st.integers(2, 5)),
)
def test_without_the_rule_of_cutting_no_way_to_lay_items_is_worth_more(
    items: list[Item], size: tuple[int, int]
) -> None:
    plate = Plate(*size, tuple(items))
    single = tuple(one for one in items for _ in range(one.copies or 1))[:4]
    counted = tuple(
        Item(one.length, one.width, one.value, single.count(one)) for one in dict.fromkeys(single)
    )
    best = laid(plate, single)
    assert best_without_cuts(Plate(*size, counted), 10.0) == (best, best, True)


@settings(max_examples=60, deadline=None)
@given(size=st.tuples(st.integers(2, 30), st.integers(2, 30)), cuts=st.lists(st.integers(1, 29), max_size=6))
def test_a_full_plate_never_weighs_more_than_its_area(size: tuple[int, int], cuts: list[int]) -> None:
    """Slabs and strips that fill a plate exactly, by every weighing that the programme believes in."""
    length, width = size
    xs = sorted({0, length, *(cut for cut in cuts[::2] if cut < length)})
    ys = sorted({0, width, *(cut for cut in cuts[1::2] if cut < width)})
    items = [Item(b - a, d - c, 1, 1) for a, b in pairwise(xs) for c, d in pairwise(ys)]
    plate = Plate(length, width, tuple(items))
    found = weighings(plate, items)
    assert found
    assert all(sum(row) <= length * width for row in found)


@pytest.mark.data
@pytest.mark.parametrize("number", range(1, 13))
def test_gcut(shared_data: Path, number: int) -> None:
    assert best_with_cuts(plates.gcut(shared_data, number)) == GCUT[number - 1]
    assert best_with_cuts(plates.gcut(shared_data, number, may_turn=True)) == GCUT_TURNED[number - 1]


@pytest.mark.data
def test_cgcut_with_any_number_of_copies(shared_data: Path) -> None:
    found = tuple(best_with_cuts(plates.cgcut(shared_data, number)) for number in (1, 2, 3))
    assert found == CGCUT_UNLIMITED


@pytest.mark.data
def test_plates_with_defects(shared_data: Path) -> None:
    cases = plates.with_defects(shared_data)
    assert len(cases) == 10
    assert {name: best_with_defects(plate) for name, plate, _ in cases} == {n: best for n, _, best in cases}


@pytest.mark.data
@pytest.mark.parametrize("number", range(1, 13))
def test_ngcut_proved_without_the_rule_of_cutting(shared_data: Path, number: int) -> None:
    plate = plates.ngcut(shared_data)[number - 1]
    assert best_without_cuts(plate, 60.0) == (NGCUT[number - 1], NGCUT[number - 1], True)


@pytest.mark.data
def test_okp3_proved_without_the_rule_of_cutting(shared_data: Path) -> None:
    # Fekete & Schepers 1997 (from memory); all five are in the bench, they take longer
    assert best_without_cuts(plates.okp(shared_data, 3), 60.0) == (24019, 24019, True)
