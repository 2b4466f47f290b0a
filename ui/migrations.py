"""How a job file of an earlier version becomes one of this version: one step a version, kept for ever.

A step is a function from the plain dict of version n to that of version n + 1;
it may rename, split and fill in, and never throws a mark, a board or a part
away. Fields that are merely added with a default need no step and no new
version. For each version a job file written by it is kept among the tests,
and must open.
"""

from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["STEPS", "brought_up"]

Raw = dict[str, Any]

STEPS: Mapping[int, Callable[[Raw], Raw]] = {}
"""From the version named to the next; none yet, there has been one version so far."""


def brought_up(raw: Raw, version: int, steps: Mapping[int, Callable[[Raw], Raw]] = STEPS) -> Raw | None:
    """The job file as a given version writes it; None where no steps lead there.

    Parameters
    ----------
    raw : dict
        A job file of that version or an earlier one; not changed.
    version : int
    steps : mapping of int to callable, optional
    """
    at = raw.get("version")
    while at != version:
        if not isinstance(at, int) or at not in steps:
            return None
        raw = {**steps[at](dict(raw)), "version": at + 1}
        at += 1
    return raw
