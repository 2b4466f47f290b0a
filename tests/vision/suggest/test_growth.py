import pytest

from layout.outline import bounds_of, rectangle
from vision.suggest.growth import DisturbedGrain, grown


def test_a_knot_takes_in_one_diameter_along_the_grain_and_a_quarter_across():
    larger = grown(rectangle(100, 40, 120, 60), DisturbedGrain(), 500, 120)
    assert bounds_of(larger) == pytest.approx((80, 35, 140, 65))


def test_growth_stops_at_the_board():
    larger = grown(rectangle(5, 0, 25, 20), DisturbedGrain(1, 0.25), 500, 120)
    assert bounds_of(larger) == pytest.approx((0, 0, 45, 25))


def test_no_growth_leaves_the_hull():
    assert bounds_of(grown(rectangle(5, 5, 25, 20), DisturbedGrain(0, 0), 500, 120)) == (5, 5, 25, 20)


@pytest.mark.parametrize("wrong", [-0.1, 6.0, float("nan")])
def test_a_silly_growth_is_refused(wrong):
    with pytest.raises(ValueError, match="0 to 5 diameters"):
        DisturbedGrain(along=wrong)
