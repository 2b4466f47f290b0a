"""Large jobs improved region by region: a few boards of a plan, and others, searched as a job of their own.

A map of every part on every board would take longer than most limits. A region
asks for maps of the parts that lie in it only, and its boards are worked on until
that stops to pay.
"""

from collections.abc import Callable
from dataclasses import replace
from math import exp

from layout.solve.construct import Draft
from layout.solve.filling import Filler, Filling
from layout.solve.improve import Walk
from layout.solve.job import Job
from layout.solve.pool import Pool

__all__ = ["Region"]

_USED = (5, 9)  # boards of the plan in a region
_OTHERS = 0.6  # times as many that the plan does not use
_NOISE = 0.3


class Region:
    """Some boards of a plan, and some it does not use, as a job of their own.

    Parameters
    ----------
    walk : Walk
        Whose best plan is to be improved.
    boards : sequence of int
        Those worth a look, used or not.
    """

    def __init__(self, walk: Walk, boards: list[int]) -> None:
        self.walk = walk
        chance, best, job = walk.chance, walk.best, walk.job

        def held(board: int) -> float:
            """Money a board of the plan costs for the wood its parts take, with some noise."""
            areas = zip(best.fillings[board].counts, walk.areas, strict=True)
            taken = sum(count * area for count, area in areas)
            return job.prices[board] / max(taken, 1.0) * exp(_NOISE * chance.gauss(0.0, 1.0))

        used = sorted(best.fillings, key=held, reverse=True)
        # A board that pays badly, and any others: what they hold may lie better together.
        worst, rest = used[: len(used) // 2 + 1], chance.sample(used, len(used))
        first = chance.choice(worst)
        count = chance.randint(*_USED)
        self.used = [first, *(board for board in rest if board != first)][:count]
        unused = [board for board in boards if board not in best.fillings]
        others = chance.sample(unused, min(round(_OTHERS * len(self.used)), len(unused)))
        self.boards = [*self.used, *others]

    def job(self) -> Job:
        """These boards, and the parts that lie on them."""
        job, best = self.walk.job, self.walk.best
        wanted = list(best.missing)
        for board in self.used:
            wanted = [n + more for n, more in zip(wanted, best.fillings[board].counts, strict=True)]
        return replace(job.only(self.boards), wanted=wanted)

    def walk_in(self, job: Job, is_best: Callable[[float], bool] | None = None) -> Walk:
        """A walk among these boards alone, beginning with what lies on them now."""
        draft = Draft(list(job.wanted))
        for number, board in enumerate(self.used):
            draft.put(_moved(self.walk.best.fillings[board], number))
        return Walk(job, Filler(job), draft, self.walk.chance, None, Pool(), is_best)

    def given_back(self, draft: Draft) -> Draft:
        """The whole plan with a plan of the region in it."""
        found = self.walk.best.copy()
        for board in self.used:
            found.clear(board)
        for number, filling in draft.fillings.items():
            found.put(_moved(filling, self.boards[number]))
        return found


def _moved(filling: Filling, board: int) -> Filling:
    """The same filling under another number of its board."""
    return replace(filling, board=board)
