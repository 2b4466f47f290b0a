"""Ruin and recreate: empty a few boards, and cut their parts out again, cheaper."""

from collections.abc import Callable

import numpy as np

from layout.solve.construct import Draft, noisy
from layout.solve.filling import Filler
from layout.solve.job import Job
from layout.solve.stop import Stop

__all__ = ["Worth", "improved", "worth"]

Worth = tuple[float, float, float]


def worth(job: Job, draft: Draft) -> Worth:
    """How bad a draft is, to be compared goal by goal: parts missing, money, lack of concentration."""
    areas = job.areas()
    missing = sum(
        left * area * 10.0 ** job.parts[part].priority
        for part, (left, area) in enumerate(zip(draft.missing, areas, strict=True))
    )
    # Full boards beside nearly empty ones are a step towards one board less.
    used = sum(
        (sum(n * a for n, a in zip(item.counts, areas, strict=True)) / 1e6) ** 2
        for item in draft.fillings.values()
    )
    return missing, draft.money(job), -used


def improved(
    job: Job,
    filler: Filler,
    draft: Draft,
    stop: Stop,
    chance: np.random.Generator,
    on_better: Callable[[Draft], None] | None = None,
    share: float = 1.0,
) -> Draft:
    """The best draft found by emptying and refilling boards until it is time to stop."""
    best, best_worth = draft, worth(job, draft)
    now, now_worth = best, best_worth
    areas = job.areas()
    sizes = [float(ground.wood.area) for ground in job.grounds]
    while not stop.now(share):
        stop.rounds += 1
        trial = now.copy()
        count = int(chance.integers(1, 4))
        ruined = _ruined(now, count, chance)
        for board in ruined:
            trial.clear(board)
        _recreate(job, filler, trial, now_worth, areas, sizes, chance)
        trial_worth = worth(job, trial)
        if trial_worth <= now_worth:
            now, now_worth = trial, trial_worth
            if trial_worth < best_worth:
                if trial_worth[:2] < best_worth[:2] and on_better is not None:
                    on_better(trial)
                best, best_worth = trial, trial_worth
    return best


def _ruined(draft: Draft, count: int, chance: np.random.Generator) -> list[int]:
    used = list(draft.fillings)
    if not used:
        return []
    count = min(count, len(used))
    return [int(board) for board in chance.choice(used, size=count, replace=False)]


def _recreate(
    job: Job,
    filler: Filler,
    trial: Draft,
    limit: Worth,
    areas: list[float],
    sizes: list[float],
    chance: np.random.Generator,
) -> None:
    free = [board for board in range(len(job.boards)) if board not in trial.fillings]
    per_area = [(job.prices[board] + 1e-3) / max(sizes[board], 1.0) for board in free]
    noise = float(chance.choice([0.1, 0.3, 0.8]))
    values = noisy(per_area, noise, chance)
    power = float(chance.choice([0.5, 1.0]))
    money = trial.money(job)
    for _, board in sorted(zip(values, free, strict=True)):
        if not any(trial.missing):
            return
        if limit[0] == 0.0 and money + job.prices[board] > limit[1] + 1e-9:
            continue
        scores = noisy([area**power for area in areas], 0.3, chance)
        order = sorted(range(len(areas)), key=lambda part: (-job.parts[part].priority, -scores[part]))
        filling = filler.fill(board, trial.missing, order)
        if any(filling.counts):
            trial.put(filling)
            money += job.prices[board]
