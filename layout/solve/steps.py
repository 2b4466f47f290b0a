"""What other processes do beside the search, one thing after the other, and what both speak of."""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from layout.allowances import Sawing

__all__ = [
    "MOST_BOARDS",
    "MOST_COPIES",
    "SOON",
    "WAITING",
    "WALK",
    "Piece",
    "Sharing",
    "Steps",
    "Work",
    "others_at_most",
    "sharing",
    "usable_cores",
    "work_beside",
]

MOST_BOARDS = 14  # of which every set is listed (`layout.solve.targets`)
MOST_COPIES = 20  # beyond these the constraint programme has never proved anything in time
SOON, _SOON_OF_SHORT = 0.6, 0.85  # share of the limit, and of a short one, for plans that are soon found
_SOON_OF_FEW, _LEAST, _MOST = 0.15, 1.6, 0.8  # the same of few pieces; least [s], and largest share
_VERY_FEW = 7  # pieces, of which the proof is as fast
_FIRST = 5.0  # limit from which on they come first [s]
_FIRST_LOADED = 2.0  # the same of many boards, which a search plans dearly, if what asks them is loaded [s]
WAITING = "waiting"  # said to a process that is to load all it may need, and wait for its task
_MOST_OTHERS = 2  # processes more than that would wait for one another
WALK = 0.9  # share of the limit for the money, the rest for the later goals


class Work(Enum):
    """One thing that a process beside the search may do."""

    SEARCH = "plans that cost less"
    QUICK = "the quick bound, if there is none yet"
    SAWING = "bounds for the shop's way of sawing"
    SETS = "the same, and plans of boards asked set by set"
    SOON = "plans of boards asked set by set, those that are soon found"
    REST = "the other ones"
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
    loaded: bool = False,
) -> list[Steps]:
    """What is done beside a search, process by process.

    Boards are asked set by set first, which finds the cheaper plans. Where two cores have to do, the
    second one proves then as long as that tells more: a second search there made plans hardly cheaper,
    and left a proof a third further off. A third core has it.

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
    loaded : bool
        Whether a process waits that has loaded what it needs.
    """
    search = (Work.SEARCH, WALK * seconds)  # the last plan has to come in time
    few, free = copies <= MOST_COPIES, sawing is Sawing.BAND_SAW
    quick, share = (Work.QUICK, seconds), SOON if seconds >= _FIRST else _SOON_OF_SHORT
    least = _FIRST_LOADED if loaded and not listed and not repairs else _FIRST
    soon = [(Work.SOON, share * seconds)] if seconds >= least else []
    if repairs and not few:
        return [(*soon, search)]
    if few:
        # Of few pieces the proof finds its own plans, which takes longer.
        first = [(Work.SOON, min(max(_SOON_OF_FEW * seconds, _LEAST), _MOST * seconds))]
        rest = [(Work.SAWING, seconds), (Work.PIECES, seconds)]
        proof = [*(first if copies > _VERY_FEW else []), quick, *rest]
    else:
        # Of many pieces sawn out freely nothing but the quick bound can be proved.
        proof = [*soon, quick] if free else [*soon, (Work.SETS, seconds), quick]
    if cores > 2 and not repairs:
        return [tuple(proof), (search,)]
    if free and not few:
        proof.append(search if listed else (Work.REST, seconds))
    return [tuple(proof)]


@dataclass(frozen=True)
class Sharing:
    """How boards asked set by set are shared out.

    Parameters
    ----------
    others : int
        Processes that ask boards beside the one whose step it is.
    waits : bool
        Whether the search leaves them its core until plans soon found were told; they end then.
    """

    others: int = 0
    waits: bool = False


def sharing(
    work: Sequence[Steps],
    copies: int,
    *,
    cores: int,
    listed: bool,
    repairs: bool = False,
    loaded: bool = False,
) -> Sharing:
    """How boards are shared out, as far as they are asked at all.

    Parameters
    ----------
    work : sequence of Steps
    copies, cores, listed, repairs
        As for `work_beside`.
    loaded : bool
        Whether the process whose step it is has loaded what it needs.
    """
    asks = any(what is Work.SOON for steps in work for what, _ in steps)
    if not asks or copies <= MOST_COPIES:
        return Sharing()  # few pieces are soon asked for
    spare = cores - 1 - len(work)
    if spare > 0:
        return Sharing(min(spare, _MOST_OTHERS))
    # What a search finds meanwhile of many boards is soon undercut; of fewer it is as good. As long as
    # processes only begin, a search is worth more.
    return Sharing(1, waits=True) if loaded and not listed and not repairs else Sharing()


def others_at_most(cores: int) -> int:
    """How many further processes may ask boards, of whatever job."""
    return min(max(cores - 2, 1), _MOST_OTHERS)


def usable_cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
