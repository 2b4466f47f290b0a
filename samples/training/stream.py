"""Made cuts that go on coming while the net already learns from those that are there."""

import itertools
import multiprocessing
import os
import threading
from collections import deque
from pathlib import Path

from samples.training.made import Cut, load_transplants
from samples.training.scanned import cut_of, load_scanned

__all__ = ["CutStream"]

_ROOM = 4000  # cuts that are kept until they are taken


class CutStream:
    """Cuts of ever new seeds from processes in the background, in the order in which they are done.

    Start it before the GPU is touched: its processes are forks of this one.
    """

    def __init__(
        self, first_seed: int, scans: Path | None, cores: int | None = None, scanned: float = 0.0
    ) -> None:
        load_transplants(scans)
        load_scanned(scans, scanned)
        cores = cores or max(1, len(os.sched_getaffinity(0)) - 2)
        self._seeds = itertools.count(first_seed)
        self._done: deque[Cut] = deque()
        self._wrong: BaseException | None = None
        self._pool = multiprocessing.get_context("fork").Pool(cores, os.nice, (5,))
        self._under_way, self._most_under_way = 0, 3 * cores
        self._lock = threading.Lock()
        self._ask()

    def taken(self, most: int) -> list[Cut]:
        """What has come since it was last asked, so many at most."""
        if self._wrong is not None:
            raise RuntimeError("a cut could not be made") from self._wrong
        cuts = [self._done.popleft() for _ in range(min(most, len(self._done)))]
        self._ask()  # there may be room again, and nothing under way that would tell
        return cuts

    @property
    def waiting(self) -> int:
        """How many have come and were not taken."""
        return len(self._done)

    def stop(self) -> None:
        """No more of them."""
        self._pool.terminate()

    def _ask(self) -> None:
        """For as many more as there is room for."""
        with self._lock:
            while self._under_way < self._most_under_way and len(self._done) + self._under_way < _ROOM:
                self._under_way += 1
                self._pool.apply_async(
                    cut_of, (next(self._seeds),), callback=self._came, error_callback=self._failed
                )

    def _came(self, cut: Cut) -> None:
        with self._lock:
            self._done.append(cut)
            self._under_way -= 1
        self._ask()

    def _failed(self, wrong: BaseException) -> None:
        self._wrong = wrong
