"""Made cuts that go on coming while the net already learns from those that are there."""

import multiprocessing
import os
from collections import deque
from pathlib import Path

from samples.training.made import Cut, load_transplants, made_cut

__all__ = ["CutStream"]


class CutStream:
    """Cuts of ever new seeds from processes in the background, in the order in which they are done.

    Start it before the GPU is touched: its processes are forks of this one.
    """

    def __init__(self, first_seed: int, scans: Path | None, cores: int | None = None) -> None:
        load_transplants(scans)
        cores = cores or max(1, len(os.sched_getaffinity(0)) - 2)
        self._next = first_seed
        self._done: deque[Cut] = deque()
        self._wrong: BaseException | None = None
        self._pool = multiprocessing.get_context("fork").Pool(cores, os.nice, (5,))
        for _ in range(3 * cores):
            self._ask()

    def taken(self, most: int) -> list[Cut]:
        """What has come since it was last asked, so many at most."""
        if self._wrong is not None:
            raise RuntimeError("a cut could not be made") from self._wrong
        return [self._done.popleft() for _ in range(min(most, len(self._done)))]

    def stop(self) -> None:
        """No more of them."""
        self._pool.terminate()

    def _ask(self) -> None:
        self._pool.apply_async(made_cut, (self._next,), callback=self._came, error_callback=self._failed)
        self._next += 1

    def _came(self, cut: Cut) -> None:
        self._done.append(cut)
        if len(self._done) < 4000:
            self._ask()

    def _failed(self, wrong: BaseException) -> None:
        self._wrong = wrong
