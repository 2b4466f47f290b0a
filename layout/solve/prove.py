"""The second core's work: `python -m layout.solve.prove`, in a process of its own that can be ended at once.

Reads a pickled task from standard input and writes one line of text for every
better bound. "bound" holds however one saws: first the quick one, and for small jobs,
last, those of the constraint programme. "class" holds for the shop's own order of
straight cuts only (`layout.solve.straight`). "none" says that not all parts can be placed.
"soon" says that plans which are soon found were told. "plan" tells a plan found on the
way: board, part, x and y of every sawn piece, as JSON; the same word on standard input
tells one of the other side.

What is done is told by steps (`layout.solve.steps`); a search of its own (`layout.solve.beside`)
tells plans alone.
"""

import json
import os
import pickle
import sys
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cached_property
from math import inf
from threading import Thread
from time import monotonic
from typing import TYPE_CHECKING

from layout.allowances import Sawing, Shop
from layout.cost import money_for
from layout.cuts import sawn_box
from layout.parts import Part
from layout.placement import Placement
from layout.solve.bound import Question, outside_of, question_of, quick_bound
from layout.solve.by_area import known_by_area
from layout.solve.slabs import Place
from layout.solve.spares import READY
from layout.solve.steps import WAITING, Piece, Sharing, Work, others_at_most, usable_cores
from layout.stock import Board

if TYPE_CHECKING:
    from layout.solve.setwise import SetBySet

__all__ = ["main"]

_STAGES = 3  # of straight cuts, where boards are sawn freely


def main() -> int:
    """Read a task from standard input, write bounds as lines of text; the last begins with "done"."""
    if sys.argv[1:] == [WAITING]:
        _load()
    try:
        task = pickle.load(sys.stdin.buffer)
    except EOFError:  # waited for a plan that never came
        return 0
    began = monotonic()
    boards, parts, shop, locked, steps, seed, shares = task
    told = _Told()
    proof = _Proof(boards, parts, shop, locked, told, shares)
    for work, until in steps:
        if work is Work.SEARCH:
            # Slow to load, and of no use to most jobs.
            from layout.solve.beside import search_beside
            from layout.solve.slab_loops import load

            load()
            left = max(began + until - monotonic(), 0.0)
            search_beside(boards, parts, shop, locked, left, seed, _say_plan, told.since)
            continue
        left = began + until - monotonic()
        if left > 0.0 and not proof.goes_on(work, left):
            return 0
    return 0


def _load() -> None:
    """Load whatever may be needed, and so processes that ask boards; then say so."""
    from layout.compiled import compile_all
    from layout.solve import hands, setwise, straight  # noqa: F401 - loaded for later

    compile_all()
    hands.keep_ready(others_at_most(usable_cores()))
    sys.stdout.write(READY.decode())
    sys.stdout.flush()


class _Proof:
    """What is proved of a job, step by step, and the plans found on the way.

    Parameters
    ----------
    boards, parts, shop, locked
        The job.
    told : _Told
    shares : Sharing, optional
    """

    def __init__(
        self,
        boards: Sequence[Board],
        parts: Sequence[Part],
        shop: Shop,
        locked: Sequence[Placement],
        told: "_Told",
        shares: Sharing = Sharing(),  # noqa: B008 - it cannot be changed
    ) -> None:
        self.shares = shares
        self.boards, self.parts, self.shop, self.locked, self.told = boards, parts, shop, locked, told
        self.question: Question | None = None
        self.quick: float | None = None
        self.said = False  # whether there is a bound
        self.usable = [board for board in boards if not board.forbidden]
        listed = {part.name: part for part in parts}
        self.taken = [
            [sawn_box(item, listed[item.part], shop) for item in locked if item.board == board.id]
            for board in self.usable
        ]
        number = Counter(item.part for item in locked)
        self.wanted = [max(part.quantity - number[part.name], 0) for part in parts]

    def goes_on(self, work: Work, left: float) -> bool:
        """Do one thing, for so long [s]; whether there is a point in the next."""
        if work is Work.SOON:
            # Parts so small that a board of them is worth more than it may be must not cost the bound.
            with suppress(OverflowError):
                self._sets.look_soon(left)
            if self.shares.waits:
                self._sets.let_go()
            sys.stdout.write("soon\n")
            sys.stdout.flush()
        elif work is Work.REST:
            self._sets.look(left)
        elif work is Work.QUICK:
            return self.said or self._quick()
        elif work in (Work.SAWING, Work.SETS):
            self._say_bounds_of_sawing(left, self._sets if work is Work.SETS else None)
        elif work is Work.PIECES and self.question is not None:
            # The solver is slow to load, and the quick bound is waited for.
            from layout.solve.programme import proved_bound

            value, done = proved_bound(self.question, left, 1, lambda better: _say("bound", better))
            _say("done" if done else "bound", value)
        return True

    def _quick(self) -> bool:
        """Say the quick bound; whether all parts can be placed, and there are some."""
        self.question = question_of(self.boards, self.parts, self.shop, self.locked)
        self.quick, self.said = quick_bound(self.question), True
        _say("bound", self.quick)
        return self.quick is not None and bool(sum(self.question.wanted))

    @cached_property
    def _sets(self) -> "SetBySet":
        """What looks for plans set by set, which it tells; such as straight cuts give, if sawn freely."""
        # Slow to load, and of no use to most jobs.
        from layout.solve.setwise import SetBySet

        shop, held = self.shop, {item.board for item in self.locked}
        if shop.sawing is Sawing.BAND_SAW:
            shop = replace(shop, sawing=Sawing.RIP_FIRST, stages=_STAGES)

        def below() -> float:
            paid = self.told.boards
            return inf if paid is None else money_for(b for b in self.usable if b.id in paid - held)

        job = self.usable, self.parts, shop, self.wanted
        return SetBySet(*job, self._say_places, self.taken, below, self.shares.others)

    def _say_bounds_of_sawing(self, seconds: float, sets: "SetBySet | None") -> None:
        # Slow to load, and the quick bound is waited for.
        from layout.solve.exactly import nested_bounds
        from layout.solve.straight import straight_bounds

        free = self.shop.sawing is Sawing.BAND_SAW
        spent = money_for(board for board, boxes in zip(self.usable, self.taken, strict=True) if boxes)
        if self.question is None or self.quick is None:
            known = known_by_area(self.usable, self.parts, self.wanted, self.taken)
        else:
            known = outside_of(self.question)
            known.costs_at_least(self.quick - spent)
        job = self.usable, self.parts, self.shop, known, spent, seconds, self.taken, self._say_places
        beside = (None, ()) if sets is None else (sets.look, sets.seen)
        for money in nested_bounds(*job) if free else straight_bounds(*job, *beside):
            self.said = True
            _say("bound" if free else "class", money)

    def _say_places(self, places: Mapping[int, Sequence[Place]]) -> None:
        used = self.usable
        _say_plan((used[b].id, self.parts[t].name, x, y) for b, here in places.items() for t, x, y in here)


class _Told:
    """The last plan told by the other side.

    Attributes
    ----------
    boards : set of str or None
        That it takes.
    """

    def __init__(self) -> None:
        self._pieces: list[Piece] | None = None
        self.boards: set[str] | None = None
        Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        for line in sys.stdin.buffer:
            word, _, value = line.decode().partition(" ")
            if word == "plan":
                self._pieces = [(board, part, x, y) for board, part, x, y in json.loads(value)]
                self.boards = {piece[0] for piece in self._pieces}

    def since(self) -> list[Piece] | None:
        """What was told since it was asked last."""
        pieces, self._pieces = self._pieces, None
        return pieces


def _say_plan(pieces: Iterable[tuple[str, str, float, float]]) -> None:
    sys.stdout.write(f"plan {json.dumps(list(pieces))}\n")
    sys.stdout.flush()


def _say(word: str, value: float | None) -> None:
    sys.stdout.write(f"{word} {'none' if value is None else repr(value)}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    status = main()
    sys.stdout.flush()
    os._exit(status)  # the thread that listens holds standard input, which the usual end would wait for
