"""Loops that numpy cannot say in one breath, compiled: the only place that knows by what.

Such a function takes arrays and whole numbers and uses nothing of other modules, whose changes
would not be noticed. It is compiled when it is first called, once for each installation: the result
is kept beside the bytecode, or in the user's cache where that may not be written. Who never
calls one never loads the compiler, which takes a hundred megabytes.
"""

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

__all__ = ["compile_all", "compiled"]

P = ParamSpec("P")
R = TypeVar("R")
_all: list[Callable[[], object]] = []


def compiled(signature: str | list[str]) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """A decorator that compiles a function for arguments of these types.

    Parameters
    ----------
    signature : str, or list of them
        What it returns, and of what, in numba's words: "void(int16[:, ::1])".
    """

    def made(function: Callable[P, R]) -> Callable[P, R]:
        found: Callable[P, R] | None = None

        def compile_it() -> Callable[P, R]:
            nonlocal found
            if found is None:
                found = _compiled(signature, function)
            return found

        @wraps(function)
        def called(*args: P.args, **kwargs: P.kwargs) -> R:
            return (found or compile_it())(*args, **kwargs)

        _all.append(compile_it)
        return called

    return made


def compile_all() -> None:
    """Compile all that was imported so far."""
    for compile_it in _all:
        compile_it()


def _compiled(signature: str | list[str], function: Callable[P, R]) -> Callable[P, R]:
    from numba import njit

    found: Callable[P, R]
    try:
        found = njit(signature, cache=True, nogil=True)(function)
    except Exception:  # nowhere to keep it, a full disk, a damaged file: for this process only
        found = njit(signature, nogil=True)(function)
    return found
