"""A search of its own on the second core: every whole plan better than the one before is told.

With repairs nothing can be proved of the plan that is asked for, and the search has to leave
most of its time to the repairs. So the same search without repairs runs here, for as long as it
would have had if none were allowed: what it finds, the plan with repairs has to undercut.
"""

from collections.abc import Callable, Iterator, Sequence
from random import Random
from time import monotonic

from layout.allowances import Shop
from layout.parts import Part
from layout.placement import Placement
from layout.solve.construct import Draft
from layout.solve.family import Books
from layout.solve.job import job_of
from layout.solve.params import SolveParams
from layout.solve.prover import Piece
from layout.solve.search import WALK, searched
from layout.solve.stop import Stop
from layout.stock import Board

__all__ = ["search_beside"]


def search_beside(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    locked: Sequence[Placement],
    seconds: float,
    seed: int,
    say_plan: Callable[[Iterator[Piece]], None],
) -> None:
    """Search as `layout.solve.plan.plan` does within so many seconds, for the money alone.

    Parameters
    ----------
    boards, parts, shop, locked
        The job; parts as they are sawn.
    seconds : float
        Limit of the search whose plans are wanted; it is left once the money is settled [s].
    seed : int
    say_plan : function
        Told of every whole plan that is better than the one before, piece by piece.
    """
    job = job_of(boards, parts, shop, Books(parts, ()).wanted(locked), None, locked)
    ends = monotonic() + WALK * seconds

    def say(draft: Draft) -> None:
        if not any(draft.missing):
            say_plan(
                (job.boards[board].id, job.parts[kind].name, x, y)
                for board, filling in draft.fillings.items()
                for kind, x, y in filling.places
            )

    searched(job, Stop(SolveParams(seconds=seconds), lambda: monotonic() >= ends), Random(seed), say)
