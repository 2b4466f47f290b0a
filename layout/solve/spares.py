"""Processes that have loaded what they need and wait for work: who needs one does not wait for that."""

import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from threading import Lock, Thread
from time import monotonic

__all__ = ["READY", "Spares", "begun", "ended"]

READY = b"ready\n"  # what such a process writes first


def begun(command: Sequence[str]) -> "subprocess.Popen[bytes]":
    """A process of a module of ours that reads what it has to do, and writes what it finds.

    Raises
    ------
    OSError
        There is no further process to be had.
    """
    return subprocess.Popen(
        [sys.executable, "-m", *command],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )


def ended(process: "subprocess.Popen[bytes]", *threads: Thread) -> None:
    """End a process, and the threads that listen to it or tell it things."""
    process.kill()
    process.wait()
    for thread in threads:
        thread.join(timeout=1.0)
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            with suppress(OSError):  # of what could not be written any more
                pipe.close()


class Spares:
    """Processes of one kind that wait.

    Parameters
    ----------
    *command : str
        The module, and what it is told; it writes `READY` when it has loaded what it needs, and ends
        with the end of its input.
    """

    def __init__(self, *command: str) -> None:
        self._command = command
        self._waiting: list[_Spare] = []
        self._lock = Lock()

    def keep(self, count: int) -> None:
        """Begin processes until so many wait, or load what they need."""
        with self._lock, suppress(OSError):  # no further process to be had: there are fewer
            for one in self._waiting:
                if one.process.poll() is not None:
                    one.end()
            self._waiting = [one for one in self._waiting if one.process.poll() is None]
            while len(self._waiting) < count:
                self._waiting.append(_Spare(self._command))

    def are_ready(self) -> bool:
        """Whether there is one that is ready."""
        with self._lock:
            return any(one.ready and one.process.poll() is None for one in self._waiting)

    def wait(self, seconds: float) -> None:
        """Wait until all that are kept are ready or have ended, at most so long [s]."""
        with self._lock:
            waiting = list(self._waiting)
        until = monotonic() + seconds
        for one in waiting:
            one.wait(max(until - monotonic(), 0.0))

    def taken(self) -> "subprocess.Popen[bytes] | None":
        """One that is ready, and no longer kept; None if there is none."""
        with self._lock:
            for one in self._waiting:
                if one.ready and one.process.poll() is None:
                    self._waiting.remove(one)
                    return one.process
        return None

    def end(self) -> None:
        """End those that wait."""
        with self._lock:
            for one in self._waiting:
                one.end()
            self._waiting = []


class _Spare:
    """One process, and whether it is ready."""

    def __init__(self, command: Sequence[str]) -> None:
        self.process, self.ready = begun(command), False
        self._listener = Thread(target=self._listen, daemon=True)
        self._listener.start()

    def wait(self, seconds: float) -> None:
        self._listener.join(timeout=seconds)

    def end(self) -> None:
        ended(self.process, self._listener)

    def _listen(self) -> None:
        assert self.process.stdout is not None
        with suppress(OSError, ValueError):  # ended meanwhile
            self.ready = self.process.stdout.readline() == READY
