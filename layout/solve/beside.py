"""A search of its own on another core: every whole plan better than the one before is told.

With repairs nothing can be proved of the plan that is asked for, and the search has to leave
most of its time to the repairs. So the same search without repairs runs here, for as long as it
would have had if none were allowed: what it finds, the plan with repairs has to undercut. Where
a core is left beside search and proof, two searches that draw otherwise and undercut one another
find cheaper plans than one.
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
from layout.solve.prover import draft_of, pieces_of
from layout.solve.search import searched
from layout.solve.slab_loops import load
from layout.solve.steps import WALK, Piece
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
    told: Callable[[], Sequence[Piece] | None] | None = None,
) -> None:
    """Search as `layout.solve.plan.plan` does, for the money alone, for so many seconds.

    Parameters
    ----------
    boards, parts, shop, locked
        The job; parts as they are sawn.
    seconds : float
        From when its loops are loaded [s].
    seed : int
    say_plan : function
        Told of every whole plan that is better than the one before, piece by piece.
    told : function, optional
        Answers with a whole plan found elsewhere since it was asked last, if there is one.
    """
    load()
    job = job_of(boards, parts, shop, Books(parts, ()).wanted(locked), None, locked)
    ends = monotonic() + seconds

    def say(draft: Draft) -> None:
        if not any(draft.missing):
            say_plan(pieces_of(job, draft))

    def heard(_: float) -> Draft | None:
        pieces = None if told is None else told()
        return None if pieces is None else draft_of(job, pieces)

    stop = Stop(SolveParams(seconds=seconds / WALK), lambda: monotonic() >= ends)
    searched(job, stop, Random(seed), say, None, None, heard)
