"""Set packing: from all fillings seen, the cheapest choice of boards that holds every part.

minimise    price of boards used + penalty for copies missing
such that   every part is held as often as wanted (more is dropped later),
            no board is cut twice
"""

from collections.abc import Sequence

import highspy
import numpy as np

from layout.solve.construct import Draft
from layout.solve.filling import Filling
from layout.solve.job import Job
from layout.solve.pool import Pool

__all__ = ["packed", "trimmed"]

_MOST_COLUMNS = 4000


def packed(
    job: Job,
    pool: Pool,
    seconds: float,
    penalties: Sequence[float],
    start: Draft | None = None,
    limit: float | None = None,
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
    limit : float, optional
        Only drafts below this value are of interest [money].
    nodes : int, optional
        Limit by branch and bound nodes, so that the answer does not depend on time.
    """
    columns = _columns(job, pool, start)
    if not columns:
        return None
    parts, boards = len(job.parts), len(job.boards)
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("time_limit", float(seconds))
    solver.setOptionValue("mip_rel_gap", 0.0)
    if nodes is not None:
        solver.setOptionValue("mip_max_nodes", nodes)
    if limit is not None:
        solver.setOptionValue("objective_bound", float(limit))
    solver.passModel(_model(job, columns, penalties))
    if start is not None:
        solver.setSolution(_solution(job, columns, start))
    solver.run()
    info = solver.getInfo()
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None
    values = solver.getSolution().col_value
    draft = Draft(list(job.wanted))
    for number, column in enumerate(columns):
        if values[number] > 0.5:
            draft.put(column)
    del parts, boards
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
            return area / max(float(job.grounds[filling.board].wood.area), 1.0)

        columns = sorted(columns, key=held, reverse=True)[:_MOST_COLUMNS]
    if start is not None:
        known = set(map(id, columns))
        columns += [item for item in start.fillings.values() if id(item) not in known]
    return columns


def _model(job: Job, columns: Sequence[Filling], penalties: Sequence[float]) -> highspy.HighsLp:
    parts, boards, count = len(job.parts), len(job.boards), len(columns)
    model = highspy.HighsLp()
    model.num_col_ = count + parts
    model.num_row_ = parts + boards
    model.col_cost_ = np.array([job.prices[item.board] for item in columns] + list(penalties))
    model.col_lower_ = np.zeros(count + parts)
    model.col_upper_ = np.array([1.0] * count + [float(n) for n in job.wanted])
    model.row_lower_ = np.array([float(n) for n in job.wanted] + [0.0] * boards)
    model.row_upper_ = np.array([highspy.kHighsInf] * parts + [1.0] * boards)
    starts, index, value = [0], [], []
    for item in columns:
        for part, number in enumerate(item.counts):
            if number:
                index.append(part)
                value.append(float(number))
        index.append(parts + item.board)
        value.append(1.0)
        starts.append(len(index))
    for part in range(parts):
        index.append(part)
        value.append(1.0)
        starts.append(len(index))
    model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    model.a_matrix_.start_ = np.array(starts, dtype=np.int32)
    model.a_matrix_.index_ = np.array(index, dtype=np.int32)
    model.a_matrix_.value_ = np.array(value)
    model.integrality_ = [highspy.HighsVarType.kInteger] * (count + parts)
    return model


def _solution(job: Job, columns: Sequence[Filling], start: Draft) -> highspy.HighsSolution:
    known = {(item.board, item.counts): number for number, item in enumerate(columns)}
    values = [0.0] * (len(columns) + len(job.parts))
    for filling in start.fillings.values():
        number = known.get((filling.board, filling.counts))
        if number is not None:
            values[number] = 1.0
    for part, left in enumerate(start.missing):
        values[len(columns) + part] = float(max(left, 0))
    solution = highspy.HighsSolution()
    solution.col_value = values
    return solution


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
