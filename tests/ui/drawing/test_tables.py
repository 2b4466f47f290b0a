"""CSV of parts and cuts."""

import csv
from dataclasses import replace
from io import StringIO

from layout.placement import Unplaced
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from ui.drawing.tables import CUT_COLUMNS, PART_COLUMNS, cuts_csv, parts_csv


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(text, newline="")))


def test_every_copy_has_a_row():
    layout = replace(tiny_layout(), unplaced=(Unplaced("slat", 2, "no clear place is long enough"),))
    found = rows(parts_csv([tiny_board()], tiny_parts(), tiny_shop(), layout))
    assert [row["mark"] for row in found] == ["A1", "A2", "B1", "B2"]
    assert set(found[0]) == set(PART_COLUMNS)
    assert found[0]["sawn length"] == "430"
    assert found[1]["from datum edge"] == "70"
    assert found[3]["reason not placed"] == "no clear place is long enough"
    assert found[3]["board"] == ""


def test_cuts_stand_in_their_order():
    found = rows(cuts_csv([tiny_board()], tiny_parts(), tiny_shop(), tiny_layout()))
    assert set(found[0]) == set(CUT_COLUMNS)
    assert [row["reading"] for row in found] == ["20", "450", "3", "67", "134", "201", "430"]


def test_a_name_is_never_a_formula():
    rail, slat = tiny_parts()
    layout = tiny_layout()
    evil = replace(rail, name="=1+1")
    placements = tuple(
        replace(each, part="=1+1") if each.part == "rail" else each for each in layout.placements
    )
    text = parts_csv([tiny_board()], (evil, slat), tiny_shop(), replace(layout, placements=placements))
    assert rows(text)[0]["part"] == "'=1+1"
