"""Published values of hardwoods, each with its source and how far it can be trusted.

A figure from memory is a default to be replaced, not something a standard says:
its mark is `Trust.MEMORY` and whatever prints it says "unverified". Figures are
averages of many trees; a single board may differ (density by some 10 %).

References
----------
[1] Wood Handbook, FPL-GTR-190 (2010), Table 13-5, dimensional change coefficients (read).
[2] The same, Table 4-3, shrinkage from green to ovendry (read).
[3] Data sheet European oak, europeanwood.org: shrinkage, density (read at second hand).
[4] Specific gravities after the Wood Handbook, woodworkingnetwork.com (read at second hand).
[5] Specific gravities in a species table on the web (read at second hand).
"""

from dataclasses import dataclass
from enum import StrEnum

from layout.errors import LayoutError

__all__ = [
    "TIMBERS",
    "Figure",
    "Timber",
    "Trust",
    "coefficient_from_shrinkage",
    "density_at",
    "timber_called",
]

_T13_5 = "Wood Handbook (2010), Table 13-5"
_T4_3 = "Wood Handbook (2010), Table 4-3"
_OAK = "European oak sheet, europeanwood.org"
_RULE = "1/(3000/S - 20) from the shrinkage S"
_G_NET = "G after the Wood Handbook, woodworkingnetwork.com, x 1.12"
_G_WEB = "G from a species table on the web, x 1.12"


class Trust(StrEnum):
    """How far a figure can be trusted."""

    READ = "read in the source"
    SECOND_HAND = "read at second hand"
    COMPUTED = "computed from read figures"
    MEMORY = "unverified (from memory)"
    PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Figure:
    """One published number.

    Parameters
    ----------
    value : float
    trust : Trust
    source : str
    """

    value: float
    trust: Trust
    source: str

    @property
    def verified(self) -> bool:
        """Whether it was read, or computed from what was read."""
        return self.trust in (Trust.READ, Trust.SECOND_HAND, Trust.COMPUTED)


@dataclass(frozen=True)
class Timber:
    """What a layout needs to know of a kind of wood.

    Parameters
    ----------
    name : str
    radial, tangential : Figure
        Change of size for 1 % of moisture, as a share of the size: across a
        quarter-sawn and across a flat-sawn board [1/%].
    density : Figure
        At 12 % moisture content [kg/m3].
    also : tuple of str
        Other names it is asked for by.
    """

    name: str
    radial: Figure
    tangential: Figure
    density: Figure
    also: tuple[str, ...] = ()


def coefficient_from_shrinkage(shrinkage: float) -> float:
    """Change for 1 % of moisture from the shrinkage green to ovendry [1/%].

    C = 1 / (3000/S - 20): fibre saturation at 30 %, referred to the size at 10 %.
    It rebuilds 34 of the 38 hardwoods that stand in both tables of the Wood
    Handbook (tests/truth). The rough rule S/3000 comes out 4 to 7 % low.

    Parameters
    ----------
    shrinkage : float
        Green to ovendry [% of the green size].

    Raises
    ------
    ValueError
        A shrinkage outside 0 to 25 %.
    """
    if not 0 < shrinkage <= 25:
        raise ValueError(f"shrinkage is {shrinkage} %; give a number above 0 and up to 25")
    return 1 / (3000 / shrinkage - 20)


def density_at(gravity: float, moisture: float) -> float:
    """Density of wood from its specific gravity [kg/m3].

    rho = 1000 G (1 + x/100): G is ovendry mass over the volume at x, so the
    water comes on top; 0.68 at 12 % is 761.6, not 680.

    Parameters
    ----------
    gravity : float
        Ovendry mass over volume at the moisture content [relative to water].
    moisture : float
        [%]
    """
    if not (0 < gravity < 1.5 and moisture >= 0):
        raise ValueError(f"gravity {gravity} at {moisture} %; give 0 to 1.5, and a moisture of 0 or more")
    return 1000 * gravity * (1 + moisture / 100)


def timber_called(species: str) -> Timber:
    """The timber of a name, however it is written.

    Raises
    ------
    LayoutError
        No published values are kept for it.
    """
    wanted = " ".join(species.lower().replace(",", " ").split())
    for timber in TIMBERS:
        if wanted in (timber.name, *timber.also):
            return timber
    known = ", ".join(timber.name for timber in TIMBERS)
    raise LayoutError(f"no published values for {species!r}; known are {known}")


def _book(radial: float, tangential: float) -> tuple[Figure, Figure]:
    return Figure(radial, Trust.READ, _T13_5), Figure(tangential, Trust.READ, _T13_5)


def _from_shrinkage(radial: float, tangential: float, source: str) -> tuple[Figure, Figure]:
    note = f"{_RULE}, {source}"
    return (
        Figure(coefficient_from_shrinkage(radial), Trust.COMPUTED, f"{note}: {radial} %"),
        Figure(coefficient_from_shrinkage(tangential), Trust.COMPUTED, f"{note}: {tangential} %"),
    )


def _gravity(value: float, source: str = _G_NET, trust: Trust = Trust.SECOND_HAND) -> Figure:
    return Figure(density_at(value, 12), trust, source)


def _heavy(value: float, source: str, trust: Trust = Trust.MEMORY) -> Figure:
    return Figure(value, trust, source)


TIMBERS: tuple[Timber, ...] = (
    Timber(
        "oak",
        *_from_shrinkage(4.3, 8.9, _OAK),
        _heavy(702, _OAK, Trust.SECOND_HAND),
        ("european oak", "oak european"),
    ),
    Timber("white oak", *_book(0.00180, 0.00365), _gravity(0.68), ("oak white", "american white oak")),
    Timber("red oak", *_book(0.00158, 0.00369), _gravity(0.63), ("oak red", "american red oak")),
    Timber("ash", *_book(0.00169, 0.00274), _gravity(0.60), ("white ash", "ash white")),
    Timber("beech", *_book(0.00190, 0.00431), _gravity(0.64), ("american beech", "beech american")),
    Timber(
        "birch", *_book(0.00256, 0.00338), _heavy(690, "no source at hand"), ("yellow birch", "birch yellow")
    ),
    Timber("cherry", *_book(0.00126, 0.00248), _gravity(0.50, _G_WEB), ("black cherry", "cherry black")),
    Timber("chestnut", *_book(0.00116, 0.00234), _heavy(480, "no source at hand"), ("american chestnut",)),
    Timber("maple", *_book(0.00165, 0.00353), _gravity(0.63), ("hard maple", "sugar maple", "maple sugar")),
    Timber(
        "soft maple", *_book(0.00137, 0.00289), _heavy(605, "no source at hand"), ("red maple", "maple red")
    ),
    Timber(
        "walnut",
        *_book(0.00190, 0.00274),
        _gravity(0.55, "G from memory, x 1.12", Trust.MEMORY),
        ("black walnut", "walnut black"),
    ),
    Timber("sycamore", *_book(0.00172, 0.00296), _heavy(550, "no source at hand"), ("american sycamore",)),
    Timber(
        "elm", *_book(0.00144, 0.00338), _heavy(560, "no source at hand"), ("american elm", "elm american")
    ),
)
