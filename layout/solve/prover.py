"""The other cores' work seen from the first: processes that look for a bound, or a cheaper plan."""

import atexit
import json
import pickle
import subprocess
import sys
from collections.abc import Iterable, Iterator, Sequence
from math import inf
from queue import SimpleQueue
from threading import Event, Thread
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
from layout.solve.spares import Spares, begun, ended
from layout.solve.steps import WAITING, Piece, Sharing, Steps, Work
from layout.stock import Board

__all__ = ["READY", "Prover", "draft_of", "is_ready", "keep_ready", "make_ready", "pieces_of"]

READY = "layout.compiled, layout.solve.exactly, layout.solve.setwise, layout.solve.straight"
_MODULE = "layout.solve.prove"
_spares, _kept = Spares(_MODULE, WAITING), Event()
_WORDS = ("bound", "class", "done", "plan", "soon")
_CENT = 0.005
_BETTER = 1e-3  # by which a bound has to be higher than the one before [money]


def make_ready() -> "subprocess.Popen[bytes] | None":
    """Begin to compile, in a process that ends with this one, what is compiled once for each installation.

    The first plan would have no bound otherwise: it would be compiled in the time for that.
    """
    try:
        process = subprocess.Popen(
            [sys.executable, "-c", f"import {READY}; layout.compiled.compile_all()"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    except OSError:
        return None  # no further process to be had
    atexit.register(process.kill)
    return process


def keep_ready() -> None:
    """Keep a process beside the search, and those it shares boards with, loaded for the next plan.

    Otherwise they begin with the plan, and are of use two seconds later.
    """

    def begin() -> None:
        process = make_ready()  # what is compiled at first would be compiled by each of them
        if process is not None:
            process.wait()
        _keep_spare()

    _kept.set()
    atexit.register(_spares.end)
    Thread(target=begin, daemon=True).start()


def is_ready() -> bool:
    """Whether a process waits that has loaded what it needs."""
    return _spares.are_ready()


def _keep_spare() -> None:
    if _kept.is_set():
        _spares.keep(1)


class Prover:
    """A bound, and plans, that get better while one does something else.

    `of_class` says whether the bound holds for the shop's order of straight cuts only, `searches`
    whether cheaper plans are looked for.

    Parameters
    ----------
    boards, parts, shop, locked
        The job.
    work : sequence of Steps
        What every process does.
    seed : int
        Of their searches.
    shares : Sharing, optional
        How boards asked set by set are shared out.
    """

    def __init__(
        self,
        boards: Sequence[Board],
        parts: Sequence[Part],
        shop: Shop,
        locked: Sequence[Placement],
        work: Sequence[Steps],
        seed: int = 0,
        shares: Sharing = Sharing(),  # noqa: B008 - it cannot be changed
    ) -> None:
        self._boards, self._held = list(boards), {item.board for item in locked}
        self._plans: dict[int, list[Piece]] = {}
        self.bound: float | None = None
        self.of_class = False
        self.done = False
        self._waited_for = shares.waits  # until plans soon found were told
        self.searches = any(what is Work.SEARCH for steps in work for what, _ in steps)
        self._others: list[_Other] = []
        for number, steps in enumerate(work):
            task = pickle.dumps((list(boards), list(parts), shop, list(locked), steps, seed + number, shares))
            try:
                self._others.append(_Other(self, number, task))
            except OSError:
                return  # no further process to be had: a plan without its help

    def listen(self, number: int, lines: Iterable[bytes]) -> None:
        """Hear what one of the processes says, to its end."""
        for line in lines:
            self._hear(number, line.decode(errors="replace").strip())

    def _hear(self, number: int, line: str) -> None:
        word, _, value = line.partition(" ")
        if word not in _WORDS:
            return  # libraries write there too: a solver's warning once ended the listening
        if word == "plan":
            pieces = [(board, part, x, y) for board, part, x, y in json.loads(value)]
            before = self._plans.get(number)
            if before is None or self._money(pieces) < self._money(before):
                self._plans[number] = pieces
            return
        if value and value != "none" and (self.bound is None or float(value) > self.bound + _BETTER):
            self.bound, self.of_class = float(value), word == "class"
        if word == "done":
            self.done = True
        if word == "soon":
            self._waited_for = False

    def tell(self, pieces: Iterable[Piece]) -> None:
        """Tell the processes of a plan of every part, which they are to undercut."""
        line = f"plan {json.dumps(list(pieces))}\n"
        for other in self._others:
            other.tell(line)

    def meets(self, money: float) -> bool:
        """Whether a plan of this money is proved to be the cheapest."""
        return self.bound is not None and money <= self.bound + _CENT

    def offers(self, below: float) -> bool:
        """Whether a plan was found on the way and not told yet that costs less than so much [money]."""
        return any(self._money(pieces) < below - _CENT for pieces in list(self._plans.values()))

    def plan(self, below: float = inf) -> list[Piece] | None:
        """The cheapest plan the others found on their way since asked last: where every sawn piece lies.

        None if it does not cost less than so much, which is asked for when it is at hand [money].
        """
        found = [self._plans.pop(number) for number in list(self._plans)]
        best = min(found, key=self._money, default=None)
        return best if best is not None and self._money(best) < below - _CENT else None

    def _money(self, pieces: Sequence[Piece]) -> float:
        used = self._held.union(piece[0] for piece in pieces)
        return money_for(board for board in self._boards if board.id in used)

    def first(self, seconds: float) -> float | None:
        """The bound, waited for so long if there is none yet [s]."""
        until = monotonic() + seconds
        while self.bound is None and self._others and monotonic() < until:
            self._others[0].wait(0.02)
            if not self._others[0].works():
                break
        return self.bound

    def works(self) -> bool:
        """Whether the other processes may still tell something."""
        return any(other.works() for other in self._others)

    @property
    def is_waited_for(self) -> bool:
        """Whether the search is to leave its core to these processes for now."""
        return self._waited_for and self.works()

    def wait(self, seconds: float) -> None:
        """Wait for the end of the work, at most so long [s]."""
        until = monotonic() + seconds
        for other in self._others:
            other.wait(max(until - monotonic(), 0.0))

    def close(self) -> None:
        """End the processes."""
        for other in self._others:
            other.close()
        if self._others:
            _keep_spare()
        self._others = []


class _Other:
    """One process, with a thread that hears what it says, and one that tells it things as it takes them."""

    def __init__(self, prover: Prover, number: int, task: bytes) -> None:
        self._process = _spares.taken() or begun([_MODULE])
        self._lines: SimpleQueue[bytes | None] = SimpleQueue()
        self._lines.put(task)
        pipes = self._process.stdin, self._process.stdout
        assert pipes[0] is not None
        assert pipes[1] is not None
        self._writer = Thread(target=self._write, args=(pipes[0],), daemon=True)
        self._reader = Thread(target=self._read, args=(pipes[1], prover, number), daemon=True)
        self._writer.start()
        self._reader.start()

    def _write(self, pipe: IO[bytes]) -> None:
        try:
            while (line := self._lines.get()) is not None:
                pipe.write(line)
                pipe.flush()
        except (OSError, ValueError):
            return  # ended from the other side, as `close` does

    def _read(self, lines: IO[bytes], prover: Prover, number: int) -> None:
        try:
            prover.listen(number, lines)
        except (OSError, ValueError):
            return

    def tell(self, line: str) -> None:
        self._lines.put(line.encode())

    def works(self) -> bool:
        return self._reader.is_alive()

    def wait(self, seconds: float) -> None:
        self._reader.join(timeout=seconds)

    def close(self) -> None:
        self._lines.put(None)
        ended(self._process, self._writer, self._reader)


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


def pieces_of(job: Job, draft: Draft) -> Iterator[Piece]:
    """Where every sawn piece of a plan lies."""
    for board, filling in draft.fillings.items():
        for kind, x, y in filling.places:
            yield job.boards[board].id, job.parts[kind].name, x, y
