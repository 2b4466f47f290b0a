"""The second core's work: `python -m layout.solve.prove`, in a process of its own that can be ended at once.

Reads a pickled task from standard input and writes one line of text for every
better bound. "bound" holds however one saws: first the quick one, and for small jobs,
last, those of the constraint programme. "class" holds for the shop's own order of
straight cuts only (`layout.solve.straight`). "none" says that not all parts can be placed.
"plan" tells a plan found on the way: board, part, x and y of every sawn piece, as JSON; the
same word on standard input tells one of the other side.

What is done is told by steps (`layout.solve.steps`); a search of its own (`layout.solve.beside`)
tells plans alone.
"""

import json
import pickle
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from math import inf
from threading import Thread
from time import monotonic
from typing import TYPE_CHECKING

from layout.allowances import Sawing, Shop
from layout.cost import money_for
from layout.cuts import Box, sawn_box
from layout.parts import Part
from layout.placement import Placement
from layout.solve.bound import Question, outside_of, question_of, quick_bound
from layout.solve.slabs import Place
from layout.solve.steps import Piece, Work
from layout.stock import Board

if TYPE_CHECKING:
    from layout.solve.setwise import SetBySet

__all__ = ["main"]

_STAGES = 3  # of straight cuts, where boards are sawn freely


def main() -> int:
    """Read a task from standard input, write bounds as lines of text; the last begins with "done"."""
    began = monotonic()
    boards, parts, shop, locked, steps, seed = pickle.load(sys.stdin.buffer)
    told = _Told()
    question: Question | None = None
    quick: float | None = None
    sets: SetBySet | None = None
    for work, until in steps:
        left = began + until - monotonic()
        if work is Work.SEARCH:
            # Slow to load, and of no use to most jobs.
            from layout.solve.beside import search_beside
            from layout.solve.slab_loops import load

            load()
            left = max(began + until - monotonic(), 0.0)
            search_beside(boards, parts, shop, locked, left, seed, _say_plan, told.since)
            continue
        if left <= 0.0:
            continue
        if work in (Work.SOON, Work.SETS, Work.REST) and sets is None:
            sets = _set_by_set(boards, parts, shop, locked, told)
        if work is Work.SOON and sets is not None:
            sets.look_soon(left)
        if work is Work.REST and sets is not None:
            sets.look(left)
        if work is Work.QUICK:
            question = question_of(boards, parts, shop, locked)
            quick = quick_bound(question)
            _say("bound", quick)
            if quick is None or not sum(question.wanted):
                return 0
        if question is None or quick is None:
            continue
        if work in (Work.SAWING, Work.SETS):
            job = boards, parts, shop, locked
            look = sets.look if work is Work.SETS and sets is not None else None
            _say_bounds_of_sawing(question, *job, left, quick, look)
        if work is Work.PIECES:
            # The solver is slow to load, and the quick bound is waited for.
            from layout.solve.programme import proved_bound

            value, done = proved_bound(question, left, 1, lambda better: _say("bound", better))
            _say("done" if done else "bound", value)
    return 0


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


def _set_by_set(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    locked: Sequence[Placement],
    told: _Told,
) -> "SetBySet":
    """What looks for plans set by set, which it tells; of boards sawn freely, such as straight cuts give."""
    # Slow to load, and of no use to most jobs.
    from layout.solve.setwise import SetBySet

    if shop.sawing is Sawing.BAND_SAW:
        shop = replace(shop, sawing=Sawing.RIP_FIRST, stages=_STAGES)

    usable, taken = _open_to(boards, parts, shop, locked)
    held = {item.board for item in locked}

    def below() -> float:
        paid = told.boards
        return inf if paid is None else money_for(b for b in usable if b.id in paid - held)

    number = Counter(item.part for item in locked)
    wanted = [max(part.quantity - number[part.name], 0) for part in parts]
    return SetBySet(usable, parts, shop, wanted, partial(_say_places, usable, parts), taken, below)


def _open_to(
    boards: Sequence[Board], parts: Sequence[Part], shop: Shop, locked: Sequence[Placement]
) -> tuple[list[Board], list[list[Box]]]:
    """Boards that are not forbidden, and the locked pieces of each [mm]."""
    usable = [board for board in boards if not board.forbidden]
    listed = {part.name: part for part in parts}
    return usable, [
        [sawn_box(item, listed[item.part], shop) for item in locked if item.board == board.id]
        for board in usable
    ]


def _say_bounds_of_sawing(
    question: Question,
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    locked: Sequence[Placement],
    seconds: float,
    quick: float,
    look: Callable[[float], None] | None,
) -> None:
    # Slow to load, and the quick bound is waited for.
    from layout.solve.exactly import nested_bounds
    from layout.solve.straight import straight_bounds

    free = shop.sawing is Sawing.BAND_SAW
    usable, taken = _open_to(boards, parts, shop, locked)
    known = outside_of(question)
    known.costs_at_least(quick - question.spent)
    say_places = partial(_say_places, usable, parts)
    job = usable, parts, shop, known, question.spent, seconds, taken, say_places
    for money in nested_bounds(*job) if free else straight_bounds(*job, look):
        _say("bound" if free else "class", money)


def _say_places(
    boards: Sequence[Board], parts: Sequence[Part], places: Mapping[int, Sequence[Place]]
) -> None:
    _say_plan((boards[b].id, parts[t].name, x, y) for b, here in places.items() for t, x, y in here)


def _say_plan(pieces: Iterable[tuple[str, str, float, float]]) -> None:
    sys.stdout.write(f"plan {json.dumps(list(pieces))}\n")
    sys.stdout.flush()


def _say(word: str, value: float | None) -> None:
    sys.stdout.write(f"{word} {'none' if value is None else repr(value)}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
