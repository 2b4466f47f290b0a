import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout.outline import area_of, bounds_of, normal_outline, rectangle

SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))


@given(st.integers(0, 3), st.booleans(), st.booleans())
def test_one_normal_form_wherever_it_starts_and_whichever_way_it_runs(
    start: int, backwards: bool, closed: bool
) -> None:
    ring = list(SQUARE[start:] + SQUARE[:start])
    if backwards:
        ring.reverse()
    if closed:
        ring.append(ring[0])
    assert normal_outline(ring) == SQUARE


def test_bounds_and_area() -> None:
    assert rectangle(10, 10, 0, 0) == SQUARE
    assert bounds_of(((1, 5), (4, 2), (6, 9))) == (1, 2, 6, 9)
    assert area_of(((0, 0), (0, 4), (6, 0))) == 12


@pytest.mark.parametrize(
    ("points", "message"),
    [
        ([(0, 0), (1, 1)], "2 corners; at least three"),
        ([(0, 0), (1, 1), (2, 2)], "encloses no area"),
        ([(0, 0), (10, 10), (10, 0), (0, 20)], "without crossing itself"),
        ([(0, 0), (1, 0), (float("nan"), 1)], "give two finite numbers"),
        ([(0, 0), (1, 0), (1, 1, 1)], "give two finite numbers"),
    ],
)
def test_what_is_no_outline(points: list[tuple[float, ...]], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        normal_outline(points, "board 7")
