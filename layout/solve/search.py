"""The stages of a search: a first plan, walks and market in turn, tidying."""

from collections.abc import Callable
from random import Random

from layout.solve.construct import Draft, boards_by_value, first_draft, parts_by_size
from layout.solve.dense import dense
from layout.solve.filling import Filler
from layout.solve.improve import Walk, walked
from layout.solve.job import Job
from layout.solve.market import Market
from layout.solve.packing import packed
from layout.solve.pool import Pool
from layout.solve.stop import Stop
from layout.solve.tidy import tidied

__all__ = ["searched"]

_WALK = 0.85  # share of the limit for the money, the rest for the later goals
_AFTER = 0.003  # for every copy, to make a layout of the draft [s]
_TIDY = 1.5  # is enough for the later goals once the money is proved [s]
_FIRST_TURN, _LAST_TURN = 200, 1500  # rounds that walks and market take in turn, each longer than before
_MANY = 40  # copies above which the market has the longer turn
_WALKS_OF_MANY = 0.5  # of a turn that the walks have then
_MARKET_OF_FEW = 0.4  # of a turn that the market has otherwise
_POWERS = (1.0, 1.2, 1.4)  # of their areas that parts are worth, for dense first drafts
_DENSITY = 0.75  # of a board's wood that parts take
_FIRST_OFFERS, _OFFERS = 0.4, 0.15  # of the market's turn for prices, at first and later
_FEW_BOARDS = 4  # fewer leave the market no choice
_PACKED = 1200  # fillings the set packing chooses from
_SECONDS = 1.0  # for one set packing [s]
_NODES = 300  # of one set packing


def searched(
    job: Job,
    stop: Stop,
    chance: Random,
    report: Callable[[Draft], None],
    is_best: Callable[[float], bool] | None = None,
    start: Draft | None = None,
) -> Draft:
    """The best draft found until it is time to stop.

    Walks and market take turns that do not depend on the limit, so that a longer
    search goes through the same drafts as a shorter one, and further.

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
    filler.views.hurry = stop.cancelled
    draft = first_draft(job, filler, parts_by_size(job), boards_by_value(job), stop.cancelled)
    filler.views.hurry = stop.cut
    stop.keep_back(_AFTER * job.copies())
    pool = Pool()
    walk = Walk(job, filler, draft, chance, report, pool, is_best)
    report(draft)
    if start is not None:
        walk.resume(start)
    for power in _POWERS:
        if not stop.now(_WALK):
            walk.offer(_dense_draft(job, filler, power, stop, chance))
    market = Market(job, filler, pool, chance, walk.penalties())
    many = job.copies() > _MANY
    turn = _FIRST_TURN
    while not stop.now(_WALK) and not walk.settled():
        with stop.turn(round(turn * (_WALKS_OF_MANY if many else 1.0))):
            walked(walk, stop, _WALK)
        # What a width is worth depends on the widths beside it: the market has no price for staves.
        if len(job.boards) >= _FEW_BOARDS and not job.books.families and walk.best_worth[:2] > (0.0, 0.0):
            _trade(market, walk, stop, round(turn * (1.0 if many else _MARKET_OF_FEW)), turn < _LAST_TURN)
        turn = min(2 * turn, _LAST_TURN)
    if walk.settled():
        stop.end_within(_TIDY)
    return tidied(job, filler, walk.best, stop, chance)


def _dense_draft(job: Job, filler: Filler, power: float, stop: Stop, chance: Random) -> Draft:
    """Boards filled densely one after the other; the greater the power, the more large parts come first."""
    areas = job.areas()
    worth = [area**power * 10.0**part.priority for area, part in zip(areas, job.parts, strict=True)]
    rate = _DENSITY * sum(worth) / sum(areas) if areas else 0.0
    draft = Draft(list(job.wanted))
    for board in boards_by_value(job):
        if not any(draft.missing) or stop.now(_WALK):
            break
        draft.put(dense(filler, board, draft.missing, worth, rate * job.woods[board], chance))
    return draft


def _trade(market: Market, walk: Walk, stop: Stop, rounds: int, first: bool) -> None:
    """The market's turn: prices until half of it is over, then plans at these prices, and the set packing."""
    with stop.turn(offers := round(rounds * (_FIRST_OFFERS if first else _OFFERS))):
        while not stop.now(_WALK):
            if not market.settle(stop, walk.best):
                return
            market.offer(stop, _WALK)
    if stop.now(_WALK) or not market.settle(stop, walk.best):
        return
    with stop.turn(rounds - offers):
        while not stop.now(_WALK):
            walk.offer(market.plan(stop, _WALK, walk.best_worth[1]))
    if stop.now(_WALK) or walk.settled():
        return
    nodes = _NODES if stop.counted else None
    seconds = min(stop.left(_WALK), 60.0 if stop.counted else _SECONDS)
    packing = packed(market.job, market.columns(_PACKED), seconds, walk.penalties(), nodes, stop.cancelled)
    if packing is not None:
        walk.offer(packing)
