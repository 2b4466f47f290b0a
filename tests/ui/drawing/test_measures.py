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
def test_rounding_up_and_down_never_passes_the_value_by_a_step(value, step):
    tape = Tape("mm", step)
    assert value - 1e-4 * step <= tape.at_least(value) < value + step
    assert value - step < tape.at_most(value) <= value + 1e-4 * step
    assert abs(tape.nearest(value) - value) <= step / 2 + 1e-9


@given(st.floats(20, 2000), st.floats(0, 12), st.sampled_from(["mm", "inch"]))
def test_no_piece_is_sawn_below_its_finished_size(finished, more, units):
    tape = tape_step(units, [more])
    assert tape.sawn(finished + more, finished) >= finished - 1e-6 * tape.step


def test_a_tape_as_coarse_as_the_allowance_permits():
    assert tape_step("mm", [10, 4]).step == 1.0
    assert tape_step("mm", [10, 1.2]).step == 0.5
    assert tape_step("mm", [0.0]).step == 0.01
    assert tape_step("inch", [10, 4]).step == INCH / 16
    assert tape_step("inch", [10, 2]).step == INCH / 32
