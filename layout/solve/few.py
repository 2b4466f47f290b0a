"""Sequences of things too many to make or keep all of them: grounds of boards, maps of parts."""

from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import Generic, TypeVar, overload

__all__ = ["Few", "Picked"]

T = TypeVar("T")


class Few(Sequence[T], Generic[T]):
    """Things made when they are first asked for; those used latest are kept.

    A search among five hundred boards looks at few of them closely.

    Parameters
    ----------
    count : int
    make : function of int
    most : int
        Kept at a time; what is asked for again later is made again.
    """

    def __init__(self, count: int, make: Callable[[int], T], most: int) -> None:
        self._count, self._make, self._most = count, make, most
        self._made: OrderedDict[int, T] = OrderedDict()

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, number: int) -> T: ...
    @overload
    def __getitem__(self, number: slice) -> Sequence[T]: ...
    def __getitem__(self, number: int | slice) -> T | Sequence[T]:
        if isinstance(number, slice):
            return [self[item] for item in range(*number.indices(self._count))]
        if not 0 <= number < self._count:
            raise IndexError(f"there is no number {number} among {self._count}")
        found = self._made.get(number)
        if found is None:
            found = self._made[number] = self._make(number)
            while len(self._made) > self._most:
                self._made.popitem(last=False)
        else:
            self._made.move_to_end(number)
        return found


class Picked(Sequence[T], Generic[T]):
    """Some of a sequence, by number; nothing is made until it is asked for."""

    def __init__(self, every: Sequence[T], numbers: Sequence[int]) -> None:
        self._every, self._numbers = every, numbers

    def __len__(self) -> int:
        return len(self._numbers)

    @overload
    def __getitem__(self, number: int) -> T: ...
    @overload
    def __getitem__(self, number: slice) -> Sequence[T]: ...
    def __getitem__(self, number: int | slice) -> T | Sequence[T]:
        if isinstance(number, slice):
            return [self._every[item] for item in self._numbers[number]]
        return self._every[self._numbers[number]]
