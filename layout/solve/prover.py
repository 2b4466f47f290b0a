"""The second core's work seen from the first: a process that looks for a bound while the search runs."""

import json
import pickle
import subprocess
import sys
from collections.abc import Sequence
from math import inf
from threading import Thread
from time import monotonic
from typing import IO

from layout.allowances import Shop
from layout.cost import money_for
from layout.cuts import sawable
from layout.parts import Part
from layout.placement import Placement
from layout.solve.construct import Draft
from layout.solve.filling import Filling
from layout.solve.job import Job
from layout.solve.result import best_pose
from layout.stock import Board

__all__ = ["MOST_COPIES", "Piece", "Prover", "draft_of"]

Piece = tuple[str, str, float, float]  # board, part, and the corner of its sawn piece [mm]

_WORDS = ("bound", "class", "done", "plan")
_CENT = 0.005
_BETTER = 1e-3  # by which a bound has to be higher than the one before [money]
MOST_COPIES = 20  # beyond these the constraint programme has never proved anything in time


class Prover:
    """A bound that gets better while one does something else.

    `of_class` says whether it holds for the shop's order of straight cuts only.

    Parameters
    ----------
    boards, parts, shop, locked
        The job.
    seconds : float
        How long to try [s].
    searched : float
        Limit of a search of its own, before anything is proved; none if 0 [s].
    seed : int
        Of that search.
    """

    def __init__(
        self,
        boards: Sequence[Board],
        parts: Sequence[Part],
        shop: Shop,
        locked: Sequence[Placement],
        seconds: float,
        searched: float = 0.0,
        seed: int = 0,
    ) -> None:
        self._boards, self._held = list(boards), {item.board for item in locked}
        self._plan: list[Piece] | None = None
        self.bound: float | None = None
        self.of_class = False
        self.done = False
        self._process: subprocess.Popen[bytes] | None = None
        limits = (seconds, MOST_COPIES, searched, seed)
        task = pickle.dumps((list(boards), list(parts), shop, list(locked), *limits))
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
            word, _, value = line.decode(errors="replace").strip().partition(" ")
            if word not in _WORDS:
                continue  # libraries write there too: a solver's warning once ended the listening
            if word == "plan":
                self._plan = [(board, part, x, y) for board, part, x, y in json.loads(value)]
                continue
            if value and value != "none" and (self.bound is None or float(value) > self.bound + _BETTER):
                self.bound, self.of_class = float(value), word == "class"
            if word == "done":
                self.done = True

    def meets(self, money: float) -> bool:
        """Whether a plan of this money is proved to be the cheapest."""
        return self.bound is not None and money <= self.bound + _CENT

    def offers(self, below: float) -> bool:
        """Whether a plan was found on the way and not told yet that costs less than so much [money]."""
        used = self._held.union(piece[0] for piece in self._plan or ())
        return self._plan is not None and money_for(b for b in self._boards if b.id in used) < below - _CENT

    def plan(self, below: float = inf) -> list[Piece] | None:
        """The last plan the other process found on its way, told once: where every sawn piece lies.

        None if it does not cost less than so much, which is asked for when it is at hand [money].
        """
        cheaper = self.offers(below)
        found, self._plan = self._plan, None
        return found if cheaper else None

    def first(self, seconds: float) -> float | None:
        """The bound, waited for so long if there is none yet [s]."""
        until = monotonic() + seconds
        while self.bound is None and self._process is not None and monotonic() < until:
            self._reader.join(timeout=0.02)
            if not self._reader.is_alive():
                break
        return self.bound

    def works(self) -> bool:
        """Whether the other process may still tell something."""
        return self._process is not None and self._reader.is_alive()

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


def draft_of(job: Job, pieces: Sequence[Piece]) -> Draft | None:
    """A plan told by the places of its sawn pieces, if all are allowed where they lie and can be sawn."""
    boards = {board.id: number for number, board in enumerate(job.boards)}
    parts = {part.name: number for number, part in enumerate(job.parts)}
    draft = Draft(list(job.wanted))
    for board in {piece[0] for piece in pieces}:
        number = boards[board]
        places = tuple((parts[part], x, y) for on, part, x, y in pieces if on == board)
        sizes, ground = job.maps[number].sizes, job.grounds[number]
        boxes = [(x, y, x + sizes[t][0], y + sizes[t][1]) for t, x, y in places]
        straight = sawable([*boxes, *job.taken[number]], job.sawing, job.shop.stages, job.kerf)
        maps = job.maps[number]
        if not straight or not all(
            maps[t].allows(x, y) or best_pose(ground, job.parts[t], x, y) is not None for t, x, y in places
        ):
            return None
        counts = [sum(t == part for t, _, _ in places) for part in range(len(job.parts))]
        draft.put(Filling(number, tuple(counts), places))
    return draft if min(draft.missing, default=0) >= 0 else None
