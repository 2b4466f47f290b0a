"""When to stop searching: time, rounds, or the maker's word."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic, process_time

from layout.solve.params import SolveParams

__all__ = ["Stop"]

_MOST_KEPT_BACK = 0.25  # of the limit


class Stop:
    """Answers whether to go on.

    Parameters
    ----------
    params : SolveParams
    should_stop : function, optional
        Asked at least every few hundredths of a second; true ends the search.
    """

    def __init__(self, params: SolveParams, should_stop: Callable[[], bool] | None = None) -> None:
        self.started = monotonic()
        self._processor = process_time()
        self.rounds = 0
        self._seconds = params.seconds
        self._iterations = params.iterations
        self._should_stop = should_stop
        self._turn_ends: int | None = None

    @property
    def counted(self) -> bool:
        """Whether the search is limited by rounds, not by time."""
        return self._iterations is not None

    def elapsed(self) -> float:
        """Since the start [s]."""
        return monotonic() - self.started

    def cancelled(self) -> bool:
        """Whether the maker has asked to stop."""
        return self._should_stop is not None and self._should_stop()

    def now(self, share: float = 1.0) -> bool:
        """Whether to stop, or to end a stage that may use this share of the limit."""
        if self.cancelled() or (self._turn_ends is not None and self.rounds >= self._turn_ends):
            return True
        if self._iterations is not None:
            return self.rounds >= self._iterations * share
        return self.elapsed() >= self._seconds * share

    def cut(self) -> bool:
        """Whether time is up, or the maker has asked to stop; rounds do not count."""
        return self.cancelled() or (not self.counted and self.elapsed() >= self._seconds)

    def early(self, seconds: float) -> bool:
        """Whether less than that has passed since the start; never where rounds are counted [s]."""
        return not self.counted and self.elapsed() < seconds

    @contextmanager
    def turn(self, rounds: int) -> Iterator[None]:
        """A stretch of so many rounds, after which `now` says yes until the stretch is left."""
        self._turn_ends = self.rounds + rounds
        try:
            yield
        finally:
            self._turn_ends = None

    def end_within(self, seconds: float) -> None:
        """Bring the end nearer: that long from now at most; no change where rounds are counted [s]."""
        self._seconds = min(self._seconds, self.elapsed() + seconds)

    def keep_back(self, seconds: float) -> None:
        """Keep so much of a processor for what comes after the search, a quarter of the limit at most [s].

        On a busy machine that takes as many times longer as all has taken so far.
        """
        busy = max(self.elapsed() / max(process_time() - self._processor, 0.01), 1.0)
        self._seconds -= min(seconds * busy, _MOST_KEPT_BACK * self._seconds)

    def left(self, share: float = 1.0) -> float:
        """Time left of that share of the limit; of a generous minute where rounds are counted [s]."""
        if self.counted:
            return 60.0
        return max(self._seconds * share - self.elapsed(), 0.0)
