"""The stages of a search: a first plan, the two walks with set packing now and then, tidying."""

from collections.abc import Callable
from random import Random

from layout.solve.construct import Draft, boards_by_value, first_draft, parts_by_size
from layout.solve.filling import Filler
from layout.solve.improve import Walk, walked
from layout.solve.job import Job
from layout.solve.packing import packed
from layout.solve.pool import Pool
from layout.solve.stop import Stop
from layout.solve.tidy import tidied

__all__ = ["searched"]

_WALK = 0.85  # share of the limit for the money, the rest for the later goals
_PACK_AT = (0.3, 0.6, 0.85)  # of that, when the set packing has its turn
_PACK_BOARDS = 6  # smaller jobs gain nothing from it
_TIDY = 1.5  # is enough for the later goals once the money is proved [s]
_NODES = 300  # of the set packing, where rounds are counted and not time


def searched(
    job: Job,
    stop: Stop,
    chance: Random,
    report: Callable[[Draft], None],
    is_best: Callable[[float], bool] | None = None,
    start: Draft | None = None,
) -> Draft:
    """The best draft found until it is time to stop.

    Parameters
    ----------
    job, stop, chance
    report : function
        Told of every draft better in parts or money.
    is_best : function, optional
        Whether a sum of money is proved to be the least; then only tidying is left.
    start : Draft, optional
        A draft to start from, where it is better than the first one made.
    """
    filler = Filler(job)
    draft = first_draft(job, filler, parts_by_size(job), boards_by_value(job), stop.cancelled)
    pool = Pool(len(job.boards))
    walk = Walk(job, filler, draft, chance, report, pool, is_best)
    report(draft)
    if start is not None:
        walk.resume(start)
    for share in _PACK_AT:
        walked(walk, stop, share * _WALK)
        if len(job.boards) >= _PACK_BOARDS and not stop.now(_WALK) and not walk.settled():
            seconds = min(stop.left(share * _WALK + 0.08), 5.0)
            nodes = _NODES if stop.counted else None
            packing = packed(job, pool, seconds, walk.penalties(), walk.best, nodes)
            if packing is not None:
                walk.offer(packing)
    walked(walk, stop, _WALK)
    if walk.settled():
        stop.end_within(_TIDY)
    return tidied(job, filler, walk.best, stop, chance)
