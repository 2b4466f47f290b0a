"""Boards asked place by place for what a bound wants of them; bounds without a rule of cutting.

`layout.solve.one_board` tells of one board and one set of parts whether there is a layout.
A set that a board cannot give is made smaller for as long as that stays quickly proved, so
that much is barred at once; one that it gives has its places kept for a plan.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from time import monotonic

from layout.allowances import Shop
from layout.cuts import Box
from layout.parts import Part
from layout.solve.counted import Counts
from layout.solve.fields import Level
from layout.solve.one_board import OneBoard
from layout.solve.outside import Answer, Outside
from layout.solve.stack_ends import without_one
from layout.solve.within import OnLayout, Within, Work, trimmed
from layout.stock import Board

__all__ = ["PITCHES", "Exactly", "looked_elsewhere", "nested_bounds"]

PITCHES: tuple[Level, ...] = ((4.0, 1.5), (1.0, 0.4), (0.5, 0.2))
_CENT = 0.005
_SHRINKING = 0.4  # time for a smaller set that is barred, in that for the larger one
_LEAST = 0.1  # and so much in any case [s]
_PATIENCE = (3.0, 6.0, 1e9)  # for one question, by pitch [s]


class Exactly:
    """The boards of a job, asked for sets.

    Parameters
    ----------
    work : Work
    within : Within
        Is told of what boards give.
    """

    def __init__(self, work: Work, within: Within) -> None:
        self.work, self.within = work, within
        self._boards: dict[int, OneBoard] = {}
        self._told: dict[tuple[int, Counts, int], bool | None] = {}

    def learnt(self, asked: Mapping[int, Counts], number: int, pieces: int = 1_000) -> bool:
        """Whether one of the boards was found not to give what is asked, on maps of that pitch.

        Boards asked for more than so many pieces are left out.
        """
        refused = False
        for board, counts in asked.items():
            if self.work.left() < 0.0:
                break
            if sum(counts) <= pieces and not self.within.is_laid(board, counts):
                refused |= self._ask(board, counts, number) is False
        return refused

    def _ask(self, board: int, counts: Counts, number: int) -> bool | None:
        """False if the board cannot give the set, which is then known; None if that was not found out."""
        key = board, counts, number
        if key not in self._told:
            seconds = min(self.work.left(), _PATIENCE[number])
            began = monotonic()
            there = self._one(board).gives(counts, PITCHES[number], False, seconds)
            took = monotonic() - began
            self._told[key] = None if there is None else bool(there)
            if there is False:
                self.work.known.bar(board, self._least(board, counts, number, took))
            elif self.work.left() > 0.0:
                # Even where the hopeful question was too hard, the careful one may have an answer.
                places = self._one(board).gives(counts, PITCHES[number], True, min(self.work.left(), seconds))
                if isinstance(places, list):
                    self.within.lay(board, counts, places)
        return self._told[key]

    def _least(self, board: int, counts: Counts, number: int, took: float) -> Counts:
        """A smaller set that the board cannot give either."""
        until = monotonic() + 4.0 * took + _LEAST
        for part in sorted(
            range(len(counts)), key=lambda t: self.work.parts[t].length * self.work.parts[t].width
        ):
            while counts[part] and monotonic() < until:
                less = without_one(counts, part)
                seconds = _SHRINKING * took + _LEAST
                if self._one(board).gives(less, PITCHES[number], False, seconds) is not False:
                    break
                counts = less
        return counts

    def _one(self, board: int) -> OneBoard:
        if board not in self._boards:
            work = self.work
            self._boards[board] = OneBoard(
                work.boards[board], work.parts, work.shop, work.taken[board], work.known.most[board]
            )
        return self._boards[board]


def nested_bounds(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    known: Outside,
    spent: float = 0.0,
    seconds: float = 20.0,
    taken: Sequence[Sequence[Box]] | None = None,
    on_layout: OnLayout | None = None,
) -> Iterator[float | None]:
    """Better and better bounds on plans without a rule of cutting; arguments as for `straight_bounds`.

    The cheapest boards that might do are asked for what they would have to give. Where all of
    them can, that is a plan, and the cheapest; where one cannot, it is known for the next choice.
    """
    work = _Nested(boards, parts, shop, known, seconds, taken)
    within = Within(work, on_layout)
    exactly = Exactly(work, within)

    def learnt(asked: Mapping[int, Counts]) -> bool:
        for number in range(len(PITCHES)):
            if work.left() < 0.0 or exactly.learnt(asked, number):
                return True
            if within.gives_laid(asked):
                return False
        return False

    while work.left() > 0.0:
        answer = known.whole(max(work.left(), 0.2))
        yield None if answer is None else spent + answer.money
        if answer is None or not answer.used or answer.money > within.paid - _CENT:
            return
        if not learnt(trimmed(answer, known)) and not looked_elsewhere(answer, work, within, learnt):
            return


def looked_elsewhere(
    answer: Answer, work: Work, within: Within, learnt: Callable[[Mapping[int, Counts]], bool]
) -> bool:
    """Whether something was learnt of boards by asking for other shares than those of an answer.

    Where a board passes hopefully but not carefully, it stays open whether it gives its share.
    Until there is a plan that costs what is open, others are asked for; so plans are found
    that cost no more, or not much more, than the bound.
    """
    known, doubts = work.known, []
    asked = trimmed(answer, known)
    while work.left() > 0.0:
        doubts += [item for item in asked.items() if not within.is_laid(*item)]
        hope = known.doubting(doubts)
        other = hope.whole(max(work.left(), 0.2))
        if other is None or not other.used or other.money > within.paid - _CENT:
            return False
        asked = trimmed(other, hope)
        if learnt(asked):
            return True
    return False


class _Nested:
    """What is worked on, where boards are not cut into slabs."""

    def __init__(
        self,
        boards: Sequence[Board],
        parts: Sequence[Part],
        shop: Shop,
        known: Outside,
        seconds: float,
        taken: Sequence[Sequence[Box]] | None,
    ) -> None:
        self.boards, self.parts, self.shop, self.known = boards, parts, shop, known
        self.taken: Sequence[Sequence[Box]] = taken or [()] * len(boards)
        self.levels: Sequence[Level] = ()
        self._ends = monotonic() + seconds

    def left(self) -> float:
        return self._ends - monotonic()
