"""Every number on the summary, the repairs' and the glue-up's pages, traced to the layout by hand.

The board sheet of the tiny board is traced in `test_printed.py`.
"""

from dataclasses import replace

import pytest

from layout.outline import rectangle
from tests.reference.drawn import mended_job, panel_job, spliced_job
from tests.ui.drawing.paper import Paper, numbers_in
from tests.ui.drawing.test_printed import tiny_job
from ui.drawing.job_values import SheetJob
from ui.drawing.sheets import printed_sheets

# On every page: the rule of 100 mm, the 100 % to print at, sheet 1 to 4 of 4.
PAGE = {"100", "1", "2", "3", "4"}

SUMMARY = {
    "3 parts from 1 board, board 1, marks A1 A2 B1, added and lost": {"71", "246"},
    "board": {"1000", "210", "27", "40.00"},
    "wood bought, in parts, kept [m3]": {"0.0057", "0.0016", "0.0031"},
    "finished parts, and where they begin": {"420", "400", "60", "22", "20"},
}

# The board of `mended_job` as its back page shows it.
MENDED_BACK = {
    "board and offcut": {"2000", "210", "27", "357"},
    "readings and numbers of cuts": {"20", "930", "3", "77", "154", "201", "5", "6"},
    "part to part": {"17", "910", "1067"},
    "sawn widths": {"74", "44"},
    "knot and decay": {"16", "20"},
    "scale bar": {"200"},
}
MENDED = MENDED_BACK | {
    "R1: blank and its place": {"94", "32", "8", "1300", "1394", "100", "132"},
    "R1: hexagon, depth, cost": {"368", "452", "23", "49", "5", "16.67"},
    "R2: blank and its place": {"140", "74", "13", "1500", "1640", "20", "94"},
    "R2: feather edge, depth, slope as 1 in and degrees, finished thickness": {
        "120",
        "10",
        "12",
        "4.8",
        "22",
    },
    "R2: cost, and the alternative's": {"30.00", "40.00"},
    "R3: place, depth, cost": {"297", "383", "8", "16", "6", "4.00"},
}
SPLICED = {
    "board": {"2400", "130", "27"},
    "readings and numbers of cuts": {"20", "1130", "3", "57", "124", "5", "6"},
    "part to part": {"17", "1110", "1267"},
    "sawn widths": {"54", "64"},
    "split, scale bar": {"90", "200"},
    "R1: blank and its place": {"364", "54", "24", "1200", "1564", "10", "64"},
    "R1: scarf, slope, finished section, cost": {"80", "344", "12", "50", "22", "40.00"},
    "R2: blank and its place": {"1120", "22", "24", "1200", "2320", "80", "102"},
    "R2: strip, finished width, cost": {"18", "60", "20.00"},
}
GLUE_UP = {
    "panel": {"520", "330", "22"},
    "staves A1.1 to A1.3 of board 5": {"1.1", "1.2", "1.3", "5"},
    "their widths, and sawn": {"110", "120", "100", "530", "116", "122", "106"},
    "sawn wider in all: 2 joints of 2, 6 to trim": {"10"},
    "clamps twice the first stave apart; moisture within": {"220", "2"},
    # 520 x 330 x 22 mm at 702 kg/m3; 330 mm x 0.00315 x 2 and x 3
    "weight and movement": {"2.7", "2.1", "3.1"},
    "moistures": {"7", "9", "12"},
    # a 4 mm screw at the edge: half of 2.1 + 3.1 mm of movement, 1 mm of play at each end; 0.5 mm across
    "slot": {"4", "8.6", "4.5"},
}

CASES = [
    pytest.param(tiny_job, "Cutting list", SUMMARY, id="summary"),
    pytest.param(mended_job, "R2 slice, B1", MENDED, id="repairs"),
    pytest.param(spliced_job, "R1 splice, A1", SPLICED, id="splice and edge strip"),
    pytest.param(panel_job, "Glue-up A1", GLUE_UP, id="glue-up"),
]


def numbers_on(job: SheetJob, says: str) -> set[str]:
    sheets = Paper(printed_sheets(job))
    page = next(sheets.text(each) for each in range(sheets.pages()) if says in sheets.text(each))
    return set(numbers_in(page))


@pytest.mark.parametrize(("job", "says", "known"), CASES)
def test_every_number_comes_from_the_layout_and_none_is_missing(job, says, known):
    found, traced = numbers_on(job(), says), set().union(*known.values())
    assert found - traced <= PAGE
    assert traced <= found


def moved_repair(job: SheetJob, number: int, **change: object) -> SheetJob:
    repairs = list(job.layout.repairs)
    repairs[number] = replace(repairs[number], **change)  # type: ignore[arg-type]
    return replace(job, layout=replace(job.layout, repairs=tuple(repairs)))


def test_a_number_that_is_not_the_layouts_is_found_out():
    """The test above can fail: a millimetre anywhere brings a number it does not know."""
    longer = moved_repair(mended_job(), 1, outline=rectangle(0, 0, 121, 70), at=121.0)
    assert "121" in numbers_on(longer, "R2 slice, B1") - set().union(*MENDED.values()) - PAGE
    later = moved_repair(spliced_job(), 0, at=81.0)
    assert "81" in numbers_on(later, "R1 splice, A1") - set().union(*SPLICED.values()) - PAGE
    panel = panel_job()
    up = panel.layout.glue_ups[0]
    staves = (replace(up.staves[0], size=111.0), *up.staves[1:])
    wider = replace(panel, layout=replace(panel.layout, glue_ups=(replace(up, staves=staves),)))
    assert {"111", "222"} <= numbers_on(wider, "Glue-up A1") - set().union(*GLUE_UP.values()) - PAGE
    dearer = replace(tiny_job(), layout=replace(tiny_job().layout, cost=41.0))
    assert "41.00" in numbers_on(dearer, "Cutting list") - set().union(*SUMMARY.values()) - PAGE
