"""The stages of a search: a first plan, walks and market in turn, tidying."""

from collections.abc import Callable
from math import inf
from random import Random
from time import sleep

from layout.solve.construct import (
    Draft,
    boards_by_value,
    boards_in_play,
    first_draft,
    parts_by_size,
)
from layout.solve.dense import dense
from layout.solve.densest import FEW_COPIES
from layout.solve.dive import dived
from layout.solve.filling import Filler
from layout.solve.improve import Walk, walked
from layout.solve.job import Job
from layout.solve.market import Market
from layout.solve.pool import Pool
from layout.solve.region import Region
from layout.solve.reworked import annealed
from layout.solve.steps import MOST_BOARDS, WALK
from layout.solve.stop import Stop
from layout.solve.targets import Targets, made_anew, made_of
from layout.solve.tidy import tidied

__all__ = ["searched"]

_AFTER = 0.004  # for every copy, to make a layout of the draft [s]
_WAIT = 0.01  # between two looks whether to wait longer [s]
_TIDY = 1.5  # is enough for the later goals once the money is proved [s]
_FIRST_TURN, _LAST_TURN = 200, 1500  # rounds that walks and market take in turn, each longer than before
_TURN_AGAIN = 50  # the first one, with a plan to start from, which walks seldom better
_MANY = 40  # copies above which the market begins, and has the longer turn
_WALKS_OF_MANY = 0.5  # of a turn that the walks have then
_POWERS = (1.0, 1.2, 1.4)  # of their areas that parts are worth, for dense first drafts
_DRAFTS = 0.3  # are made in any case, as far as they are ready by then [s]
_DENSITY = 0.75  # of a board's wood that parts take
_FIRST_OFFERS, _OFFERS = 0.3, 0.15  # of the market's turn for prices, at first and later
_DIVES = 3  # times the market's turn, for dives
_QUIET, _QUIET_OF_MANY = 4_000, 40_000  # rounds without a better plan, after which one is thorough
_AIMS = 12  # times the market's turn, for sets of boards cheaper than the best plan
_DIVES_TOO = 1  # times the market's turn, for dives, where such sets are tried
_LITTLE = 0.06  # share of the parts missing, up to which pieces change places until all fit,
_ROUNDS, _MOST_ROUNDS = 1_000, 12_000  # so many rounds every time that a set was tried, at most
_LEAST_ROOM = 0.9  # share of the parts that a set must promise to hold
_NEARLY = 0.08  # share of them missing, up to which a draft is gone on with,
_AGAIN = 4  # so many times by filling some of its boards anew, then piece by piece or by a walk
_FEW_BOARDS = 4  # fewer leave the market no choice
_WHOLE = 0.7  # share of dives that begin with nothing
_MOST_WHOLE = 24  # boards used, above which none does
_TAKEN_OUT = (3, 10)  # boards taken out of the best plan otherwise
_OPEN = 3  # times as many others that may be used instead
_MANY_MAPS = 2500  # of boards in play and parts, above which plans are improved region by region
_REGION = 600  # rounds in a region before it has to pay


def searched(
    job: Job,
    stop: Stop,
    chance: Random,
    report: Callable[[Draft], None],
    is_best: Callable[[float], bool] | None = None,
    start: Draft | None = None,
    told: Callable[[float], Draft | None] | None = None,
    waits: Callable[[], bool] = lambda: False,
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
    told : function, optional
        Answers with a draft found elsewhere since it was asked last, if there is one that costs less.
    waits : function, optional
        Whether to leave the core to others after the first drafts, asked again and again.
    """
    walk = _begun(
        job,
        stop,
        Walk(job, Filler(job), Draft(list(job.wanted)), chance, report, Pool(), is_best, told),
        start,
        waits,
    )
    if not job.boards:  # every one barred, or none there: nothing to look for
        return walk.best
    boards = boards_in_play(job)
    maps = len(boards) * sum(1 for count in job.wanted if count)
    if maps > _MANY_MAPS and not any(walk.best.missing) and not job.books.families:
        while not stop.now(WALK) and not walk.settled():
            _in_region(Region(walk, boards), stop)
    else:
        _in_turns(walk, stop, first=_FIRST_TURN if start is None else _TURN_AGAIN)
    if walk.settled():
        stop.end_within(_TIDY)
    return tidied(job, walk.filler, walk.best, stop, chance)


def _begun(job: Job, stop: Stop, walk: Walk, start: Draft | None, waits: Callable[[], bool]) -> Walk:
    """A walk that stands at the best of the first drafts."""
    views = walk.filler.views
    views.hurry = stop.cancelled
    first = first_draft(job, walk.filler, parts_by_size(job), boards_by_value(job), stop.cancelled)
    stop.keep_back(_AFTER * job.copies())
    walk.begin(first)

    def over() -> bool:  # even a very short search has these few drafts to choose from
        return stop.cancelled() or (stop.now(WALK) and not stop.early(_DRAFTS))

    views.hurry = over
    if start is not None:
        walk.resume(start)
    for power in _POWERS:
        if not over():
            walk.offer(_dense_draft(job, walk.filler, power, over, walk.chance))
    while waits() and not stop.now(WALK) and not walk.settled():
        sleep(_WAIT)
    views.hurry = stop.cut
    return walk


def _in_turns(walk: Walk, stop: Stop, rounds: float = inf, first: int = _FIRST_TURN) -> None:
    """Walks and market in turn, until it is time to stop or about so many rounds are over."""
    job, until = walk.job, stop.rounds + rounds
    assert walk.pool is not None
    market = Market(job, walk.filler, walk.pool, walk.chance, walk.penalties())
    targets = Targets(market, walk.weights)
    many = job.copies() > _MANY
    turn, since = first, stop.rounds
    while stop.rounds < until and not stop.now(WALK) and not walk.settled():
        before = walk.best_worth[:2]
        # With many copies the market finds better plans at once than walks do in a while.
        if not many or turn > first:
            with stop.turn(round(turn * (_WALKS_OF_MANY if many else 1.0))):
                walked(walk, stop, WALK)
        # What a width is worth depends on the widths beside it: the market has no price for staves.
        if len(job.boards) >= _FEW_BOARDS and not job.books.families and walk.best_worth[:2] > (0.0, 0.0):
            _trade(market, walk, stop, turn, turn < _LAST_TURN)
            if len(market.boards) <= MOST_BOARDS:
                _aim(targets, walk, stop, _AIMS * turn)
        # What takes long is for when nothing better comes of what is quick.
        since = stop.rounds if walk.best_worth[:2] < before else since
        market.thorough = stop.rounds - since > (_QUIET_OF_MANY if job.copies() > FEW_COPIES else _QUIET)
        turn = min(2 * turn, _LAST_TURN)


def _in_region(region: Region, stop: Stop) -> None:
    """A part of a large plan improved by itself, for as long as that pays."""
    job = region.job()
    inner = region.walk_in(job)
    inner.filler.views.hurry = stop.cut
    before = inner.best_worth
    while True:
        _in_turns(inner, stop, _REGION)
        if inner.best_worth[:2] >= before[:2] or stop.now(WALK):
            break
        before = inner.best_worth
    region.walk.offer(region.given_back(inner.best))


def _dense_draft(job: Job, filler: Filler, power: float, over: Callable[[], bool], chance: Random) -> Draft:
    """Boards filled densely one after the other; the greater the power, the more large parts come first."""
    areas = job.areas()
    worth = [area**power * 10.0**part.priority for area, part in zip(areas, job.parts, strict=True)]
    rate = _DENSITY * sum(worth) / sum(areas) if areas else 0.0
    draft = Draft(list(job.wanted))
    for board in boards_by_value(job):
        if not any(draft.missing) or over():
            break
        draft.put(dense(filler, board, draft.missing, worth, rate * job.woods[board], chance))
    return draft


def _trade(market: Market, walk: Walk, stop: Stop, rounds: int, first: bool) -> None:
    """The market's turn: prices for a while, then dives at these prices."""
    with stop.turn(round(rounds * (_FIRST_OFFERS if first else _OFFERS))):
        while not stop.now(WALK):
            if not market.settle(stop, walk.best):
                return
            market.offer(stop, WALK)
    with stop.turn(rounds):
        market.offer_densest(stop, WALK)
    if stop.now(WALK) or not market.settle(stop, walk.best):
        return
    dives = _DIVES_TOO if len(market.boards) <= MOST_BOARDS else _DIVES
    with stop.turn(dives * rounds):
        while not stop.now(WALK) and not walk.settled():
            draft = _dive(market, walk, stop)
            if draft is not None:
                walk.offer(draft)


def _dive(market: Market, walk: Walk, stop: Stop) -> Draft | None:
    """A dive with the whole job, or from the best plan without some of its boards."""
    chance, best, many = market.chance, walk.best, len(walk.best.fillings) > _MOST_WHOLE
    used = list(best.fillings)
    unused = [board for board in market.boards if board not in best.fillings]
    if not many and (any(best.missing) or len(used) < _TAKEN_OUT[0] or chance.random() < _WHOLE):
        return dived(market, Draft(list(market.job.wanted)), used + unused, walk.ceiling(), stop, WALK)
    out = chance.sample(used, min(chance.randint(*_TAKEN_OUT), len(used)))
    if len(unused) > _OPEN * len(out):
        unused = chance.sample(unused, _OPEN * len(out))
    start = best.copy()
    for board in out:
        start.clear(board)
    return dived(market, start, out + unused, walk.ceiling(), stop, WALK)


def _aim(targets: Targets, walk: Walk, stop: Stop, rounds: int) -> None:
    """Sets of boards cheaper than the best plan: dives, and what nearly fits gone on with."""
    if stop.now(WALK) or walk.best_worth[0] > 0.0 or not targets.market.settle(stop, walk.best):
        return
    targets.learn(targets.market.worth)
    with stop.turn(rounds):
        while not stop.now(WALK) and not walk.settled():
            target = targets.next(walk.ceiling())
            if target is None or target.room < _LEAST_ROOM:
                return
            draft = made_of(targets, target, stop, WALK)
            for _ in range(_AGAIN):
                if 0.0 < targets.lacks(draft) <= _NEARLY and not stop.now(WALK):
                    draft = made_anew(targets, target, draft, stop, WALK)
            if not any(draft.missing):
                walk.offer(draft)
            elif targets.lacks(draft) <= _LITTLE:
                longer = min(_ROUNDS * target.tries, _MOST_ROUNDS)
                annealed(walk, target.boards, draft, stop, WALK, longer)
            elif targets.lacks(draft) <= _NEARLY:
                walk.within(target.boards, draft, stop, WALK)
