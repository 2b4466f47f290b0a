"""The exact value of one plate without a rule of cutting: a constraint programme.

What makes it quick:

* every item lies as near to the corner as it goes, so its distances from the
  plate's sides are sums of sizes of other items (normal patterns);
* copies are alike, so they come in the order of their places;
* every line across the plate meets items no longer in all than the line;
* dual feasible functions: where large sizes are made larger and small ones are
  counted as nothing, by functions that never let a full plate seem fuller, the
  items still take no more than the plate's area.

References
----------
.. [1] Christofides, Whitlock (1977), Oper. Res. 25, 30-44: normal patterns (from memory).
.. [2] Fekete, Schepers (2004), Math. Methods Oper. Res. 60, 311-329: dual feasible
   functions for packing in several dimensions (from memory).
"""

from collections.abc import Sequence

from ortools.sat.python import cp_model

from layout.solve.guillotine import Item, Plate, sums_up_to

__all__ = ["best_without_cuts", "weighings"]


def best_without_cuts(plate: Plate, seconds: float, workers: int = 1) -> tuple[int, int, bool]:
    """Most value with copies limited and no rule of cutting: (value reached, bound, proved).

    Parameters
    ----------
    plate : Plate
        Every item with its number of copies; not turned, no defects.
    seconds : float
        Time limit [s].
    workers : int
    """
    model = cp_model.CpModel()
    along, across = [], []
    copies = [
        item
        for item in plate.items
        for _ in range(item.copies or 1)
        if item.length <= plate.length and item.width <= plate.width
    ]
    chosen: list[cp_model.IntVar] = []
    places: list[cp_model.LinearExpr] = []
    for number, item in enumerate(copies):
        here = model.new_bool_var("")
        x = _place(model, plate.length, item.length, [other.length for other in copies])
        y = _place(model, plate.width, item.width, [other.width for other in copies])
        along.append(model.new_optional_fixed_size_interval_var(x, item.length, here, ""))
        across.append(model.new_optional_fixed_size_interval_var(y, item.width, here, ""))
        places.append(x * (plate.width + 1) + y)
        if number and copies[number - 1] is item:
            model.add_implication(here, chosen[-1])
            model.add(places[-1] >= places[-2]).only_enforce_if(here)
        chosen.append(here)
    model.add_no_overlap_2d(along, across)
    model.add_cumulative(along, [item.width for item in copies], plate.width)
    model.add_cumulative(across, [item.length for item in copies], plate.length)
    for weights in weighings(plate, copies):
        model.add(
            sum(weight * here for weight, here in zip(weights, chosen, strict=True))
            <= plate.length * plate.width
        )
    model.maximize(sum(item.value * here for item, here in zip(copies, chosen, strict=True)))
    return _solved(model, seconds, workers)


def _place(model: cp_model.CpModel, room: int, size: int, sizes: Sequence[int]) -> cp_model.IntVar:
    """A distance from the plate's side, one of the sums of the sizes of the others."""
    others = list(sizes)
    others.remove(size)
    return model.new_int_var_from_domain(cp_model.Domain.from_values(sums_up_to(others, room - size)), "")


def _solved(model: cp_model.CpModel, seconds: float, workers: int) -> tuple[int, int, bool]:
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    solver.parameters.use_area_energetic_reasoning_in_no_overlap_2d = True
    solver.parameters.use_energetic_reasoning_in_no_overlap_2d = True
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return 0, round(solver.best_objective_bound), False
    return round(solver.objective_value), round(solver.best_objective_bound), status == cp_model.OPTIMAL


def weighings(plate: Plate, items: Sequence[Item]) -> list[tuple[int, ...]]:
    """Weights of items of which a plate takes no more than its area, none of them all under another's."""
    lengths = _measures(plate.length, [item.length for item in items])
    widths = _measures(plate.width, [item.width for item in items])
    found = {tuple(a * b for a, b in zip(one, other, strict=True)) for one in lengths for other in widths}
    return sorted(
        row
        for row in found
        if not any(row != other and all(b >= a for a, b in zip(row, other, strict=True)) for other in found)
    )


def _measures(room: int, sizes: Sequence[int]) -> set[tuple[int, ...]]:
    """Sizes as they are, and by dual feasible functions: large ones the whole room, small ones nothing."""
    found = {tuple(sizes)}
    for least in {step for size in sizes for step in (size, room - size + 1) if 2 * step <= room}:
        found.add(tuple(room if size > room - least else size if size >= least else 0 for size in sizes))
    return found
