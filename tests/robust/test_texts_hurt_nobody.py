"""Tape readings and cutting lists: whatever is typed or pasted, a value or one sentence to act on."""

import math

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from layout.parts import Part, PartSide
from tests.robust.answers import sentence
from tests.robust.mutations import damaged
from tests.robust.sizes import HANG, ROUND, few_or_many, grown_mb, hang_after, seeded
from ui.cutting_list import COLUMNS, Rows, parts_from_csv, parts_from_rows, parts_to_csv
from ui.jobfile import JobError
from ui.lengths import length_in_mm, length_text

READINGS = [
    "1200", "1200.5 mm", "1200,5", "120 cm", "1.2 m", '47 1/4"', '3/4"',
    "3' 6 1/2\"", "3-1/2 in", "½", '47¼"',
    "3 ft", "7 feet 2 inches", "1 1/2", ".5", "0", "-5", "1e3", "nan", "inf", "0x10", "1_000", "1 000", "1/0",
    "١٢٠", "²", "3''", "3″", "⁄", "12 mm 3", "mm", "'", '"', "1.200,5", "1,200.5", "", " ", "\x00", "1\n2",
]  # fmt: skip
LIST = '''name,quantity,length,width,thickness,face,back,edges,ends,same board as,priority
top,2,"47 1/4""",300,22,show,concealed,seen in use,hidden,,3
side,4,600,280,20,shows,seen,show,concealed,top,
rail,8,1200 mm,60,1.2 cm,,,,,,-1
'''


def reading(text: str, units: str = "mm") -> float | str:
    """The length, or the sentence it was refused with."""
    try:
        mm = length_in_mm(text, units)  # type: ignore[arg-type]
    except ValueError as error:
        said = sentence(error, 500)  # a strange letter is shown in ten
        assert "write" in said, said
        return said
    assert math.isfinite(mm)
    assert mm >= 0
    return mm


def listed(text: str) -> tuple[Part, ...] | str:
    """The parts, or the sentence they were refused with."""
    try:
        return parts_from_csv(text)
    except JobError as error:
        said = sentence(error)
        assert said.startswith("cutting list: ")
        return said


@few_or_many(250)
def test_tape_readings(cases: int) -> None:
    pieces = st.sampled_from(
        [*READINGS, "1", "9" * 400, "/", " ", "-", "mm", "cm", "m", "in", "ft", ".", ","]
    )
    typed = st.one_of(st.text(max_size=40), st.lists(pieces, max_size=6).map("".join))

    @seed(ROUND)
    @settings(max_examples=cases, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(typed, st.sampled_from(["mm", "inch"]))
    def each(text: str, units: str) -> None:
        with hang_after(HANG, text):
            reading(text, units)

    each()


@few_or_many(250)
def test_a_length_shown_is_read_back(cases: int) -> None:
    @seed(ROUND)
    @settings(max_examples=cases, deadline=None, database=None)
    @given(st.floats(0, 20_000), st.sampled_from(["mm", "inch"]))
    def each(mm: float, units: str) -> None:
        again = reading(length_text(mm, units), units)  # type: ignore[arg-type]
        assert isinstance(again, float)
        assert abs(again - mm) <= (0.0501 if units == "mm" else 25.4 / 64 + 1e-9)

    each()


@pytest.mark.parametrize("text", READINGS, ids=repr)
def test_readings_as_they_are_typed(text: str) -> None:
    for units in ("mm", "inch"):
        reading(text, units)


@pytest.mark.parametrize(
    "text", ["9" * 5000, "1/" + "9" * 400 + '"', "9" * 400 + '/7"', "9" * 400, "1" * 4000 + "'"], ids=len
)
def test_a_reading_of_many_digits_is_no_length(text: str) -> None:
    assert isinstance(reading(text), str)


@pytest.mark.parametrize("text", ["1,200", "1,200 mm", "12,125", '1,200"'])
def test_a_comma_before_three_figures_is_asked_about(text: str) -> None:
    """1,200 is 1200 to one maker and 1.2 to the other; a board hangs on it."""
    assert "can be read in two ways" in str(reading(text))
    assert reading("1,200 m") == 1200.0
    assert reading("1200,5") == 1200.5


def test_a_reading_of_a_million_letters_is_refused_at_once() -> None:
    for text in ("1 " * 500_000, "1/" * 500_000, " " * 1_000_000 + "x", "1'" * 500_000):
        with hang_after(2, text[:10]):
            assert isinstance(reading(text), str)


@few_or_many(800)
def test_damaged_cutting_lists(cases: int) -> None:
    chance = seeded(31)
    others = [text.encode() for text in [*READINGS, "\t", ";", "\r", "inf", "nan", "1e999"]]
    good = [LIST.encode(), LIST.replace(",", ";").encode(), LIST.replace(",", "\t").encode("utf-16")]
    read = 0
    with grown_mb(200):
        for case in range(cases):
            data = damaged(chance.choice(good), chance, others)
            if chance.random() < 0.5:  # one cell exchanged, the rest left alone
                cells = LIST.split(",")
                cells[chance.randrange(len(cells))] = chance.choice(others).decode("utf-8", "replace")
                data = ",".join(cells).encode("utf-8", "replace")
            text = data.decode("utf-8", errors="replace")
            with hang_after(HANG, f"case {case}: {text[:80]!r}"):
                try:
                    read += not isinstance(listed(text), str)
                except Exception as error:
                    pytest.fail(f"case {case}: {error!r} from {text[:300]!r}")
    assert 0 < read < cases


@few_or_many(150)
def test_any_cells(cases: int) -> None:
    cell = st.one_of(st.text(max_size=12), st.sampled_from([*READINGS, "show", "1e400", "-0", "inf", "nan"]))
    rows = st.lists(st.dictionaries(st.sampled_from(COLUMNS), cell), max_size=5)

    @seed(ROUND)
    @settings(max_examples=cases, deadline=None, database=None)
    @given(rows)
    def each(table: list[dict[str, str]]) -> None:
        found = parts_from_rows(table)
        assert isinstance(found, Rows)
        assert len(found.parts) + len(found.mistakes) == len(table)

    each()


def test_a_list_written_is_read_back() -> None:
    parts = listed(LIST)
    assert not isinstance(parts, str)
    exact = Part("exact", 1234.5678, 19_999.9375, 20)
    again = listed(parts_to_csv((*parts, exact)))
    assert not isinstance(again, str)
    assert [part.name for part in again] == ["top", "side", "rail", "exact"]
    for was, now in zip((*parts, exact), again, strict=True):
        sizes = pytest.approx((was.length, was.width, was.thickness), abs=1e-6)
        assert (now.length, now.width, now.thickness) == sizes
        assert [was.visibility(side) for side in PartSide] == [now.visibility(side) for side in PartSide]
        assert (was.quantity, was.priority, was.same_board_as) == (
            now.quantity,
            now.priority,
            now.same_board_as,
        )


@pytest.mark.parametrize(
    ("cell", "column"),
    [("inf", "quantity"), ("nan", "quantity"), ("1e400", "priority"), ("-inf", "priority")],
)
def test_a_number_without_end_is_refused_at_its_cell(cell: str, column: str) -> None:
    row = {"name": "top", "length": "500", "width": "100", "thickness": "20", column: cell}
    mistake = parts_from_rows([row]).mistakes[0]
    assert mistake.column == column
    assert "give" in str(mistake)


def test_a_cell_of_a_megabyte_is_refused_in_one_sentence() -> None:
    for filler in ("a" * 1_000_000, '"' + "a" * 1_000_000):
        assert isinstance(listed(LIST + filler + ",1,2,3,4\n"), str)


def test_an_open_quote_and_a_nul_are_refused_in_one_sentence() -> None:
    assert isinstance(listed(LIST + '"unfinished,1,100,20,20\n'), str)
    assert isinstance(listed(LIST + "ra\x00il2,1,100,20\n"), str)
