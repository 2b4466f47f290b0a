"""How much a solid panel moves with the seasons, and the room its fixings need.

References
----------
[1] Wood Handbook, FPL-GTR-190 (2010), Chapter 13: change = size x C x (end - start),
    good from 6 to 14 % moisture content (read; formula at second hand).
[2] The same, Chapter 4: equilibrium moisture content (form read at second hand,
    Celsius constants from memory; they meet seven published points to 0.2 %, see
    tests/truth).
"""

from dataclasses import dataclass
from enum import StrEnum

from layout.timber import Figure, Timber, Trust

__all__ = [
    "HEATED_ROOM",
    "LIMITS",
    "Movement",
    "Sawn",
    "Season",
    "Slot",
    "equilibrium_moisture",
    "movement",
    "seasonal",
    "slot_for",
]

LIMITS = (6.0, 14.0)  # the formula holds between these moisture contents [%] [1]

# Common practice, no source: oak furniture in heated European rooms.
HEATED_ROOM = Figure(9.0, Trust.PRACTICE, "8 to 10 % in heated rooms")


class Sawn(StrEnum):
    """How the rings stand to the width of a board."""

    FLAT = "flat-sawn"
    QUARTER = "quarter-sawn"
    RIFT = "rift-sawn"  # between the two: reckoned half way, which is a guess


@dataclass(frozen=True)
class Movement:
    """A change of width.

    Parameters
    ----------
    change : float
        Positive when it swells [mm].
    holds : bool
        Whether both moisture contents lie where the formula is good.
    caution : str
        Empty, or why the figure is to be taken with care.
    """

    change: float
    holds: bool
    caution: str = ""


@dataclass(frozen=True)
class Season:
    """How a panel moves from the moisture it was made at to the driest and the dampest it meets.

    Parameters
    ----------
    shrinks, swells : float
        Both 0 or more [mm].
    width : float
        As made [mm].
    caution : str
    """

    shrinks: float
    swells: float
    width: float
    caution: str = ""

    @property
    def total(self) -> float:
        """From driest to dampest [mm]."""
        return self.shrinks + self.swells


@dataclass(frozen=True)
class Slot:
    """A slot across the grain for a screw, in a frame that does not move.

    Parameters
    ----------
    length : float
        Along the movement [mm].
    width : float
        Across it [mm].
    nearer : float
        From the middle of the screw, as fitted, to the slot's end nearest the
        line where the panel is held [mm].
    hole : float
        Diameter of a round slack hole that would do instead, screw in its middle [mm].
    """

    length: float
    width: float
    nearer: float
    hole: float


def equilibrium_moisture(temperature: float, humidity: float) -> float:
    """Moisture content wood comes to in air of this temperature and humidity [%].

    Parameters
    ----------
    temperature : float
        [degrees C]
    humidity : float
        Relative [%].

    Raises
    ------
    ValueError
        Humidity outside 0 to below 100 %, temperature outside -10 to 100 C.
    """
    if not 0 <= humidity < 100:
        raise ValueError(f"humidity is {humidity} %; give 0 to below 100")
    if not -10 <= temperature <= 100:
        raise ValueError(f"temperature is {temperature} C; give -10 to 100")
    t, h = temperature, humidity / 100
    weight = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    single, double = k1 * kh, k1 * k2 * kh**2
    return 1800 / weight * (kh / (1 - kh) + (single + 2 * double) / (1 + single + double))


def movement(width: float, timber: Timber, sawn: Sawn, start: float, end: float) -> Movement:
    """Change of a width between two moisture contents.

    Parameters
    ----------
    width : float
        At the start [mm].
    timber : Timber
    sawn : Sawn
    start, end : float
        Moisture contents [%].

    Raises
    ------
    ValueError
        A width that is not above 0, a moisture content that is not 0 to 30 %.
    """
    if not width > 0:
        raise ValueError(f"width is {width}; give a number above 0 (mm)")
    for moisture in (start, end):
        if not 0 <= moisture <= 30:
            raise ValueError(f"moisture {moisture} %; wood moves between 0 and 30 %, give one of these")
    change = width * _coefficient(timber, sawn) * (end - start)
    low, high = LIMITS
    if low <= min(start, end) and max(start, end) <= high:
        return Movement(change, True)
    text = f"outside {low:g} to {high:g} % the published coefficients only give a rough idea"
    return Movement(change, False, text)


def seasonal(width: float, timber: Timber, sawn: Sawn, made: float, driest: float, dampest: float) -> Season:
    """How far a panel made at one moisture content shrinks and swells over the year [mm].

    Parameters
    ----------
    width : float
        As made [mm].
    timber : Timber
    sawn : Sawn
    made, driest, dampest : float
        Moisture contents [%]; `equilibrium_moisture` gives them from the air of a room.

    Raises
    ------
    ValueError
        The driest is damper than the dampest.
    """
    if driest > dampest:
        raise ValueError(f"driest {driest} % is damper than dampest {dampest} %; swap them")
    dry = movement(width, timber, sawn, made, driest)
    damp = movement(width, timber, sawn, made, dampest)
    return Season(max(0.0, -dry.change), max(0.0, damp.change), width, dry.caution or damp.caution)


def slot_for(season: Season, distance: float, screw: float, play: float = 1.0) -> Slot:
    """The slot that lets a panel move at a screw some way from the line where it is held.

    Parameters
    ----------
    season : Season
        Of the whole panel.
    distance : float
        From the held line (middle or edge of the panel) to the screw, across the grain [mm].
    screw : float
        Diameter of its shank [mm].
    play : float
        Left at each end beyond the reckoned movement [mm]; common practice, no source.

    Raises
    ------
    ValueError
        A distance outside the panel, or a screw of no thickness.
    """
    if not 0 <= distance <= season.width:
        raise ValueError(f"distance is {distance}; give 0 to {season.width:g} mm")
    if not (screw > 0 and play >= 0):
        raise ValueError(f"screw {screw}, play {play}; give a screw above 0 mm and 0 or more play")
    share = distance / season.width
    inward, outward = season.shrinks * share + play, season.swells * share + play
    reach = max(inward, outward)
    return Slot(
        length=inward + outward + screw, width=screw + 0.5, nearer=inward + screw / 2, hole=2 * reach + screw
    )


def _coefficient(timber: Timber, sawn: Sawn) -> float:
    if sawn is Sawn.FLAT:
        return timber.tangential.value
    if sawn is Sawn.QUARTER:
        return timber.radial.value
    return (timber.radial.value + timber.tangential.value) / 2
