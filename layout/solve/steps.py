"""What other processes do beside the search, one thing after the other, and what both speak of."""

import os
from enum import Enum

from layout.allowances import Sawing

__all__ = ["MOST_COPIES", "WALK", "Piece", "Steps", "Work", "usable_cores", "work_beside"]

MOST_COPIES = 20  # beyond these the constraint programme has never proved anything in time
_LONG = 20.0  # below which nothing came of looking set by set among many boards [s]
WALK = 0.9  # share of the limit for the money, the rest for the later goals


class Work(Enum):
    """One thing that a process beside the search may do."""

    SEARCH = "plans that cost less"
    QUICK = "the quick bound"
    SAWING = "bounds for the shop's way of sawing"
    SETS = "the same, and plans of boards asked set by set"
    PIECES = "bounds by the constraint programme"


Piece = tuple[str, str, float, float]  # board, part, and the corner of its sawn piece [mm]
Steps = tuple[tuple[Work, float], ...]  # each with the time by which it is to be over, from the start [s]


def work_beside(
    sawing: Sawing,
    copies: int,
    seconds: float,
    *,
    cores: int,
    listed: bool,
    repairs: bool = False,
) -> list[Steps]:
    """What is done beside a search, process by process.

    Where two cores have to do, the second one proves as long as that tells more: a second search
    there made plans hardly cheaper, and left a proof a third further off. A third core has it.

    Parameters
    ----------
    sawing : Sawing
    copies : int
        Of all parts.
    seconds : float
        Limit of the search [s].
    cores : int
        At hand, the one of the search counted.
    listed : bool
        Whether boards are so few that every set of them is thought of (`layout.solve.targets`).
    repairs : bool
        Whether repairs follow the search, to which it has to leave most of its time.
    """
    search = (Work.SEARCH, WALK * seconds)  # the last plan has to come in time
    few = copies <= MOST_COPIES
    if repairs and not few:
        return [(search,)]
    proof: list[tuple[Work, float]] = [(Work.QUICK, seconds)]
    if few or sawing is not Sawing.BAND_SAW:
        # Of few pieces the proof finds its own plans.
        sets = not few and (listed or seconds >= _LONG)
        proof.append((Work.SETS if sets else Work.SAWING, seconds))
    if few:
        proof.append((Work.PIECES, seconds))
    if cores > 2 and not repairs:
        return [tuple(proof), (search,)]
    # Of many pieces sawn out freely nothing more can be proved.
    return [(*proof, search)] if len(proof) == 1 and listed else [tuple(proof)]


def usable_cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
