"""Equilibrium moisture content against published points.

Source: Wood Handbook, FPL-GTR-190 (2010), Chapter 4, equation for equilibrium
moisture content. The form was read at second hand (Mitchell 2018, BioResources
13(1):171-175 and a lumber site); the Celsius constants are FROM MEMORY and stand
here because they meet the points below, each read at second hand:
[a] an online calculator, [b] a shop rule in the trade press, [c] an encyclopaedia.
"""

import pytest

from layout.movement import equilibrium_moisture

# [a], [c] print a tenth; the equation is a fit with errors of about 0.13 on average.
TENTHS = 0.2
# [b] is a rule of thumb in whole percents.
WHOLE_PERCENT = 0.3


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8


@pytest.mark.parametrize(
    ("fahrenheit", "humidity", "moisture", "slack"),
    [
        (70, 25, 5.3, TENTHS),  # [a]
        (70, 30, 6.0, WHOLE_PERCENT),  # [b]
        (70, 50, 9.0, WHOLE_PERCENT),  # [b]
        (70, 60, 11.1, TENTHS),  # [a]
        (70, 65, 12.0, WHOLE_PERCENT),  # [b]
        (70, 84, 17.6, TENTHS),  # [a]
        (140, 55, 8.4, TENTHS),  # [c], its equation; its table says 8.0
    ],
)
def test_published_points(fahrenheit: float, humidity: float, moisture: float, slack: float) -> None:
    assert equilibrium_moisture(celsius(fahrenheit), humidity) == pytest.approx(moisture, abs=slack)


def test_damper_air_makes_damper_wood_and_warmer_air_drier() -> None:
    by_humidity = [equilibrium_moisture(20, humidity) for humidity in range(0, 100, 5)]
    assert by_humidity == sorted(by_humidity)
    assert by_humidity[0] == 0
    assert equilibrium_moisture(30, 50) < equilibrium_moisture(10, 50)


@pytest.mark.parametrize(("temperature", "humidity"), [(20, 100), (20, -1), (150, 50)])
def test_air_there_is_not(temperature: float, humidity: float) -> None:
    with pytest.raises(ValueError, match="give"):
        equilibrium_moisture(temperature, humidity)
