"""Readings of the tape."""

from hypothesis import given
from hypothesis import strategies as st

from ui.drawing.measures import STEPS, Tape, tape_step
from ui.lengths import INCH

MM = st.floats(0, 5000, allow_nan=False)


def test_whole_millimetres_and_halves():
    assert Tape().words(598.0) == "598"
    assert Tape("mm", 0.5).words(12.5, unit=True) == "12.5 mm"
    assert Tape().words(-0.0) == "0"


def test_inches_in_fractions_in_lowest_terms():
    tape = Tape("inch", INCH / 16)
    assert tape.words(23.5625 * INCH) == "23 9/16"
    assert tape.words(0.75 * INCH, unit=True) == "3/4 in"
    assert tape.words(2 * INCH) == "2"


@given(MM, st.sampled_from([step for steps in STEPS.values() for step in steps]))
def test_a_piece_never_begins_before_nor_ends_beyond_its_place(value, step):
    tape = Tape("mm", step)
    assert value - 1e-4 * step <= tape.begins(value) < value + step
    assert value - step < tape.ends(value) <= value + 1e-4 * step


@given(
    st.lists(st.tuples(MM, st.floats(20, 2000), st.floats(0.05, 12)), min_size=1, max_size=8),
    st.sampled_from(["mm", "inch"]),
)
def test_no_piece_comes_out_undersize(pieces, units):
    spans = [(begin, begin + long + more, long) for begin, long, more in pieces]
    tape = tape_step(units, spans)
    for begin, end, finished in spans:
        assert tape.ends(end) - tape.begins(begin) >= finished - 1e-6


def test_a_tape_as_coarse_as_the_allowance_permits():
    assert tape_step("mm", [(10.3, 514.5, 500)]).step == 1.0
    assert tape_step("mm", [(10.3, 510.9, 500)]).step == 0.1
