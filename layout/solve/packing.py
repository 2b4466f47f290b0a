"""Set packing in HiGHS (as shipped with SciPy): from all fillings seen, the cheapest choice of boards.

minimise    price of boards used + penalty for copies missing
such that   every part is held as often as wanted (more is dropped later),
            no board is cut twice
"""

from collections.abc import Sequence

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csc_array

from layout.solve.construct import Draft
from layout.solve.filling import Filling
from layout.solve.job import Job
from layout.solve.pool import Pool

__all__ = ["packed", "trimmed"]

_MOST_COLUMNS = 4000
_REPAIR = 1e-3  # repair money counts only between equal board money


def packed(
    job: Job,
    pool: Pool,
    seconds: float,
    penalties: Sequence[float],
    start: Draft | None = None,
    nodes: int | None = None,
) -> Draft | None:
    """The best draft that can be put together from the pool, or None if none was found in time.

    Parameters
    ----------
    job, pool
    seconds : float
        Time limit [s].
    penalties : sequence of float
        Price of leaving one copy of each part without a place [money].
    start : Draft, optional
        A draft to start from.
    nodes : int, optional
        Limit by branch and bound nodes, so that the answer does not depend on time.
    """
    columns = _columns(job, pool, start)
    if not columns or seconds <= 0.0:
        return None
    count, parts = len(columns), len(job.parts)
    options: dict[str, float] = {"time_limit": seconds, "mip_rel_gap": 0.0}
    if nodes is not None:
        options["node_limit"] = nodes
    answer = milp(
        np.array([job.prices[item.board] + _REPAIR * item.mend for item in columns] + list(penalties)),
        integrality=np.ones(count + parts),
        bounds=Bounds(0.0, np.array([1.0] * count + [float(n) for n in job.wanted])),
        constraints=_rows(job, columns),
        options=options,
    )
    if answer.x is None:
        return None
    draft = Draft(list(job.wanted))
    for number, column in enumerate(columns):
        if answer.x[number] > 0.5:
            draft.put(column)
    return trimmed(draft)


def _columns(job: Job, pool: Pool, start: Draft | None) -> list[Filling]:
    columns = [filling for board in range(len(job.boards)) for filling in pool.best_of(board)]
    if len(columns) > _MOST_COLUMNS:
        areas = job.areas()

        def held(filling: Filling) -> float:
            area = sum(
                min(count, wanted) * size
                for count, wanted, size in zip(filling.counts, job.wanted, areas, strict=True)
            )
            return area / job.woods[filling.board]

        columns = sorted(columns, key=held, reverse=True)[:_MOST_COLUMNS]
    if start is not None:
        known = set(map(id, columns))
        columns += [item for item in start.fillings.values() if id(item) not in known]
    return columns


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
