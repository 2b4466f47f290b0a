"""The printed sheets, read back and measured."""

from dataclasses import replace

import numpy as np
import pytest

from layout.parts import Part
from layout.placement import Bound, Layout, Placement, Sawing, Unplaced
from layout.stock import Board, Face
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from tests.ui.drawing.jobs import cabinet_parts, grain_picture, large_job
from tests.ui.drawing.paper import Paper, numbers_in
from ui.drawing.board_view import BoardView
from ui.drawing.job_values import FacePicture, SheetJob
from ui.drawing.printed.board_sheet import tilted_lines
from ui.drawing.printed.labels import labels_pdf
from ui.drawing.printed.tiles import OVERLAP, tile_grid, tiles_pdf
from ui.drawing.sheets import printed_sheets

FINE = 20  # px/mm at which a page is measured: a pixel is 0.05 mm
INK = 140  # darker than this is a line


def tiny_job(**rest: object) -> SheetJob:
    values: dict[str, object] = {"title": "Tiny", "currency": "EUR"}
    return SheetJob((tiny_board(),), tiny_parts(), tiny_shop(), tiny_layout(), **(values | rest))  # type: ignore[arg-type]


def run_of_ink(row: np.ndarray) -> tuple[int, int]:
    """First and last dark pixel of the longest unbroken run."""
    dark = np.flatnonzero(row < INK)
    breaks = np.flatnonzero(np.diff(dark) > 1)
    starts, ends = np.r_[0, breaks + 1], np.r_[breaks, len(dark) - 1]
    longest = int(np.argmax(dark[ends] - dark[starts]))
    return int(dark[starts[longest]]), int(dark[ends[longest]])


@pytest.mark.parametrize(
    ("paper", "size"), [("A4", (297.0, 210.0)), ("Letter", (279.4, 215.9))], ids=["A4", "Letter"]
)
def test_paper_size(paper, size):
    assert Paper(printed_sheets(tiny_job(paper=paper))).size() == pytest.approx(size, abs=0.1)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_hundred_millimetres_are_a_hundred_millimetres_on_every_page(paper):
    sheets = Paper(printed_sheets(tiny_job(paper=paper)))
    for page in range(sheets.pages()):
        picture = sheets.pixels(page, FINE)
        row = picture[round((sheets.size(page)[1] - 5.5) * FINE)]
        first, last = run_of_ink(row)
        assert (last - first) / FINE == pytest.approx(100, abs=0.2)


def test_printing_is_asked_for_at_full_size():
    for data in (printed_sheets(tiny_job()), labels_pdf(tiny_job())):
        assert b"/PrintScaling /None" in data


def test_words_are_words_and_each_photograph_is_stored_once():
    picture = FacePicture(grain_picture(1000, 210, 3.0), 3.0)
    job = tiny_job(pictures={("1", Face.FRONT): picture})
    sheets = Paper(printed_sheets(job))
    assert sheets.stored_pictures() == 1
    assert sheets.dct_pictures() == 1
    assert sum(sheets.images(page) for page in range(sheets.pages())) == 1
    bare = Paper(printed_sheets(tiny_job()))
    assert bare.stored_pictures() == 0
    assert "A1" in bare.text(1)
    assert "offcut 547 x 210 mm" in bare.text(1)


def test_the_same_job_prints_to_the_same_bytes():
    assert printed_sheets(tiny_job()) == printed_sheets(tiny_job())
    assert labels_pdf(tiny_job()) == labels_pdf(tiny_job())


def test_the_summary_says_what_was_asked():
    bound = Bound(40.0, Sawing.CROSSCUT_FIRST, True, "no board is cheaper")
    layout = replace(tiny_layout(), bound=bound, unplaced=(Unplaced("slat", 1, "12 mm too short"),))
    said = Paper(printed_sheets(replace(tiny_job(), layout=layout))).text(0)
    assert "Proved: no layout sawn crosscut first costs less (no board is cheaper)." in said
    assert "2 of 3 parts from 1 board. Cost 40.00 EUR." in said
    assert "12 mm too short" in said
    # 2 x 420 x 60 x 22 + 400 x 60 x 22 = 0.001637 m3 in parts, of 1000 x 210 x 27 = 0.00567 m3 bought
    assert "71 % of the wood bought is not in the parts (that is 246 % added to the parts)" in said
    assert "Not for structural timber" in said


# Every number that may stand on the tiny board's sheets, worked out by hand from tests/builders.py.
TRUE_NUMBERS = {
    "board": {"1", "1000", "210", "27"},
    "readings": {"20", "450", "3", "67", "134", "201", "430", "70", "137", "0"},
    "sizes": {"430", "64", "410", "547", "17"},
    "finished": {"420", "60", "22", "400"},
    "planing": {"2.5"},
    "knot": {"40"},
    "marks and cut numbers": {"1", "2", "3", "4", "5", "6", "7"},
    "scale bar, kerf, tape": {"100", "3", "1"},
    "check rule and sheet number": {"100", "5"},
    "caution": {"300"},
}


def test_every_number_on_a_board_sheet_comes_from_the_layout():
    sheets = Paper(printed_sheets(tiny_job()))
    known = set().union(*TRUE_NUMBERS.values())
    board_pages = [page for page in range(sheets.pages()) if "Board 1" in sheets.text(page)]
    assert len(board_pages) == 2
    for page in board_pages:
        found = set(numbers_in(sheets.text(page)))
        assert found <= known, found - known
    said = set(numbers_in(sheets.text(board_pages[0])))
    wanted = set().union(*(TRUE_NUMBERS[each] for each in ("readings", "sizes", "finished", "planing")))
    assert wanted - {"0"} <= said


def test_a_number_that_is_not_the_layouts_is_found_out():
    """The test above can fail: a board one millimetre longer brings numbers it does not know."""
    longer = tiny_layout()
    moved = tuple(replace(each, x=each.x + 1) for each in longer.placements)
    sheets = Paper(printed_sheets(replace(tiny_job(), layout=replace(longer, placements=moved))))
    assert set(numbers_in(sheets.text(1))) - set().union(*TRUE_NUMBERS.values())


def test_inches_stand_in_fractions_and_no_millimetres_are_left_over():
    said = Paper(printed_sheets(tiny_job(units="inch"))).text(1)
    assert "16 15/16 x 2 1/2 in" in said  # 430 x 64 mm
    assert "39 3/8 x 8 1/4 x 1 1/16 in" in said  # 1000 x 210 x 27 mm
    assert "430" not in said


def test_a_piece_that_lies_askew_is_marked_out_by_two_points_of_its_edge():
    shop, leg = tiny_shop(), Part("leg", 420, 70, 22, quantity=2)  # sawn 430 x 74
    board = Board.square_edged("9", 1500, 240, 27)
    places = (
        Placement("leg", 1, "9", 30, 20, tilt=4.0, from_front=2.5),
        Placement("leg", 2, "9", 600, 20, from_front=2.5),
    )
    view = BoardView(board, (leg,), shop, Layout(places), Face.FRONT)
    # turned 4 degrees about its middle (245, 57): x = 245 -+ 215 cos + 37 sin, y = 57 -+ 215 sin - 37 cos
    assert tilted_lines(view) == [
        "A1 lies askew: draw its edge from 33 from the end, 5 from the edge "
        "to 462 from the end, 35 from the edge; square its ends off that line."
    ]


def test_labels_one_for_each_copy():
    labels = Paper(labels_pdf(tiny_job()))
    said = labels.text(0)
    assert labels.pages() == 1
    assert all(said.count(mark) == 1 for mark in ("A1", "A2", "B1"))
    assert "420 x 60 x 22 mm finished" in said
    large = large_job()
    many = Paper(labels_pdf(SheetJob(large.boards, large.parts, large.shop, large.layout)))
    assert many.pages() == 3  # 60 labels, 24 to a page


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_shaped_part_is_printed_at_its_true_size(paper):
    bracket = cabinet_parts(1)[-1]
    job = SheetJob((), (bracket,), tiny_shop(), replace(tiny_layout(), placements=()), paper=paper)
    tiles = Paper(tiles_pdf(job, bracket))
    shown = min(260.0, tiles.size()[0] - 20 + 0.5)  # Letter is 0.6 mm short of it; lines run 0.5 mm over
    assert tiles.pages() == (1 if shown == 260 else 2)
    high = tiles.size()[1]
    picture = tiles.pixels(0, FINE)
    top = high - (high - 10 - 9)  # margin and head line [mm from the page's top]
    across = run_of_ink(picture[round(top * FINE)])
    assert (across[1] - across[0]) / FINE == pytest.approx(shown, abs=0.3)
    down = run_of_ink(picture[:, round(10 * FINE)])
    assert (down[1] - down[0]) / FINE == pytest.approx(90, abs=0.3)
    # the outline passes (180, 52): the first ink below the near edge at x = 180
    column = np.flatnonzero(picture[round((top + 2) * FINE) :, round(190 * FINE)] < INK)
    assert column[0] / FINE + 2 == pytest.approx(52, abs=0.2)


def test_tiles_of_a_long_part_overlap_and_cover_it():
    long = replace(cabinet_parts(1)[-1], name="long", length=600.0, width=300.0, outline=None)
    job = SheetJob((), (long,), tiny_shop(), replace(tiny_layout(), placements=()))
    columns, rows, wide, high = tile_grid(job, long)
    assert (columns - 1) * (wide - OVERLAP) + wide >= 600 > (columns - 2) * (wide - OVERLAP) + wide
    assert (rows - 1) * (high - OVERLAP) + high >= 300
    assert Paper(tiles_pdf(job, long)).pages() == columns * rows
