"""The proof for small jobs: a constraint programme that looks for the cheapest boards.

Each copy of a part chooses one rectangle of hopeful places (`layout.hopeful`) on
one board and lies in it; copies on one board do not overlap. The programme knows
nothing of sawing, so what it cannot undercut no layout of any class can.
"""

from collections.abc import Callable
from math import ceil, floor

from ortools.sat.python import cp_model

from layout.solve.bound import Question, Store

__all__ = ["proved_bound"]

_UNIT = 2  # steps in a millimetre
_CENTS = 100


def proved_bound(
    question: Question,
    seconds: float,
    workers: int = 1,
    on_better: Callable[[float], None] | None = None,
    deterministic: float | None = None,
) -> tuple[float | None, bool]:
    """Money no layout of all parts can undercut, and whether the programme was solved to the end.

    Parameters
    ----------
    question : Question
    seconds : float
        Time limit [s].
    workers : int
        Threads.
    on_better : function, optional
        Told of every better bound.
    deterministic : float, optional
        Limit in the solver's own units of work, the same on every machine.

    Returns
    -------
    bound : float or None
        None if not all parts can be placed at all.
    done : bool
    """
    model = _model(question)
    if model is None:
        return None, True
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = 1
    solver.parameters.use_energetic_reasoning_in_no_overlap_2d = True
    solver.parameters.use_area_energetic_reasoning_in_no_overlap_2d = True
    if workers == 1:
        solver.parameters.interleave_search = False
    if deterministic is not None:
        solver.parameters.max_deterministic_time = deterministic
    if on_better is not None:
        solver.best_bound_callback = lambda value: on_better(question.spent + value / _CENTS)
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None, True
    return question.spent + max(solver.best_objective_bound, 0.0) / _CENTS, status == cp_model.OPTIMAL


def _model(question: Question) -> cp_model.CpModel | None:
    model = cp_model.CpModel()
    used = [model.new_bool_var(f"board {b}") for b in range(len(question.stores))]
    boxes: list[tuple[list[cp_model.IntervalVar], list[cp_model.IntervalVar]]] = [
        ([], []) for _ in question.stores
    ]
    held: list[list[tuple[int, cp_model.IntVar]]] = [[] for _ in question.stores]
    for part, wanted in enumerate(question.wanted):
        before = None
        for _ in range(wanted):
            on = {}
            for b, store in enumerate(question.stores):
                if store.most[part]:
                    on[b] = _placed(model, store, part, question.sizes[part], *boxes[b])
                    model.add_implication(on[b], used[b])
                    held[b].append((part, on[b]))
            if not on:
                return None
            model.add_exactly_one(on.values())
            # Copies are alike: let them come in the order of their boards.
            board = sum(b * literal for b, literal in on.items())
            if before is not None:
                model.add(board >= before)
            before = board
    for b, store in enumerate(question.stores):
        _capped(model, question, b, store, held[b], used[b])
        if not store.loose:
            model.add_no_overlap_2d(*boxes[b])
    model.minimize(sum(floor(store.price * _CENTS) * used[b] for b, store in enumerate(question.stores)))
    return model


def _capped(
    model: cp_model.CpModel,
    question: Question,
    number: int,
    store: Store,
    held: list[tuple[int, cp_model.IntVar]],
    used: cp_model.IntVar,
) -> None:
    """No board gives more area than it has, nor more copies of a part than it can."""
    areas = [length * width for length, width in question.sizes]
    model.add(
        sum(floor(areas[part]) * literal for part, literal in held) <= ceil(store.area) * used
    ).with_name(f"area of {number}")
    for part, most in enumerate(store.most):
        mine = [literal for other, literal in held if other == part]
        if len(mine) > most:
            model.add(sum(mine) <= most)


def _placed(
    model: cp_model.CpModel,
    store: Store,
    part: int,
    size: tuple[float, float],
    along: list[cp_model.IntervalVar],
    across: list[cp_model.IntervalVar],
) -> cp_model.IntVar:
    """One copy that may lie on one board; the literal says whether it does."""
    places = store.places[part]
    here = model.new_bool_var("")
    length, width = floor(size[0] * _UNIT), floor(size[1] * _UNIT)
    low_x, low_y, high_x, high_y = (
        min(floor(box[0] * _UNIT) for box in places),
        min(floor(box[1] * _UNIT) for box in places),
        max(ceil(box[2] * _UNIT) for box in places),
        max(ceil(box[3] * _UNIT) for box in places),
    )
    high_x = max(min(high_x, floor(store.length * _UNIT) + 1 - length), low_x)
    high_y = max(min(high_y, floor(store.width * _UNIT) + 1 - width), low_y)
    x, y = model.new_int_var(low_x, high_x, ""), model.new_int_var(low_y, high_y, "")
    along.append(model.new_optional_fixed_size_interval_var(x, length, here, ""))
    across.append(model.new_optional_fixed_size_interval_var(y, width, here, ""))
    if len(places) > 1:
        chosen = [model.new_bool_var("") for _ in places]
        model.add(sum(chosen) == here)
        for literal, (x0, y0, x1, y1) in zip(chosen, places, strict=True):
            model.add(x >= floor(x0 * _UNIT)).only_enforce_if(literal)
            model.add(x <= ceil(x1 * _UNIT)).only_enforce_if(literal)
            model.add(y >= floor(y0 * _UNIT)).only_enforce_if(literal)
            model.add(y <= ceil(y1 * _UNIT)).only_enforce_if(literal)
    return here
