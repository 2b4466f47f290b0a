"""At the yard: the cheapest set of boards that makes everything, and how sure one can be of it.

Boards already owned cost nothing. Besides the cheapest set come the runners-up
that cost little more (each does without one board of the cheapest set, should it
turn out bad or be sold), what is left over as slack, and what each further board
would give.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from random import Random

from layout.allowances import Shop
from layout.parts import Part
from layout.placement import Layout
from layout.solve.construct import parts_by_size
from layout.solve.filling import Filler
from layout.solve.job import Job, job_of
from layout.solve.params import SolveParams
from layout.solve.plan import plan
from layout.solve.result import layout_of
from layout.solve.search import searched
from layout.solve.stop import Stop
from layout.stock import Board

__all__ = ["Choice", "Further", "Purchase", "what_to_buy"]

_NEAR = 1.03  # runners-up cost at most this much times the cheapest
_MAIN = 0.6  # share of the time for the cheapest set


@dataclass(frozen=True)
class Choice:
    """One set of boards that makes everything it can.

    Parameters
    ----------
    boards : tuple of str
        All boards cut.
    bought : tuple of str
        Those not owned yet.
    cost : float
        [money]
    layout : Layout
    without : str or None
        The board of the cheapest set that this one does without.
    """

    boards: tuple[str, ...]
    bought: tuple[str, ...]
    cost: float
    layout: Layout
    without: str | None = None

    @property
    def slack(self) -> float:
        """Area of the offcuts worth keeping [mm2]."""
        return sum((item.x1 - item.x0) * (item.y1 - item.y0) for item in self.layout.offcuts)

    @property
    def longest_left(self) -> float:
        """Length of the longest of them [mm]."""
        return max((item.x1 - item.x0 for item in self.layout.offcuts), default=0.0)


@dataclass(frozen=True)
class Further:
    """What one more board would give.

    Parameters
    ----------
    board : str
    price : float
        [money]
    spares : dict of str to int
        Copies of parts that could be cut from it a second time, should one fail.
    """

    board: str
    price: float
    spares: dict[str, int]


@dataclass(frozen=True)
class Purchase:
    """The cheapest set, runners-up by cost, and every further board by price."""

    best: Choice
    runners_up: tuple[Choice, ...]
    further: tuple[Further, ...]


def what_to_buy(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    params: SolveParams | None = None,
    *,
    should_stop: Callable[[], bool] | None = None,
) -> Purchase:
    """The cheapest set of candidate boards, and what a buyer asks next.

    Parameters
    ----------
    boards : sequence of Board
        Candidates with their prices, and owned boards.
    parts : sequence of Part
    shop : Shop
    params : SolveParams, optional
        Its limit is shared: most for the cheapest set, the rest for runners-up.
    should_stop : function, optional
        As for `layout.solve.plan.plan`.
    """
    params = params or SolveParams()
    main = params if params.iterations is not None else replace(params, seconds=params.seconds * _MAIN)
    layout = plan(boards, parts, shop, main, should_stop=should_stop)
    best = _choice(boards, layout)
    job = job_of(boards, parts, shop)
    lost = [sum(item.part == part.name for item in layout.unplaced) for part in parts]
    found = []
    for name in best.bought:
        share = params.seconds * (1 - _MAIN) / len(best.bought)
        limit = replace(params, seconds=share, prove=False)
        without = _without(job, name)
        draft = searched(without, Stop(limit, should_stop), Random(params.seed), lambda _: None)
        if draft.missing != lost or draft.money(without) > best.cost * _NEAR + 1e-9:
            continue
        other = layout_of(without, draft, boards, parts, (), layout.unplaced, params.seed)
        found.append(replace(_choice(boards, other), without=name))
    return Purchase(best, _distinct(found), _further(job, best))


def _choice(boards: Sequence[Board], layout: Layout) -> Choice:
    used = layout.boards_used
    owned = {board.id for board in boards if board.owned}
    return Choice(used, tuple(name for name in used if name not in owned), layout.cost, layout)


def _distinct(found: Sequence[Choice]) -> tuple[Choice, ...]:
    kept: dict[frozenset[str], Choice] = {}
    for choice in sorted(found, key=lambda item: item.cost):
        kept.setdefault(frozenset(choice.boards), choice)
    return tuple(kept.values())


def _without(job: Job, name: str) -> Job:
    """The job with one board less; maps are shared."""
    return job.only([number for number, board in enumerate(job.boards) if board.id != name])


def _further(job: Job, best: Choice) -> tuple[Further, ...]:
    filler = Filler(job)
    order = parts_by_size(job)
    names = [part.name for part in job.parts]
    found = []
    for number, board in enumerate(job.boards):
        if board.id in best.boards:
            continue
        again = filler.fill(number, job.wanted, order).counts
        found.append(
            Further(
                board.id,
                job.prices[number],
                {name: count for name, count in zip(names, again, strict=True) if count},
            )
        )
    return tuple(sorted(found, key=lambda item: item.price))
