"""Loops that numpy cannot say in one breath, compiled: the only place that knows by what.

Such a function takes arrays and numbers and uses nothing of other modules, whose changes
would not be noticed; it may call others of its own module, each of them above it. It is compiled
when it is first called, once for each installation: the result is kept beside the bytecode, or in
the user's cache where that may not be written. Who never calls one never loads the compiler, which
takes a hundred megabytes.
"""

from collections.abc import Callable
from functools import WRAPPER_ASSIGNMENTS, update_wrapper, wraps
from inspect import isfunction
from types import FunctionType
from typing import Any, ParamSpec, TypeVar

__all__ = ["compile_all", "compiled", "loaded"]

P = ParamSpec("P")
R = TypeVar("R")
_all: dict[Callable[..., Any], Callable[[], object]] = {}  # what is called, to what compiles it


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
                found = _compiled(signature, _with_compiled(function))
            return found

        @wraps(function)
        def called(*args: P.args, **kwargs: P.kwargs) -> R:
            return (found or compile_it())(*args, **kwargs)

        _all[called] = compile_it
        return called

    return made


def compile_all() -> None:
    """Compile all that was imported so far."""
    for compile_it in list(_all.values()):
        compile_it()


def loaded(*functions: Callable[..., Any]) -> None:
    """Compile or load some of them now, before time that counts begins."""
    for function in functions:
        _all[function]()


def _with_compiled(function: Callable[P, R]) -> Callable[P, R]:
    """The function, with what it calls compiled too: a compiler cannot look into what is made here."""
    assert isinstance(function, FunctionType)
    named = function.__globals__
    called = {name: named[name] for name in function.__code__.co_names if isfunction(named.get(name))}
    own = {name: _all[each]() for name, each in called.items() if each in _all}
    if not own:
        return function
    found = FunctionType(function.__code__, {**named, **own}, function.__name__)
    return update_wrapper(found, function, WRAPPER_ASSIGNMENTS, ())


def _compiled(signature: str | list[str], function: Callable[P, R]) -> Callable[P, R]:
    from numba import njit

    found: Callable[P, R]
    try:
        found = njit(signature, cache=True, nogil=True)(function)
    except Exception:  # nowhere to keep it, a full disk, a damaged file: for this process only
        found = njit(signature, nogil=True)(function)
    return found
