"""How many cases: a few in every run, many in the long run kept behind the marker `soak`.

A long run can be cut into rounds, each with cases of its own, so that it can be
stopped and gone on with::

    for round in 0 1 2 3 4; do SOAK_ROUND=$round SOAK_CASES=2000 pytest -m soak tests/robust -k damaged; done
"""

import contextlib
import os
import resource
import signal
from collections.abc import Iterator
from random import Random
from types import FrameType

import pytest

__all__ = ["HANG", "ROUND", "few_or_many", "grown_mb", "hang_after", "seeded"]

ROUND = int(os.environ.get("SOAK_ROUND", "0"))
"""Which stretch of the random cases this run tries."""
_CASES = os.environ.get("SOAK_CASES")

HANG = 20
"""Seconds after which one case counts as hung: a hundred times what any takes."""


def few_or_many(few: int, many: int = 10_000) -> pytest.MarkDecorator:
    """A test's argument `cases`: few in the quick run, many in the soak, or as many as SOAK_CASES says."""
    many = int(_CASES) if _CASES else many
    return pytest.mark.parametrize(
        "cases",
        [pytest.param(few, id=f"quick-{few}"), pytest.param(many, id=f"soak-{many}", marks=pytest.mark.soak)],
    )


def seeded(seed: int) -> Random:
    """The chance of a test; another in every round."""
    return Random(f"{seed}, round {ROUND}") if ROUND else Random(seed)


@contextlib.contextmanager
def hang_after(seconds: float, what: str) -> Iterator[None]:
    """Fail, naming the case, when it takes longer than any case may."""

    def late(signum: int, frame: FrameType | None) -> None:
        raise TimeoutError(f"{what}: no answer after {seconds} s")

    before = signal.signal(signal.SIGALRM, late)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


@contextlib.contextmanager
def grown_mb(most: float) -> Iterator[None]:
    """Fail when the memory of this process reaches a new height by more than this [MB]."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    yield
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    assert grown <= most, f"memory grew by {grown:.0f} MB; the most is {most:.0f}"
