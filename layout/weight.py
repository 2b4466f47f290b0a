"""What parts and tops weigh, and how many hands they need.

References
----------
[1] Lifting filter of the British guidance on manual handling: 25 kg for men, 16 kg for
    women at knuckle height close to the body; two people lift two thirds, three people
    half of the sum of what each could (read at second hand). Guides, not limits.
"""

from dataclasses import dataclass

from layout.timber import Timber

__all__ = ["LIFTING_GUIDE", "Lift", "lift_of", "part_weight", "weight_of"]

# People, kilograms for men, kilograms for women [1].
LIFTING_GUIDE: tuple[tuple[int, float, float], ...] = (
    (1, 25.0, 16.0),
    (2, 2 * 25.0 * 2 / 3, 2 * 16.0 * 2 / 3),
    (3, 3 * 25.0 / 2, 3 * 16.0 / 2),
)


@dataclass(frozen=True)
class Lift:
    """How a weight is best moved.

    Parameters
    ----------
    weight : float
        [kg]
    people : int or None
        Fewest people by the guide for men; None when even three are too few.
    advice : str
        One sentence fit to print.
    """

    weight: float
    people: int | None
    advice: str


def weight_of(length: float, width: float, thickness: float, timber: Timber) -> float:
    """Weight of a block of wood at 12 % moisture [kg], give or take 10 % for a single board.

    Parameters
    ----------
    length, width, thickness : float
        [mm]
    timber : Timber
    """
    for what, size in (("length", length), ("width", width), ("thickness", thickness)):
        if not size > 0:
            raise ValueError(f"{what} is {size}; give a number above 0 (mm)")
    return length * width * thickness * 1e-9 * timber.density.value


def part_weight(area: float, thickness: float, timber: Timber) -> float:
    """Weight of a shaped part from the area of its outline [mm2] and its thickness [mm], in kg."""
    if not (area > 0 and thickness > 0):
        raise ValueError(f"area {area}, thickness {thickness}; give numbers above 0 (mm2, mm)")
    return area * thickness * 1e-9 * timber.density.value


def lift_of(weight: float) -> Lift:
    """How many hands a weight asks for by the lifting guide."""
    if not weight >= 0:
        raise ValueError(f"weight is {weight}; give 0 or more (kg)")
    for people, men, women in LIFTING_GUIDE:
        if weight <= women:
            return Lift(weight, people, _advice(weight, people, "by the guide for women and men"))
        if weight <= men:
            text = f"by the guide for men; more than the {women:.0f} kg of the guide for women"
            return Lift(weight, people, _advice(weight, people, text))
    text = "more than three people should lift by the guide; use trestles, a trolley, a panel carrier."
    return Lift(weight, None, f"{weight:.0f} kg: {text}")


def _advice(weight: float, people: int, by: str) -> str:
    hands = {1: "one person can lift it", 2: "two people lift it", 3: "three people lift it"}[people]
    return f"{weight:.0f} kg: {hands} {by}, at knuckle height and close to the body."
