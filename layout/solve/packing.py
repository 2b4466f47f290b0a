"""Set packing in HiGHS (as shipped with SciPy): of the fillings given, the cheapest choice of boards.

minimise    price of boards used + penalty for copies missing
such that   every part is held as often as wanted (more is dropped later),
            no board is cut twice
"""

from collections.abc import Callable, Sequence
from threading import Thread

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, OptimizeResult, milp
from scipy.sparse import csc_array

from layout.solve.construct import Draft
from layout.solve.filling import Filling
from layout.solve.job import Job

__all__ = ["packed", "trimmed"]

_POLL = 0.05  # between two questions whether to stop [s]
_REPAIR = 1e-3  # repair money counts only between equal board money


def packed(
    job: Job,
    fillings: Sequence[Filling],
    seconds: float,
    penalties: Sequence[float],
    nodes: int | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> Draft | None:
    """The best draft that can be put together from fillings, or None if none was found in time.

    Parameters
    ----------
    job
    fillings : sequence of Filling
    seconds : float
        Time limit [s].
    penalties : sequence of float
        Price of leaving one copy of each part without a place [money].
    nodes : int, optional
        Limit by branch and bound nodes, so that the answer does not depend on time.
    cancelled : function, optional
        Asked while the programme runs.
    """
    if not fillings or seconds <= 0.0:
        return None
    count, parts = len(fillings), len(job.parts)
    options: dict[str, float] = {"time_limit": seconds, "mip_rel_gap": 1e-6}
    if nodes is not None:
        options["node_limit"] = nodes
    answers: list[OptimizeResult] = []

    def solve() -> None:
        answer = milp(
            np.array([job.prices[item.board] + _REPAIR * item.mend for item in fillings] + list(penalties)),
            integrality=np.ones(count + parts),
            bounds=Bounds(0.0, np.array([1.0] * count + [float(n) for n in job.wanted])),
            constraints=_rows(job, fillings),
            options=options,
        )
        answers.append(answer)

    # In a thread of its own, because the programme asks nobody whether to stop.
    thread = Thread(target=solve, daemon=True)
    thread.start()
    while thread.is_alive() and not cancelled():
        thread.join(_POLL)
    if not answers or answers[0].x is None:
        return None
    draft = Draft(list(job.wanted))
    for number, filling in enumerate(fillings):
        if answers[0].x[number] > 0.5:
            draft.put(filling)
    return trimmed(draft)


def _rows(job: Job, columns: Sequence[Filling]) -> LinearConstraint:
    """Every part as often as wanted, or left out at its penalty; every board at most once."""
    parts, boards = len(job.parts), len(job.boards)
    rows, cols, values = [], [], []
    for number, item in enumerate(columns):
        for part, held in enumerate(item.counts):
            if held:
                rows.append(part)
                cols.append(number)
                values.append(float(held))
        rows.append(parts + item.board)
        cols.append(number)
        values.append(1.0)
    rows += range(parts)
    cols += range(len(columns), len(columns) + parts)
    values += [1.0] * parts
    matrix = csc_array((values, (rows, cols)), shape=(parts + boards, len(columns) + parts))
    wanted = [float(n) for n in job.wanted]
    return LinearConstraint(
        matrix, np.array(wanted + [0.0] * boards), np.array([np.inf] * parts + [1.0] * boards)
    )


def trimmed(draft: Draft) -> Draft:
    """The draft without the copies it holds beyond those wanted; what is left can still be sawn."""
    for board in sorted(draft.fillings, key=lambda item: sum(draft.fillings[item].counts)):
        filling = draft.fillings[board]
        places = []
        for place in filling.places:
            part = place[0]
            if draft.missing[part] < 0:
                draft.missing[part] += 1
            else:
                places.append(place)
        if len(places) == len(filling.places):
            continue
        counts = [0] * len(filling.counts)
        for part, _, _ in places:
            counts[part] += 1
        if places:
            draft.fillings[board] = Filling(board, tuple(counts), tuple(places))
        else:
            del draft.fillings[board]
    return draft
