"""The linear programme over fillings: shares of them that hold every part, as cheaply as can be.

minimise    price of boards used + penalty for copies missing
such that   every part is held as often as wanted,
            of no board more than all of it is used

Its dual values are prices: the worth of a copy of each part, and the rent of each
board that is sought after.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from ortools.linear_solver.python.model_builder_helper import (
    ModelBuilderHelper,
    ModelSolverHelper,
    SolveStatus,
)
from scipy.sparse import csr_matrix

from layout.solve.filling import Filling

__all__ = ["Columns", "Shares", "cheapest_shares"]

_FIRST_ROOM = 256


class Columns:
    """Fillings, each once, and what they hold as one table.

    Parameters
    ----------
    parts : int
        Entries in the counts of a filling.
    """

    def __init__(self, parts: int) -> None:
        self.fillings: list[Filling] = []
        self._known: set[tuple[int, tuple[int, ...]]] = set()
        self._counts = np.zeros((_FIRST_ROOM, parts), dtype=np.int32)
        self._boards = np.zeros(_FIRST_ROOM, dtype=np.int64)

    def __len__(self) -> int:
        return len(self.fillings)

    def __iter__(self) -> Iterator[Filling]:
        return iter(self.fillings)

    @property
    def counts(self) -> NDArray[np.int32]:
        """Copies of each part, shape (fillings, parts)."""
        return self._counts[: len(self.fillings)]

    @property
    def boards(self) -> NDArray[np.int64]:
        """The board of each filling."""
        return self._boards[: len(self.fillings)]

    def add(self, filling: Filling) -> bool:
        """Take in a filling, unless it is empty or one that holds the same is there; whether it was taken."""
        key = (filling.board, filling.counts)
        if not any(filling.counts) or key in self._known:
            return False
        number = len(self.fillings)
        if number == len(self._boards):
            self._counts = np.concatenate([self._counts, np.zeros_like(self._counts)])
            self._boards = np.concatenate([self._boards, np.zeros_like(self._boards)])
        self._known.add(key)
        self._counts[number], self._boards[number] = filling.counts, filling.board
        self.fillings.append(filling)
        return True


@dataclass(frozen=True)
class Shares:
    """An answer of the programme.

    Parameters
    ----------
    cost : float
        [money]
    shares : array of float, shape (fillings,)
        How much of each filling is used, 0 to 1.
    worth : array of float, shape (parts,)
        Of one copy of each part [money].
    rents : array of float, shape (boards,)
        What each board is worth beyond its price [money].
    """

    cost: float
    shares: NDArray[np.float64]
    worth: NDArray[np.float64]
    rents: NDArray[np.float64]


def cheapest_shares(
    counts: NDArray[np.int32],
    boards: NDArray[np.int64],
    prices: NDArray[np.float64],
    wanted: Sequence[int],
    penalties: NDArray[np.float64],
    seconds: float | None,
) -> Shares | None:
    """The cheapest shares of fillings, or None where there was no time to find them.

    Parameters
    ----------
    counts : array of int, shape (fillings, parts)
    boards : array of int, shape (fillings,)
    prices : array of float
        Of every board, those without a filling too [money].
    wanted : sequence of int
    penalties : array of float, shape (parts,)
        Price of leaving out one copy [money].
    seconds : float or None
        Limit [s].
    """
    asked = np.flatnonzero(np.array(wanted) > 0)
    here, parts = len(boards), len(asked)
    used, row_of = np.unique(boards, return_inverse=True)
    of, part = np.nonzero(counts[:, asked])
    rows = np.concatenate([part, parts + row_of, np.arange(parts)])
    columns = np.concatenate([of, np.arange(here), here + np.arange(parts)])
    values = np.concatenate([counts[:, asked][of, part], -np.ones(here), np.ones(parts)])
    size = (parts + len(used), here + parts)
    least = np.concatenate([np.array(wanted, dtype=np.float64)[asked], np.full(len(used), -1.0)])
    # The inner part of the library's model builder: it takes a whole matrix at once.
    model: Any = ModelBuilderHelper()  # its stubs ask for arrays of a kind that numpy has not
    model.fill_model_from_sparse_data(
        np.zeros(size[1]),
        np.full(size[1], np.inf),
        np.concatenate([prices[boards], penalties[asked]]),
        least,
        np.full(size[0], np.inf),
        csr_matrix((values, (rows, columns)), shape=size),
    )
    solver = ModelSolverHelper("glop")
    if seconds is not None:
        solver.set_time_limit_in_seconds(seconds)
    solver.solve(model)
    if solver.status() != SolveStatus.OPTIMAL:
        return None
    duals = np.maximum(solver.dual_values(), 0.0)
    worth, rents = np.zeros(len(wanted)), np.zeros(len(prices))
    worth[asked], rents[used] = duals[:parts], duals[parts:]
    return Shares(solver.objective_value(), np.array(solver.variable_values())[:here], worth, rents)
