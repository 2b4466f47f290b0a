"""Ruin and recreate: empty a few boards, and cut their parts out again, cheaper.

Two walks take turns:

* the free walk empties one to four boards and fills any boards not in use with
  what is then missing, as long as the money stays near the best known;
* the aimed walk picks a set of boards cheaper than the best plan whose wood
  should be enough, and works on these boards alone until every part has its
  place or the set is given up.
"""

from collections.abc import Callable, Sequence
from math import exp
from random import Random

from layout.allowances import Sawing
from layout.solve.construct import Draft, boards_in_play
from layout.solve.filling import Care, Filler, Filling
from layout.solve.job import Job
from layout.solve.nesting import Begin
from layout.solve.pool import Pool
from layout.solve.stop import Stop

__all__ = ["MENDED", "Walk", "Worth", "improved", "walked"]

Worth = tuple[float, float, float, float]

_PATIENCE = 250  # rounds of the free walk without a better plan before it makes way, and more for each board
_AIMED = 120  # rounds on one set of boards, and more for each board
_SINGLY = 0.3  # share of free fillings in which every copy begins at a corner of its own
_SINGLY_SHORT = 0.6  # the same as long as the best plan lacks parts
_MOST_SINGLY = 24  # copies, which takes time for each
MENDED = 0.4  # share of fillings that may count on repairs, where there are any
_WARMTH = 0.04  # how much dearer a plan may be accepted at the start, as a share of the best


def improved(
    job: Job,
    filler: Filler,
    draft: Draft,
    stop: Stop,
    chance: Random,
    on_better: Callable[[Draft], None] | None = None,
    share: float = 1.0,
) -> Draft:
    """The best draft found from this one by the two walks until it is time to stop."""
    return walked(Walk(job, filler, draft, chance, on_better), stop, share).best


def walked(walk: "Walk", stop: Stop, share: float) -> "Walk":
    """The walk, gone on with until it is time to stop."""
    while not stop.now(share) and not walk.settled():
        walk.free(stop, share)
        walk.aimed(stop, share)
    return walk


class Walk:
    """The state of the search: the best draft, and the one it stands on."""

    def __init__(
        self,
        job: Job,
        filler: Filler,
        draft: Draft,
        chance: Random,
        on_better: Callable[[Draft], None] | None = None,
        pool: Pool | None = None,
        is_best: Callable[[float], bool] | None = None,
        told: Callable[[float], Draft | None] | None = None,
    ) -> None:
        self.job = job
        self.filler = filler
        self.chance = chance
        self.pool = pool
        self.areas = job.areas()
        self.sizes = job.woods
        self.most_held = [0.5 * size for size in self.sizes]
        self.weights = job.weights()
        self._on_better = on_better
        self._is_best = is_best
        self._told = told
        self._boards = boards_in_play(job)
        self._given_up: set[frozenset[int]] = set()
        self.best, self.best_worth = draft, self.worth(draft)

    def worth(self, draft: Draft) -> Worth:
        """How bad a draft is, goal by goal: parts missing, money, repairs, lack of concentration."""
        missing = sum(left * w for left, w in zip(draft.missing, self.weights, strict=True) if left)
        # Full boards beside nearly empty ones are a step towards one board less.
        used = sum(self._held(filling.counts) ** 2 for filling in draft.fillings.values())
        mend = sum(filling.mend for filling in draft.fillings.values())
        return missing, draft.money(self.job), mend, -used / 1e12

    def settled(self) -> bool:
        """Whether the best draft, be it one found elsewhere, holds every part and is proved the cheapest."""
        found = None if self._told is None else self._told(self.ceiling())
        if found is not None:
            self.offer(found)
        return (
            self._is_best is not None
            and self.best_worth[0] == 0.0
            and self.best_worth[2] == 0.0
            and self._is_best(self.best_worth[1])
        )

    def penalties(self) -> list[float]:
        """A price for leaving out one copy of each part that no saving on boards can pay [money]."""
        dear = 2.0 * sum(self.job.prices) + 1.0
        least = max(min(self.weights[: len(self.job.books.parts)], default=1.0), 1.0)
        return [dear * weight / least for weight in self.weights]

    def ceiling(self) -> float:
        """Money that another plan may cost at most; any, while the best one lacks parts."""
        return float("inf") if self.best_worth[0] > 0.0 else self.best_worth[1]

    def begin(self, draft: Draft) -> None:
        """Stand at a first draft, whatever it is worth."""
        self.best, self.best_worth = draft, self.worth(draft)
        if self._on_better is not None:
            self._on_better(draft)

    def _held(self, counts: Sequence[int]) -> float:
        return sum(n * area for n, area in zip(counts, self.areas, strict=True) if n)

    def offer(self, draft: Draft) -> bool:
        """Take a draft as the best if it is; whether it was better in parts or money."""
        worth = self.worth(draft)
        if worth >= self.best_worth:
            return False
        better = worth[0] < self.best_worth[0] or worth[1] < self.best_worth[1] - 1e-9
        self.best, self.best_worth = draft, worth
        if better and self._on_better is not None:
            self._on_better(draft)
        return better

    def resume(self, draft: Draft) -> None:
        """Take up an earlier draft: its missing parts are added in a few ways, the best of them offered."""
        for _ in range(12):
            trial = draft.copy()
            self.recreate(trial, self._open(trial), float("inf"))
            self.offer(trial)

    def free(self, stop: Stop, share: float) -> None:
        """Walk among all boards until nothing better has come for a while."""
        now, now_worth = self.best, self.best_worth
        idle, patience = 0, _PATIENCE + 15 * len(self.job.boards)
        while idle < patience and not stop.now(share):
            stop.rounds += 1
            idle += 1
            warm = _WARMTH * (1.0 - idle / patience)
            trial = now.copy()
            for board in self._ruined(now, self.chance.randint(1, 4)):
                trial.clear(board)
            boards = self._open(trial)
            ceiling = self.best_worth[1] * (1.0 + warm) if now_worth[0] == 0.0 else float("inf")
            self.recreate(trial, boards, ceiling)
            worth = self.worth(trial)
            dearer = warm and worth[0] <= now_worth[0] and worth[1] < ceiling - 1e-9
            if worth <= now_worth or (dearer and self.chance.random() < 0.3):
                now, now_worth = trial, worth
                if self.offer(trial):
                    idle = 0

    def aimed(self, stop: Stop, share: float) -> None:
        """Try to get every part out of a set of boards cheaper than the best plan.

        As long as parts are missing the set is all boards.
        """
        short = any(self.best.missing)
        boards = list(range(len(self.sizes))) if short else self._aim()
        if boards is None:
            return
        held = Draft(list(self.job.wanted))
        for board, filling in self.best.fillings.items():
            if board in boards:
                held.put(filling)
        if self.within(boards, held, stop, share) and not short:
            self._given_up.add(frozenset(boards))

    def within(self, boards: Sequence[int], begun: Draft, stop: Stop, share: float) -> bool:
        """Walk from a draft among these boards alone until it is whole; whether that was given up.

        As long as the best plan lacks parts too, whatever is better than that will do.
        """
        short, now = any(self.best.missing), begun.copy()
        self.recreate(now, [board for board in boards if board not in now.fillings], float("inf"))
        now_worth = self.worth(now)
        if now_worth[0] == 0.0:
            self.offer(now)
            return False
        least, idle, patience = now_worth[0], 0, _AIMED + 12 * len(boards)
        while idle < patience and not stop.now(share):
            stop.rounds += 1
            idle += 1
            trial = now.copy()
            for board in self._ruined(now, self.chance.randint(1, min(3, len(boards)))):
                trial.clear(board)
            self.recreate(trial, [board for board in boards if board not in trial.fillings], float("inf"))
            worth = self.worth(trial)
            near = worth[0] < now_worth[0] + 0.03 * self.weights[0] * (1 - idle / patience)
            if worth <= now_worth or (near and self.chance.random() < 0.1):
                now, now_worth = trial, worth
                if worth[0] < least - 1e-9:
                    least, idle = worth[0], 0
                if worth[0] == 0.0 or short:
                    self.offer(trial)
                if worth[0] == 0.0:
                    return False
        return idle >= patience

    def _aim(self) -> list[int] | None:
        """A set of boards cheaper than the best plan, with the most wood to hope for among some drawn."""
        used = list(self.best.fillings)
        unused = self._open(self.best)
        prices, money = self.job.prices, self.best_worth[1]
        needed = self._held(self.job.wanted)
        chosen: tuple[float, list[int]] | None = None
        for _ in range(60):
            out = set(self.chance.sample(used, min(self.chance.randint(1, 3), len(used))))
            more = self.chance.sample(unused, min(self.chance.randint(0, 3), len(unused)))
            boards = [board for board in used if board not in out] + more
            price = sum(prices[board] for board in boards)
            if not boards or price >= money - 1e-6 or frozenset(boards) in self._given_up:
                continue
            room = sum(self.most_held[board] for board in boards)
            if room < 0.97 * needed:
                continue
            value = room / needed - self.chance.random() * 0.05
            if chosen is None or value > chosen[0]:
                chosen = (value, boards)
        return chosen[1] if chosen else None

    def _open(self, draft: Draft) -> list[int]:
        """Boards a draft might be helped by; all it does not use, while the best draft lacks parts."""
        boards = range(len(self.sizes)) if any(self.best.missing) else self._boards
        return [board for board in boards if board not in draft.fillings]

    def _ruined(self, draft: Draft, count: int) -> list[int]:
        used = list(draft.fillings)
        return self.chance.sample(used, min(count, len(used)))

    def recreate(self, trial: Draft, boards: Sequence[int], ceiling: float) -> None:
        """Fill boards with what is missing, the best wood for the money first, up to a sum of money."""
        chance, prices = self.chance, self.job.prices
        noise = chance.choice((0.1, 0.3, 0.8))
        ranked = sorted(
            boards,
            key=lambda board: (
                (prices[board] + 1e-3) / self.sizes[board] * exp(noise * chance.gauss(0.0, 1.0))
            ),
        )
        money, fill = trial.money(self.job), self._way_to_fill()
        for board in ranked:
            if not any(trial.missing):
                return
            if money + prices[board] > ceiling:
                continue
            filling = fill(board, trial.missing)
            if any(filling.counts):
                trial.put(filling)
                money += prices[board]
                self.most_held[board] = max(self.most_held[board], self._held(filling.counts))
                if self.pool is not None:
                    self.pool.add(filling)

    def _way_to_fill(self) -> Callable[[int, Sequence[int]], Filling]:
        """A way to fill one board after the other, drawn by chance."""
        chance = self.chance
        power, spread = chance.choice((0.5, 1.0, 1.0)), chance.choice((0.15, 0.4))
        care = Care.MENDED if self.job.mended and chance.random() < MENDED else Care.ALLOWED
        band_saw = self.job.sawing is Sawing.BAND_SAW
        crosscut = chance.choice((True, False, None)) if band_saw else None
        begin = (chance.random() < 0.3, chance.random() < 0.3, chance.random() < 0.3)
        share = _SINGLY_SHORT if any(self.best.missing) else _SINGLY

        def fill(board: int, missing: Sequence[int]) -> Filling:
            order = self.order(power, spread)
            singly: Sequence[tuple[int, Begin]] = ()
            if band_saw and crosscut is None and chance.random() < share:
                singly = self._singly(order, missing)
            return self.filler.fill(board, missing, order, care, crosscut, begin, singly)

        return fill

    def _singly(self, order: Sequence[int], missing: Sequence[int]) -> list[tuple[int, Begin]]:
        """Copies missing, roughly in order, each with a corner of its own; none where they are many."""
        if sum(missing) > _MOST_SINGLY:
            return []
        chance = self.chance
        copies = [(rank, part) for rank, part in enumerate(order) for _ in range(missing[part])]
        copies.sort(key=lambda copy: copy[0] + 1.5 * chance.gauss(0.0, 1.0))
        return [
            (part, (chance.random() < 0.5, chance.random() < 0.5, chance.random() < 0.5))
            for _, part in copies
        ]

    def order(self, power: float, spread: float) -> list[int]:
        """Parts in an order to be tried: by priority, then by their area to a power, with so much noise."""
        chance, parts, areas = self.chance, self.job.parts, self.areas
        tried = self.job.books.drawn(chance)
        scores = [
            (-parts[group[0]].priority, -(areas[group[0]] ** power) * exp(spread * chance.gauss(0.0, 1.0)))
            for group in tried
        ]
        order = sorted(range(len(tried)), key=scores.__getitem__)
        return [part for number in order for part in tried[number]]
