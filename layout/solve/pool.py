"""Every filling worth remembering, board by board, for the set packing to choose from."""

from layout.solve.filling import Filling

__all__ = ["Pool"]

Counts = tuple[int, ...]


class Pool:
    """Fillings by board and by what they hold; the first seen of each kind is kept."""

    def __init__(self, boards: int) -> None:
        self.by_board: list[dict[Counts, Filling]] = [{} for _ in range(boards)]
        self._dominant: list[tuple[int, list[Filling]]] = [(0, []) for _ in range(boards)]

    def add(self, filling: Filling) -> None:
        """Remember a filling, unless one that holds the same is known."""
        self.by_board[filling.board].setdefault(filling.counts, filling)

    def __len__(self) -> int:
        return sum(len(known) for known in self.by_board)

    def best_of(self, board: int) -> list[Filling]:
        """Fillings of a board that no other of it contains, fullest first."""
        size, found = self._dominant[board]
        known = self.by_board[board]
        if size != len(known):
            found = _undominated(list(known.values()))
            self._dominant[board] = (len(known), found)
        return found


def _undominated(fillings: list[Filling]) -> list[Filling]:
    ranked = sorted(fillings, key=lambda item: -sum(item.counts))
    kept: list[Filling] = []
    for filling in ranked:
        counts = filling.counts
        if not any(all(a >= b for a, b in zip(other.counts, counts, strict=True)) for other in kept):
            kept.append(filling)
    return kept
