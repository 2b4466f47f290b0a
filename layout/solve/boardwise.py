"""Boards sawn in three stages that no prices rule out, asked set by set whether they give all parts.

Prices count no copies and take shares of boards. What they leave open is asked with copies
counted and boards whole (`layout.solve.near_sets`); on hopeful grids, so that boards which do not
make up all parts there cannot give them, and neither can fewer of them.
"""

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from layout.solve.counted import Counts
from layout.solve.near_sets import NearSets, made_up, near_sets
from layout.solve.near_slabs import Priced
from layout.solve.priced import Slabs, whole_prices
from layout.solve.slab_choice import prices_of
from layout.solve.slabwise import Programmes, without

__all__ = ["Boardwise"]

_LEVELS = (0, 1)  # of hopeful grids, the coarser first; on the next finer one stacks take over 1 GB
_ENOUGH = 5e-3  # nearer to the best prices they need not be
_FAR = 0.055  # of all parts, that boards give beyond them at best prices where it takes too long to list sets
_FULL = 0.8  # of the most a board may be worth; stacks are relaxed by up to 1.15


class Boardwise:
    """The boards of a job, asked set by set.

    Parameters
    ----------
    work : Programmes
    """

    def __init__(self, work: Programmes) -> None:
        self.work = work

    def fall(self, boards: Sequence[int], given: Callable[[int], Sequence[Counts]]) -> bool:
        """Whether boards cannot give all parts for sure; that is known then.

        Parameters
        ----------
        boards : sequence of int
        given : function
            For a board, sets that it is known to give on the coarsest grid.
        """
        lists: dict[int, NDArray[np.int64]] = {}
        # What coarser grids give may be too much for a finer one; the prices it leads to are near enough.
        seen = {board: list(given(board)) for board in boards}
        for level in _LEVELS:
            try:
                stands = _Asked(self.work, boards, level, seen).stand(lists)
            except OverflowError:  # parts so small that a board of them is worth more than it may be
                return False
            if stands is False:
                self.work.known.cut(*without(boards, len(self.work.known.money)))
                return True
            if stands is None and len(lists) < len(boards):
                return False
        return False


class _Asked:
    """Boards on grids of one level."""

    def __init__(
        self,
        work: Programmes,
        boards: Sequence[int],
        level: int,
        seen: Mapping[int, list[Counts]],
    ) -> None:
        self.work, self.seen = work, seen
        self.wanted = work.known.wanted
        self.views = {board: work.programmes(board, level) for board in boards}
        self.scale = _Scale(self.views)

    def go_on(self) -> bool:
        return self.work.left() > 0.0

    def stand(self, lists: dict[int, NDArray[np.int64]]) -> bool | None:
        """Whether some sets of the boards make up all parts; None if that was not found out.

        Board by board, the sets are listed that may be of use. From then on the board is worth no more than
        one of them, so the others may lose less. What was listed on a coarser grid is looked at again.
        """
        for board in sorted(self.views, key=self._cells):
            others = {
                other: self._listed(lists[other]) if other in lists else self._whole(other)
                for other in self.views
                if other != board
            }
            prices = prices_of(
                {**others, board: self._whole(board)}, self.wanted, _ENOUGH, self.go_on, self.seen
            )
            if prices.short:
                return False
            if prices.worth > 1.0 + _FAR:
                return None
            whole = self.scale.whole(prices.parts)
            one = Priced(self.views[board], whole)
            # At these prices the board is worth at least what the others leave of the parts.
            least = int(np.dot(whole, self.wanted)) - sum(other.most(whole) for other in others.values())
            if not self.go_on():
                return None
            if one.worth < least:
                return False
            sets = near_sets(one, self.work.known.most[board], one.worth - least, self.go_on)
            if sets is None:
                return None
            if not len(sets.losses):
                return False
            lists[board] = sets.counts
        return self._make_up({board: self._listed(counts) for board, counts in lists.items()})

    def _make_up(self, lists: Mapping[int, "_Listed"]) -> bool | None:
        prices = prices_of(lists, self.wanted, go_on=self.go_on)
        if prices.short:
            return False
        whole = self.scale.whole(prices.parts)
        loss = sum(one.most(whole) for one in lists.values()) - int(np.dot(whole, self.wanted))
        answer = made_up([one.near(whole, loss) for one in lists.values()], self.wanted, loss, self.go_on)
        return None if answer is None else answer is not False

    def _cells(self, board: int) -> int:
        return self.views[board].field.along * self.views[board].field.across

    def _listed(self, counts: NDArray[np.int64]) -> "_Listed":
        return _Listed(counts, self.scale, self.wanted)

    def _whole(self, board: int) -> "_Whole":
        return _Whole(self.views[board], self.scale, self.wanted, self.seen[board])


class _Scale:
    """Prices in whole numbers, the same for all boards."""

    def __init__(self, views: Mapping[int, Slabs]) -> None:
        self.views = views

    def whole(self, prices: NDArray[np.float64]) -> tuple[int, ...]:
        """None is nought: a part of no worth would be in no set."""
        return whole_prices(self.views.values(), prices, _FULL, least=1)


class _Listed:
    """A board that gives one of some sets, shape (sets, parts), asked at prices in whole numbers."""

    def __init__(self, counts: NDArray[np.int64], scale: _Scale, wanted: Sequence[int]) -> None:
        self.counts, self.scale, self.wanted = counts, scale, wanted

    def given(self, prices: NDArray[np.float64]) -> tuple[float, NDArray[np.int64]]:
        """Most worth, in shares of all parts, and copies that have it."""
        whole = self.scale.whole(prices)
        worths = self.counts @ np.array(whole)
        best = int(worths.argmax())
        return int(worths[best]) / max(float(np.dot(whole, self.wanted)), 1.0), self.counts[best]

    def most(self, whole: Sequence[int]) -> int:
        """Most worth at prices in whole numbers."""
        return int((self.counts @ np.array(whole)).max())

    def near(self, whole: Sequence[int], loss: int) -> NearSets:
        """Those that lose no more than that."""
        worths = self.counts @ np.array(whole)
        losses = worths.max() - worths
        return NearSets(self.counts[losses <= loss], losses[losses <= loss])


class _Whole:
    """A board on a grid, asked at prices in whole numbers; what it gives is added to what was seen."""

    def __init__(self, slabs: Slabs, scale: _Scale, wanted: Sequence[int], seen: list[Counts]) -> None:
        self.slabs, self.scale, self.wanted, self.seen = slabs, scale, wanted, seen

    def given(self, prices: NDArray[np.float64]) -> tuple[float, NDArray[np.int64]]:
        """Most worth, in shares of all parts, and copies that have it."""
        whole = self.scale.whole(prices)
        worth, pieces = self.slabs.best(whole)
        counts = np.bincount([t for t, _, _ in pieces], minlength=len(whole))
        self.seen.append(tuple(counts.tolist()))
        return worth / max(float(np.dot(whole, self.wanted)), 1.0), counts

    def most(self, whole: Sequence[int]) -> int:
        """Most worth at prices in whole numbers."""
        return self.slabs.best(whole)[0]
