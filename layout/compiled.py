"""Loops that numpy cannot say in one breath, compiled: the only place that knows by what.

Such a function takes arrays and whole numbers and uses nothing of other modules, whose changes
would not be noticed. It is compiled when its module is imported, once for each installation: the result
is kept beside the bytecode, or in the user's cache where that may not be written.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar

from numba import njit

__all__ = ["compiled"]

P = ParamSpec("P")
R = TypeVar("R")


def compiled(signature: str | list[str]) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """A decorator that compiles a function for arguments of these types, at once.

    Parameters
    ----------
    signature : str, or list of them
        What it returns, and of what, in numba's words: "void(int16[:, ::1])".
    """

    def made(function: Callable[P, R]) -> Callable[P, R]:
        found: Callable[P, R]
        try:
            found = njit(signature, cache=True, nogil=True)(function)
        except Exception:  # nowhere to keep it, a full disk, a damaged file: for this process only
            found = njit(signature, nogil=True)(function)
        return found

    return made
