"""Which slabs of a few boards together give all parts: prices of the parts, and a programme in whole slabs.

Slabs are looked for such that those of one board do not lie over one another,
and all together give every part as often as it is wanted.

First the same with shares of boards: how many times over the boards give all parts, by column
generation, one column for what a board gives at once. Below once they cannot do, whatever
their slabs. Else the prices found on the way tell which slabs matter: what the boards are worth
more than all parts is all that a choice of slabs may lose, so a slab is left out when every
layout with it loses more. When nothing was left out but such slabs, the answer of the
programme is that of the boards.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

from layout.solve.slab_sets import SlabSets, Stretch

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

__all__ = ["Chosen", "Giving", "Prices", "chosen_slabs", "prices_at", "prices_of"]

_WEIGHT = 0.5  # of the prices that came nearest, in those tried next
_ENOUGH = 1e-4  # of all parts; nearer the prices need not be
_ROUNDS = 100
_FEW, _MORE = 250, 2  # slabs of a board looked at first, and how many times as many next
_SURE, _TINY = 1e-6, 1e-9
_WORK = 2.0  # of the solver's own units of work in a second of a core to itself, as measured
_WAITING = 2.0  # times as long as that, at most

Chosen = dict[int, list[Stretch]]


@dataclass(frozen=True)
class Prices:
    """Prices of parts at which boards are worth little more than they have to be.

    Parameters
    ----------
    parts : array, shape (parts,)
        All copies together cost 1.
    worth : float
        What the boards are worth at these prices: no more than so many times over they give all parts.
    """

    parts: NDArray[np.float64]
    worth: float

    @property
    def short(self) -> bool:
        """Whether the boards cannot give all parts."""
        return self.worth < 1.0 - _TINY


class Giving(Protocol):
    """A board that is asked what it gives."""

    def given(self, prices: NDArray[np.float64]) -> tuple[float, NDArray[Any]]:
        """Most worth at prices of the parts, all of which together cost 1, and copies that have it."""
        ...


def prices_of(
    boards: Mapping[int, Giving],
    wanted: Sequence[int],
    enough: float = _ENOUGH,
    go_on: Callable[[], bool] = lambda: True,
    known: Mapping[int, Sequence[Sequence[float]]] | None = None,
    start: NDArray[np.float64] | None = None,
    least: float = 1.0,
) -> Prices:
    """Prices at which boards are worth least, or nearly, or too little.

    Parameters
    ----------
    boards : mapping of int to Giving
    wanted : sequence of int
    enough : float, optional
        By what their worth may be more than the least there is, in shares of all parts.
    go_on : function, optional
        Asked now and then; the best prices so far are told if not.
    known : mapping of int to sequence of sequence of float, optional
        By board, copies it is known to give.
    start : array, shape (parts,), optional
        Prices to begin with.
    least : float, optional
        Boards worth less than that need not be asked further.
    """
    views, every = list(boards.values()), known or {}

    def given(prices: NDArray[np.float64]) -> list[tuple[float, NDArray[Any]]]:
        return [view.given(prices) for view in views]

    seen = [every.get(board, ()) for board in boards]
    return prices_at(given, len(views), wanted, enough, go_on, seen, start, least)


def prices_at(
    given: Callable[[NDArray[np.float64]], Sequence[tuple[float, NDArray[Any]]]],
    boards: int,
    wanted: Sequence[int],
    enough: float = _ENOUGH,
    go_on: Callable[[], bool] = lambda: True,
    known: Sequence[Sequence[Sequence[float]]] = (),
    start: NDArray[np.float64] | None = None,
    least: float = 1.0,
) -> Prices:
    """The same of so many boards, asked together: most worth of each, and what has it, as `Giving` says."""
    need = np.array(wanted, dtype=np.float64)
    parts = len(need)
    columns = [(number, row) for number in range(boards) for row in np.eye(parts)]
    columns += [
        (number, np.array(row, dtype=np.float64)) for number, rows in enumerate(known) for row in rows
    ]
    best = Prices(np.zeros(parts) if start is None else start, np.inf)
    for _ in range(_ROUNDS):
        times, prices = _shared(columns, need, boards)
        if times > best.worth - enough or best.short or best.worth < least or not go_on():
            break
        tried = _WEIGHT * best.parts + (1.0 - _WEIGHT) * prices
        if best.worth == np.inf:
            tried = prices if start is None else start
        new = False
        for asked in (tried, prices):
            worth = 0.0
            for number, (more, counts) in enumerate(given(asked)):
                worth += more
                row = counts.astype(np.float64)
                if not any(number == one and (row == other).all() for one, other in columns):
                    columns.append((number, row))
                    new = True
            if worth < best.worth:
                best = Prices(asked, worth)
            if new:
                break
        if not new:
            break
    return best


def _shared(
    columns: Sequence[tuple[int, NDArray[np.float64]]], need: NDArray[np.float64], boards: int
) -> tuple[float, NDArray[np.float64]]:
    """How many times over shares of what boards give make up all parts, and what parts are worth then."""
    parts = len(need)
    matrix = np.zeros((parts + boards, 1 + len(columns)))
    matrix[:parts, 0] = need
    for place, (number, counts) in enumerate(columns, start=1):
        matrix[:parts, place] = -counts
        matrix[parts + number, place] = 1.0
    most = np.concatenate((np.zeros(parts), np.ones(boards)))
    costs = np.zeros(1 + len(columns))
    costs[0] = -1.0
    found = linprog(costs, A_ub=matrix, b_ub=most, method="highs")
    if found.status != 0:
        return np.inf, np.zeros(parts)
    prices = np.maximum(-found.ineqlin.marginals[:parts], 0.0)
    return -float(found.fun), prices / max(float(prices @ need), 1e-12)


def chosen_slabs(
    boards: Mapping[int, SlabSets],
    wanted: Sequence[int],
    prices: Prices,
    most: int,
    seconds: float,
    surely: bool = False,
    seed: int = 1,
) -> Chosen | bool | None:
    """Slabs of each board that together give all parts; they may give more.

    Those that lose least are looked at first, and more where these do not do.

    Parameters
    ----------
    boards : mapping of int to SlabSets
    wanted : sequence of int
    prices : Prices
        Of these boards.
    most : int
        Slabs of a board that are looked at.
    seconds : float
        For each look, of a core to itself [s].
    surely : bool
        Nothing is looked for where slabs that matter had to be left out.
    seed : int

    Returns
    -------
    dict or False or None
        False if there are none for sure; None if none were found, though there may be some.
    """
    less = prices.worth - 1.0 + _SURE
    slabs = {board: view.near(prices.parts, less, most + 1) for board, view in boards.items()}
    longest = max((len(own) for own in slabs.values()), default=0)
    if surely and longest > most:
        return None
    few = min(_FEW, most)
    while True:
        found = _picked(boards, {board: own[:few] for board, own in slabs.items()}, wanted, seconds, seed)
        if found is not False or few >= min(longest, most):
            return None if found is False and longest > few else found
        few = min(few * _MORE, most)


def _picked(
    boards: Mapping[int, SlabSets],
    slabs: Mapping[int, Sequence[Stretch]],
    wanted: Sequence[int],
    seconds: float,
    seed: int,
) -> Chosen | bool | None:
    """Slabs of those offered that do; False if none of them do, None if that was not found out."""
    # Slow to load, and prices are asked for elsewhere too.
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    gives: list[list[cp_model.LinearExpr]] = [[] for _ in wanted]
    used: list[tuple[int, Stretch, cp_model.IntVar]] = []
    for board, offered in slabs.items():
        own = [(slab, model.new_bool_var("")) for slab in offered]
        used += [(board, slab, use) for slab, use in own]
        for slab, use in own:
            counts = boards[board].counts[slab[2]]
            for part in np.flatnonzero(counts).tolist():
                gives[part].append(int(counts[part]) * use)
        _side_by_side(model, own)
    for part, copies in enumerate(wanted):
        if copies:
            model.add(sum(gives[part]) >= copies)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = _WAITING * seconds
    solver.parameters.max_deterministic_time = _WORK * seconds
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.linearization_level = 2
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return False
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    found: Chosen = {board: [] for board in boards}
    for board, slab, use in used:
        if solver.boolean_value(use):
            found[board].append(slab)
    return found


def _side_by_side(model: "cp_model.CpModel", slabs: Sequence[tuple[Stretch, "cp_model.IntVar"]]) -> None:
    """Slabs of a board do not lie over one another: in every row there is one at most."""
    borders = sorted({row for slab, _ in slabs for row in slab[:2]})
    before: set[int] = set()
    for row, _ in pairwise(borders):
        there = [number for number, (slab, _) in enumerate(slabs) if slab[0] <= row < slab[1]]
        if not before.issuperset(there):
            model.add_at_most_one([slabs[number][1] for number in there])
        before = set(there)
