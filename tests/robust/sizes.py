"""How many cases: a few in every run, many in the long run kept behind the marker `soak`."""

import contextlib
import resource
import signal
from collections.abc import Iterator
from types import FrameType

import pytest

__all__ = ["HANG", "few_or_many", "grown_mb", "hang_after"]

HANG = 20
"""Seconds after which one case counts as hung: a hundred times what any takes."""


def few_or_many(few: int, many: int = 10_000) -> pytest.MarkDecorator:
    """A test's argument `cases`: few in the quick run, many in the soak."""
    return pytest.mark.parametrize(
        "cases",
        [pytest.param(few, id=f"quick-{few}"), pytest.param(many, id=f"soak-{many}", marks=pytest.mark.soak)],
    )


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
