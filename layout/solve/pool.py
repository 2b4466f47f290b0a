"""Fillings that came by, each once, until somebody looks at them."""

from layout.solve.filling import Filling

__all__ = ["Pool"]

_MOST = 20_000  # waiting
_MOST_SEEN = 300_000


class Pool:
    """Fillings by board and by what they hold; the first seen of each kind is kept."""

    def __init__(self) -> None:
        self._fresh: list[Filling] = []
        self._seen: set[int] = set()

    def add(self, filling: Filling) -> None:
        """Remember a filling, unless one that holds the same came by before."""
        key = hash((filling.board, filling.counts))
        if key in self._seen or len(self._fresh) >= _MOST:
            return
        if len(self._seen) >= _MOST_SEEN:
            self._seen.clear()
        self._seen.add(key)
        self._fresh.append(filling)

    def taken(self) -> list[Filling]:
        """Those that came by since this was asked last."""
        found, self._fresh = self._fresh, []
        return found
