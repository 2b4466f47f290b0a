"""The form of a sawn board as `vision.adjust` draws it: how its long edges bend, and its four sides."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["bend", "edge_bends", "off_side"]


def bend(board: dict[str, float], curve: str, part: ArrayLike) -> NDArray[np.float64]:
    """How far the "crook" or "belly" of a board bends at a part of its length, 0 to 1 [mm]."""
    at = np.asarray(part, dtype=np.float64)
    waves = [4 * at * (1 - at), *(np.sin(n * np.pi * at) for n in range(2, 5))]
    return np.asarray(sum(board[f"{curve} {n}"] * wave for n, wave in enumerate(waves, start=1)))


def edge_bends(board: dict[str, float], part: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far the datum edge and the far edge bend, both counted across from datum to far edge [mm]."""
    both, half = bend(board, "crook", part), bend(board, "belly", part) / 2
    return np.asarray(both - half), np.asarray(both + half)


def off_side(
    side: int, x: NDArray[np.float64], y: NDArray[np.float64], board: dict[str, float]
) -> NDArray[np.float64]:
    """How far points lie off one side of the board as drawn on top of this file [mm]."""
    part = x / board["length"]
    across = y - board["width"] / 2
    if side == 0:
        return y - edge_bends(board, part)[0]
    if side == 2:
        taper = (board["taper"] + board["seat taper"]) * (part - 0.5)
        return y - board["width"] - board["seat width"] - taper - edge_bends(board, part)[1]
    if side == 1:
        return x - board["length"] - board["seat length"] - board["skew far"] * across
    return x - board["skew near"] * across
