"""Things kept because they are dear to make, and how much room they may take.

A plan made again after a small change finds most of its boards and parts as they
were. What is kept is measured in bytes, not counted: one map of a long board takes
as much room as a hundred of a short one, and a program that plans all day must
not grow. What was not asked for longest goes first.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Any, Generic, TypeVar
from weakref import WeakSet

__all__ = ["EVERY", "Kept"]

T = TypeVar("T")

EVERY: "WeakSet[Kept[Any]]" = WeakSet()
"""Whatever this program keeps, so that it can be measured and let go in one place."""


class Kept(Generic[T]):
    """Values by what they were made from; those asked for latest, as many as there is room for.

    Parameters
    ----------
    most : int
        Room they may take together [bytes].
    size_of : function
        Room one value takes [bytes].
    grows : bool
        Whether a value may take more room later, by what it works out only when
        asked; its size is then taken anew whenever it is asked for.
    gone : function, optional
        Told of every key and value that go.
    """

    def __init__(
        self,
        most: int,
        size_of: Callable[[T], int],
        grows: bool = False,
        gone: Callable[[Hashable, T], None] | None = None,
    ) -> None:
        self.most = most
        self._size_of, self._grows, self._gone = size_of, grows, gone
        self._values: OrderedDict[Hashable, tuple[T, int]] = OrderedDict()
        self._lock = Lock()
        self._size = 0
        EVERY.add(self)

    def __len__(self) -> int:
        return len(self._values)

    @property
    def size(self) -> int:
        """Room that all of them took when last asked for [bytes]."""
        return self._size

    def get(self, key: Hashable) -> T | None:
        """The value of a key, if it is kept."""
        with self._lock:
            found = self._values.get(key)
            if found is None:
                return None
            self._values.move_to_end(key)
            if self._grows:
                self._set(key, found[0])
            return found[0]

    def put(self, key: Hashable, value: T) -> T:
        """Keep a value; the one that came first if two were made of one key at the same time."""
        left: list[tuple[Hashable, T]] = []
        with self._lock:
            known = self._values.get(key)
            if known is not None:
                return known[0]
            self._set(key, value)
            while self._size > self.most and len(self._values) > 1:
                oldest, (old, size) = self._values.popitem(last=False)
                self._size -= size
                left.append((oldest, old))
        self._tell(left)
        return value

    def drop(self, key: Hashable) -> None:
        """Keep the value of a key no longer."""
        with self._lock:
            old = self._values.pop(key, None)
            self._size -= old[1] if old else 0
        self._tell([(key, old[0])] if old else [])

    def clear(self) -> None:
        """Keep nothing."""
        with self._lock:
            old = [(key, value) for key, (value, _) in self._values.items()]
            self._values.clear()
            self._size = 0
        self._tell(old)

    def _set(self, key: Hashable, value: T) -> None:
        size = self._size_of(value)
        before = self._values.get(key)
        self._size += size - (before[1] if before else 0)
        self._values[key] = (value, size)

    def _tell(self, left: list[tuple[Hashable, T]]) -> None:
        # Without the lock: whoever is told may ask here in turn.
        if self._gone is not None:
            for key, value in left:
                self._gone(key, value)
