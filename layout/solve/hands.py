"""Boards asked by several processes at once: `python -m layout.solve.hands` is a further one.

What boards of a job are asked hardly depends on one another: their worths at the same prices, their
sets near the same prices, where a set of each lies. So each process makes the grids of some of them.
A grid takes ten times as long to make as to hand on, so the one that asks is told of each, and others are
as soon as they are asked about it: then whoever has less to do can be asked about any board.

A further process writes "ready" when it has loaded what it needs. It reads pickled messages from standard
input, the task, and then questions with the grids they are about and the time there is for them, and
writes an answer for every question; with the end of its input it ends.
"""

import os
import pickle
import sys
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from queue import SimpleQueue
from threading import Lock, Thread
from time import monotonic
from typing import Any

from layout.compiled import compile_all
from layout.solve.careful_board import Answer, CarefulBoards, Grid, Question, Task
from layout.solve.spares import READY, Spares, begun, ended

__all__ = ["Hands", "keep_ready", "main"]

_MOVED = 1.6  # times as long it takes to ask a board whose grid has to be handed on first
_LOADING = 30.0  # at most, until further processes have loaded what they need [s]
_TIMED, _PACE = "worth", 2e-8  # the question whose time tells of others, and about that [s/mm2]
_KEEPS, _OF_KEPT = "near", "laid"  # what lies near is kept, by the process that was asked, to lay it out
_MODULE = "layout.solve.hands"
_spares = Spares(_MODULE)
_Key = tuple[Grid, int]


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
        # How long the last question to a board on a grid took [s], and who was asked for its sets.
        self._took: dict[_Key, float] = {}
        self._kept: dict[_Key, _Other | None] = {}

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
        longest_first = ready and questions and questions[0].what == _KEEPS
        asked = self._in_turn if longest_first else self._dealt_out
        answers = asked(questions, ready, until)
        for number, answer in answers.items():
            question = questions[number]
            if answer.made is not None:
                self._own.take(question.grid, question.board, answer.made)
            if isinstance(answer.what, OverflowError):
                raise answer.what
            if question.what == _TIMED:
                self._took[question.grid, question.board] = answer.seconds
        return [answers[number].what for number in range(len(questions))]

    def let_go(self) -> None:
        """End the other processes; what they would be asked is asked here from now on."""
        for other in self._others:
            other.close()
        self._others = []

    def _ready(self) -> "list[_Other]":
        return [other for other in self._others if other.is_ready()]

    def _dealt_out(
        self, questions: Sequence[Question], ready: "Sequence[_Other]", until: float
    ) -> dict[int, Answer]:
        """Answers by the number of the question, of questions that are dealt out beforehand."""
        dealt = self._dealt(questions, [None, *ready])
        for other, some in zip(ready, dealt[1:], strict=True):
            other.ask([questions[number] for number in some], self._own, until - monotonic())
        answers: dict[int, Answer] = {}
        for number in dealt[0]:
            answers[number] = self._own.answer(questions[number], until)
            if isinstance(answers[number].what, OverflowError):
                break
        for other, some in zip(ready, dealt[1:], strict=True):
            for number in some:
                # One that was ended by somebody else leaves its questions to this process.
                answers[number] = other.answer() or self._own.answer(questions[number], until)
        return answers

    def _in_turn(
        self, questions: Sequence[Question], ready: "Sequence[_Other]", until: float
    ) -> dict[int, Answer]:
        """The same of questions that take long, nobody knows how long: who is free takes the next one."""
        works = [self._work(one) for one in questions]
        left, lock = deque(sorted(range(len(questions)), key=lambda n: -works[n])), Lock()
        taken = {other: list[int]() for other in ready}

        def take(other: "_Other | None") -> int | None:
            with lock:
                if not left:
                    return None
                number = left.popleft()
                question = questions[number]
                self._kept[question.grid, question.board] = other
                if other is not None:
                    taken[other].append(number)
                    other.ask([question], self._own, until - monotonic())
            return number

        for other in ready:
            other.then = partial(take, other)
            take(other)
        answers: dict[int, Answer] = {}
        while (number := take(None)) is not None:
            answers[number] = self._own.answer(questions[number], until)
        for other, some in taken.items():
            for number in some:
                answers[number] = other.answer() or self._own.answer(questions[number], until)
            other.then = None
        return answers

    def _dealt(self, questions: Sequence[Question], hands: "Sequence[_Other | None]") -> list[list[int]]:
        """Numbers of the questions for each, None for this process, so that all have about as much to do."""
        loads, dealt = [0.0] * len(hands), [list[int]() for _ in hands]
        works = [self._work(one) for one in questions]
        for number in sorted(range(len(questions)), key=lambda n: -works[n]):
            key = questions[number].grid, questions[number].board
            made = self._own.given(*key) is not None
            then = [
                load
                + works[number] * (_MOVED if made and other is not None and key not in other.has else 1.0)
                for other, load in zip(hands, loads, strict=True)
            ]
            hand = then.index(min(then))
            if questions[number].what == _OF_KEPT and self._kept.get(key) in hands:
                hand = hands.index(self._kept.get(key))
            loads[hand] = then[hand]
            dealt[hand].append(number)
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
        self.has: set[_Key] = set()  # grids it was asked about
        self.then: Callable[[], object] | None = None  # done when an answer came
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
                answer = pickle.load(answers)
                if self.then is not None:
                    self.then()
                self._answers.put(answer)
        except Exception:  # the end, or what cannot be read: nothing more is to be had
            self._lost = True
            self._answers.put(None)

    def is_ready(self) -> bool:
        return self._said_ready and not self._lost

    def ask(self, questions: Sequence[Question], known: CarefulBoards, seconds: float) -> None:
        """Ask questions, with such grids that are known here and not there, to be answered in that time."""
        if not questions:
            return
        grids = []
        for key in {(question.grid, question.board) for question in questions} - self.has:
            careful = known.given(*key)
            if careful is not None:
                grids.append((*key, careful))
            self.has.add(key)
        self._send((questions, grids, seconds))

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
            questions, grids, seconds = pickle.load(sys.stdin.buffer)
            until = monotonic() + seconds
            for grid, board, careful in grids:
                boards.take(grid, board, careful)
            for question in questions:
                _write(boards.answer(question, until), out)
    except (EOFError, BrokenPipeError):
        return 0


def _write(answer: object, out: Any) -> None:
    pickle.dump(answer, out)
    out.flush()


if __name__ == "__main__":
    sys.exit(main())
