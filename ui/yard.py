"""At the yard: what each board adds, found by planning without it."""

from collections.abc import Callable

from ui import chain
from ui.jobfile import Job
from ui.report import money

__all__ = ["board_worths"]

_SECONDS = 1.5  # for each plan: enough to compare by, not to saw by


def board_worths(
    job: Job, seconds: float = _SECONDS, on_step: Callable[[float], object] | None = None
) -> list[tuple[str, str]]:
    """Number and, in words, what the plan would lose without each board it uses.

    Parameters
    ----------
    job : Job
        With a layout.
    seconds : float
        For each plan [s].
    on_step : callable, optional
        Told the share done.
    """
    layout = job.layout
    if layout is None:
        return []
    told = []
    for number, left_out in enumerate(layout.boards_used):
        if on_step is not None:
            on_step(number / len(layout.boards_used))
        boards = tuple(
            board.model_copy(update={"forbidden": True}) if board.id == left_out else board
            for board in job.boards
        )
        if any(item.board == left_out and (item.locked or item.cut) for item in layout.placements):
            told.append((left_out, "holds locked or cut parts."))
            continue
        without = chain.planned(job.model_copy(update={"boards": boards}), seconds=seconds)
        lost = len(without.unplaced) - len(layout.unplaced)
        more = without.cost - layout.cost
        told.append((left_out, _words(lost, more, job.currency)))
    return told


def _words(lost: int, more: float, currency: str) -> str:
    if lost > 0:
        return f"without it {lost} part{'s find' if lost > 1 else ' finds'} no place."
    if more > 0.005:
        return f"it saves {money(more, currency)}: the other boards would do, for more."
    if more < -0.005:
        return f"the other boards would do, for {money(-more, currency)} less: plan again for longer."
    return "the other boards would do at the same cost."
