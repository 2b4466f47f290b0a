"""The second core's work seen from the first: a process that looks for a bound while the search runs."""

import pickle
import subprocess
import sys
from collections.abc import Sequence
from threading import Thread
from time import monotonic
from typing import IO

from layout.allowances import Shop
from layout.parts import Part
from layout.placement import Placement
from layout.stock import Board

__all__ = ["Prover"]

_BETTER = 1e-6
_MOST_COPIES = 20  # beyond these the constraint programme has never proved anything in time


class Prover:
    """A bound that gets better while one does something else.

    `of_class` says whether it holds for the shop's order of straight cuts only.

    Parameters
    ----------
    boards, parts, shop, locked
        The job.
    seconds : float
        How long to try [s].
    """

    def __init__(
        self,
        boards: Sequence[Board],
        parts: Sequence[Part],
        shop: Shop,
        locked: Sequence[Placement],
        seconds: float,
    ) -> None:
        self.bound: float | None = None
        self.of_class = False
        self.done = False
        self._process: subprocess.Popen[bytes] | None = None
        task = pickle.dumps((list(boards), list(parts), shop, list(locked), seconds, _MOST_COPIES))
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "layout.solve.prove"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        except OSError:
            return  # no second process to be had: a plan without a bound
        self._reader = Thread(target=self._read, args=(self._process, task), daemon=True)
        self._reader.start()

    def _read(self, process: "subprocess.Popen[bytes]", task: bytes) -> None:
        if process.stdin is None or process.stdout is None:
            return
        try:
            process.stdin.write(task)
            process.stdin.close()
            self._listen(process.stdout)
        except (OSError, ValueError):
            return  # ended from the other side, as `close` does

    def _listen(self, lines: IO[bytes]) -> None:
        for line in lines:
            word, _, value = line.decode().strip().partition(" ")
            if value and value != "none" and (self.bound is None or float(value) > self.bound + _BETTER):
                self.bound, self.of_class = float(value), word == "class"
            if word == "done":
                self.done = True

    def meets(self, money: float) -> bool:
        """Whether a plan of this money is proved to be the cheapest."""
        return self.bound is not None and money <= self.bound + 0.005

    def first(self, seconds: float) -> float | None:
        """The bound, waited for so long if there is none yet [s]."""
        until = monotonic() + seconds
        while self.bound is None and self._process is not None and monotonic() < until:
            self._reader.join(timeout=0.02)
            if not self._reader.is_alive():
                break
        return self.bound

    def wait(self, seconds: float) -> None:
        """Wait for the end of the work, at most so long [s]."""
        if self._process is not None:
            self._reader.join(timeout=seconds)

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            if self._process.poll() is None:
                self._process.kill()
            self._process.wait()
            self._reader.join(timeout=1.0)
            for pipe in (self._process.stdin, self._process.stdout):
                if pipe is not None:
                    pipe.close()
            self._process = None
