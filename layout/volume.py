"""How much wood is bought: cubic metres, board feet, and what waste does to them."""

__all__ = ["BOARD_FOOT", "board_feet", "buy_for_waste", "cubic_metres", "waste_from_added"]

_INCH = 25.4

# 1 in x 12 in x 12 in, exactly [m3].
BOARD_FOOT = 144 * _INCH**3 / 1e9


def cubic_metres(length: float, width: float, thickness: float) -> float:
    """Volume of a board from millimetres [m3]."""
    return length * width * thickness / 1e9


def board_feet(length: float, width: float, thickness: float) -> float:
    """Board feet of a board from millimetres.

    Wood under one inch thick counts as one inch (from memory, unverified).
    """
    return cubic_metres(length, width, max(thickness, _INCH)) / BOARD_FOOT


def buy_for_waste(net: float, waste: float) -> float:
    """How much to buy so that `net` is left when a share `waste` of what was bought is lost.

    Raises
    ------
    ValueError
        A share that is not 0 to below 1.
    """
    if not 0 <= waste < 1:
        raise ValueError(f"waste is {waste}; give a share of what is bought, 0 to below 1")
    return net / (1 - waste)


def waste_from_added(added: float) -> float:
    """The share of the purchase lost when a share `added` of the net was added: 0.30 added is 0.231 lost."""
    if added < 0:
        raise ValueError(f"added is {added}; give 0 or more")
    return added / (1 + added)
