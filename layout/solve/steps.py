"""What other processes do beside the search, one thing after the other, and what both speak of."""

import os
from enum import Enum

from layout.allowances import Sawing

__all__ = ["MOST_COPIES", "WALK", "Piece", "Steps", "Work", "usable_cores", "work_beside"]

MOST_COPIES = 20  # beyond these the constraint programme has never proved anything in time
WALK = 0.9  # share of the limit for the money, the rest for the later goals
_PROOF = 0.4  # share of the limit for a proof that is followed by a search


class Work(Enum):
    """One thing that a process beside the search may do."""

    SEARCH = "plans that cost less"
    QUICK = "the quick bound"
    SAWING = "bounds for the shop's way of sawing"
    PIECES = "bounds by the constraint programme"


Piece = tuple[str, str, float, float]  # board, part, and the corner of its sawn piece [mm]
Steps = tuple[tuple[Work, float], ...]  # each with the time by which it is to be over, from the start [s]


def work_beside(
    sawing: Sawing, copies: int, seconds: float, *, cores: int, listed: bool, repairs: bool = False
) -> list[Steps]:
    """What is done beside a search, process by process.

    Few parts are soon proved, which ends the search. Many hardly are: there a second search takes
    over from the proof, as far as two searches find more than one. A third core is its own.

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
    alone = few or cores > 2 or not listed
    proof: list[tuple[Work, float]] = [(Work.QUICK, seconds)]
    if few or sawing is not Sawing.BAND_SAW:
        proof.append((Work.SAWING, seconds if alone else _PROOF * seconds))
    if few:
        proof.append((Work.PIECES, seconds))
    if cores > 2 and not repairs:
        return [tuple(proof), (search,)]
    return [tuple(proof)] if alone else [(*proof, search)]


def usable_cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
