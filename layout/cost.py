"""What makes one layout better than another: the goals in their order.

1. Every part placed, those of higher priority first.
2. Least money spent on boards; boards already owned cost nothing.
3. Least money spent on repairs.
4. Least harm to looks on concealed and seen faces.
5. Parts that belong together from one board; features worth seeing on show faces.
6. Largest useful offcuts.
7. Fewest saw set-ups.
"""

from collections.abc import Iterable

from layout.stock import Board, PriceBasis

__all__ = ["money_for", "price_of"]


def price_of(board: Board) -> float:
    """What using a board costs [money]: nothing if it is owned.

    A price per cubic metre is for the sawn board: its greatest length and width
    and its thickness as it lies there.
    """
    if board.owned:
        return 0.0
    if board.price.basis is PriceBasis.CUBIC_METRE:
        return board.price.amount * board.length * board.widest * board.thickness / 1e9
    return board.price.amount


def money_for(boards: Iterable[Board]) -> float:
    """What a set of boards costs together [money]."""
    return sum(price_of(board) for board in boards)
