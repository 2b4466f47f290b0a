"""Sets of parts as single whole numbers, so that many are added and compared at once.

Each part has a few bits for its copies and one more that tells when there are too many.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["Packed", "Whole"]

Whole = NDArray[np.int64]

_BITS = 62  # of a whole number that are used


class Packed:
    """How sets are packed.

    Parameters
    ----------
    most : sequence of int
        Copies of each part, at most.

    Attributes
    ----------
    room, guard : int
        A sum of two sets has too many copies where it and the room together touch the guard. A set with
        the guard holds another one if, less that one, it still has all of the guard.
    """

    def __init__(self, most: Sequence[int]) -> None:
        self.most = tuple(most)
        self._bits = [int(number).bit_length() for number in most]
        # Parts of which there may be none take no bits.
        shifts: list[int] = np.cumsum([0, *(bits + 1 if bits else 0 for bits in self._bits)]).tolist()
        self._shifts = shifts
        places = list(zip(most, self._bits, self._shifts, strict=False))
        self.room = sum(((1 << bits) - 1 - number) << shift for number, bits, shift in places)
        self._ones = [1 << shift for shift in self._shifts[:-1]]
        self.guard = sum(1 << (bits + shift) for _, bits, shift in places if bits)

    @property
    def fits(self) -> bool:
        """Whether there are bits enough."""
        return self._shifts[-1] <= _BITS

    def of(self, counts: Sequence[int]) -> int:
        """A set, none of whose parts has too many copies."""
        return sum(int(number) * one for number, one in zip(counts, self._ones, strict=True))

    def allowed(self, codes: Whole) -> NDArray[np.bool_]:
        """Which sums of two sets have no more copies of any part than there may be."""
        within: NDArray[np.bool_] = ((codes + self.room) & self.guard) == 0
        return within

    def counts(self, codes: Whole) -> Whole:
        """Copies of each part, shape (sets, parts)."""
        fields = [
            (codes >> shift) & ((1 << bits) - 1)
            for bits, shift in zip(self._bits, self._shifts, strict=False)
        ]
        return np.stack(fields, axis=1) if fields else np.zeros((len(codes), 0), dtype=np.int64)

    def packed(self, counts: Whole) -> Whole:
        """Sets of shape (sets, parts), none of whose parts has too many copies, as numbers."""
        return counts @ np.array(self._ones, dtype=np.int64)
