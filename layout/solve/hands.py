"""Boards asked by several processes at once: `python -m layout.solve.hands` is a further one.

What boards of a job are asked hardly depends on one another: their worths at the same prices, their
sets near the same prices, where a set of each lies. So each process makes the grids of some of them.

A further process writes "ready" when it has loaded what it needs. It reads pickled messages from standard
input, the task, and then questions with the time there is for them, and writes an answer for every
question; with the end of its input it ends.
"""

import os
import pickle
import sys
from collections.abc import Sequence
from contextlib import suppress
from queue import SimpleQueue
from threading import Thread
from time import monotonic
from typing import Any

from layout.compiled import compile_all
from layout.solve.careful_board import Answer, CarefulBoards, Grid, Question, Task
from layout.solve.spares import READY, Spares, begun, ended

__all__ = ["Hands", "keep_ready", "main"]

_MADE = 3.0  # times as long as to ask a board it takes to make its grid first
_LOADING = 30.0  # at most, until further processes have loaded what they need [s]
_TIMED, _PACE = "worth", 2e-8  # the question whose time tells of others, and about that [s/mm2]
_MODULE = "layout.solve.hands"
_spares = Spares(_MODULE)


def keep_ready(count: int) -> None:
    """Keep so many further processes loaded, for those who ask boards from here; waits until they are."""
    _spares.keep(count)
    _spares.wait(_LOADING)


class Hands:
    """What asks boards, by this process and by others beside it.

    Parameters
    ----------
    task : Task
    others : int
        Further processes, which take part as soon as they are ready.
    """

    def __init__(self, task: Task, others: int = 0) -> None:
        self._own = CarefulBoards(task)
        self._areas = [board.length * board.width for board in task.boards]
        self._others: list[_Other] = []
        with suppress(OSError):  # no further process to be had
            for _ in range(others):
                self._others.append(_Other(task))
        # Grids each has made, and how long the last question to a board on one took [s].
        self._made: dict[int, set[tuple[Grid, int]]] = {}
        self._took: dict[tuple[Grid, int], float] = {}

    @property
    def count(self) -> int:
        """How many ask boards now."""
        return 1 + len(self._ready())

    def asked(self, questions: Sequence[Question], until: float) -> list[Any]:
        """The answers of some boards, in the order of the questions.

        Parameters
        ----------
        questions : sequence of Question
        until : float
            By when they are to be answered, by this process' clock [s].

        Raises
        ------
        OverflowError
            A board is worth more than it may be.
        """
        ready = self._ready()
        dealt = self._dealt(questions, 1 + len(ready))
        for other, some in zip(ready, dealt[1:], strict=True):
            other.ask([questions[number] for number in some], until - monotonic())
        answers: dict[int, Any] = {}
        for number in dealt[0]:
            answers[number] = self._own.answer(questions[number], until)
            if isinstance(answers[number].what, OverflowError):
                break
        for other, some in zip(ready, dealt[1:], strict=True):
            for number in some:
                # One that was ended by somebody else leaves its questions to this process.
                answers[number] = other.answer() or self._own.answer(questions[number], until)
        for number, answer in answers.items():
            if isinstance(answer.what, OverflowError):
                raise answer.what
            if questions[number].what == _TIMED:
                self._took[questions[number].grid, questions[number].board] = answer.seconds
        return [answers[number].what for number in range(len(questions))]

    def let_go(self) -> None:
        """End the other processes; what they would be asked is asked here from now on."""
        for other in self._others:
            other.close()
        self._others = []

    def _ready(self) -> "list[_Other]":
        return [other for other in self._others if other.is_ready()]

    def _dealt(self, questions: Sequence[Question], hands: int) -> list[list[int]]:
        """Numbers of the questions for each, so that all have about as much to do."""
        loads, dealt = [0.0] * hands, [list[int]() for _ in range(hands)]
        works = [self._work(one) for one in questions]
        for number in sorted(range(len(questions)), key=lambda n: -works[n]):
            key = questions[number].grid, questions[number].board
            then = [
                load + works[number] * (1.0 if key in self._made.setdefault(hand, set()) else _MADE)
                for hand, load in enumerate(loads)
            ]
            hand = then.index(min(then))
            loads[hand] = then[hand]
            dealt[hand].append(number)
            self._made[hand].add(key)
        return dealt

    def _work(self, question: Question) -> float:
        """How long a question takes, beside others of its kind."""
        area = self._areas[question.board]
        took = self._took.get((question.grid, question.board), _PACE * area)
        # What takes longer to be valued has more sets, each of which takes longer.
        return took if question.what == _TIMED else took**2


class _Other:
    """A further process, seen from here."""

    def __init__(self, task: Task) -> None:
        spare = _spares.taken()
        self._process = spare or begun([_MODULE])
        self._answers: SimpleQueue[Answer | None] = SimpleQueue()
        self._said_ready, self._lost = spare is not None, False
        self._listener = Thread(target=self._listen, daemon=True)
        self._listener.start()
        self._send(task)

    def _listen(self) -> None:
        answers = self._process.stdout
        assert answers is not None
        try:
            if not self._said_ready:
                self._said_ready = answers.readline() == READY
            while True:
                self._answers.put(pickle.load(answers))
        except Exception:  # the end, or what cannot be read: nothing more is to be had
            self._lost = True
            self._answers.put(None)

    def is_ready(self) -> bool:
        return self._said_ready and not self._lost

    def ask(self, questions: Sequence[Question], seconds: float) -> None:
        if questions:
            self._send((questions, seconds))

    def answer(self) -> Answer | None:
        """The answer to the next question; None if there will be none."""
        if self._lost and self._answers.empty():
            return None
        return self._answers.get()

    def _send(self, message: object) -> None:
        assert self._process.stdin is not None
        with suppress(OSError):  # ended from the other side, as its answers will tell
            pickle.dump(message, self._process.stdin)
            self._process.stdin.flush()

    def close(self) -> None:
        self._lost = True
        ended(self._process, self._listener)


def main() -> int:
    """Read a task and questions from standard input, write answers, pickled."""
    # What libraries print must not come between the answers.
    out = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    try:
        compile_all()
        out.write(READY)
        out.flush()
        boards = CarefulBoards(pickle.load(sys.stdin.buffer))
        while True:
            questions, seconds = pickle.load(sys.stdin.buffer)
            until = monotonic() + seconds
            for question in questions:
                _write(boards.answer(question, until), out)
    except (EOFError, BrokenPipeError):
        return 0


def _write(answer: object, out: Any) -> None:
    pickle.dump(answer, out)
    out.flush()


if __name__ == "__main__":
    sys.exit(main())
