import pytest
from hypothesis import given
from hypothesis import strategies as st

from ui.lengths import length_in_mm, length_text


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1200", 1200.0),
        (" 1200.5 mm", 1200.5),
        ("1,2 m", 1200.0),
        ("45cm", 450.0),
        ('3/4"', 19.05),
        ('47 1/4"', 1200.15),
        ("3-1/2 in", 88.9),
        ("3' 6 1/2\"", 1079.5),
        ("2 ft", 609.6),
        ("¾”", 19.05),
        ("1½ in", 38.1),
    ],
)
def test_a_length_is_read_as_written(text: str, mm: float) -> None:
    assert length_in_mm(text) == pytest.approx(mm)


def test_a_bare_number_is_in_the_job_s_unit() -> None:
    assert length_in_mm("2", "inch") == pytest.approx(50.8)
    assert length_in_mm("3/4", "inch") == pytest.approx(19.05)
    assert length_in_mm("20 mm", "inch") == pytest.approx(20.0)


@pytest.mark.parametrize("text", ["wide", "", "12 apples", '3/0"', "1/2", "-5", "1e3", "nan"])
def test_anything_else_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"not a length|no unit"):
        length_in_mm(text)


def test_lengths_are_shown_as_a_tape_reads() -> None:
    assert length_text(1200.0) == "1200"
    assert length_text(19.05, "inch") == '3/4"'
    assert length_text(1200.15, "inch") == '47 1/4"'
    assert length_text(0.0, "inch") == '0"'


@given(st.floats(0.1, 9999))
def test_shown_and_read_again_is_the_same_to_the_tape(mm: float) -> None:
    assert length_in_mm(length_text(mm)) == pytest.approx(mm, abs=0.051)
    assert length_in_mm(length_text(mm, "inch"), "inch") == pytest.approx(mm, abs=25.4 / 64 + 1e-9)
