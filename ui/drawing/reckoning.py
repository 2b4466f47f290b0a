"""How much wood a layout takes and how much of it becomes parts; waste said both ways."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from layout.allowances import Shop
from layout.cost import price_of
from layout.outline import area_of
from layout.parts import Part
from layout.placement import Bound, Layout
from layout.stock import Board, PriceBasis
from ui.drawing.pieces import listed

__all__ = ["Wood", "price_words", "proof_words", "wood_of"]


@dataclass(frozen=True)
class Wood:
    """Volumes of one board or of a whole layout [m3].

    Parameters
    ----------
    bought : float
        Of the boards that are sawn, as they lie there.
    parts : float
        Finished parts.
    kept : float
        Offcuts worth keeping, at the boards' thickness.
    price : float
        [money]
    """

    bought: float
    parts: float
    kept: float
    price: float

    @property
    def lost_share(self) -> float:
        """What of the bought wood does not become parts, as a share of what was bought."""
        return 1 - self.parts / self.bought if self.bought > 0 else 0.0

    @property
    def added_share(self) -> float:
        """What had to be bought beyond the parts, as a share of the parts; inf without parts."""
        return self.bought / self.parts - 1 if self.parts > 0 else float("inf")

    def waste_words(self) -> str:
        """Waste stated both ways, so that neither is taken for the other."""
        if self.parts <= 0:
            return "no part placed"
        return (
            f"{100 * self.lost_share:.0f} % of the wood bought is not in the parts "
            f"(that is {100 * self.added_share:.0f} % added to the parts)"
        )


def wood_of(boards: Iterable[Board], parts: Sequence[Part], shop: Shop, layout: Layout) -> Wood:
    """Volumes and price of some boards of a layout."""
    by_name = listed(parts, shop, layout)
    bought = made = kept = price = 0.0
    for board in boards:
        bought += max(area_of(board.front), area_of(board.back)) * board.thickness
        price += price_of(board)
        for placement in layout.on(board.id):
            part = by_name[placement.part]
            made += area_of(part.shape) * part.thickness
        for cut in layout.offcuts:
            if cut.board == board.id:
                kept += (cut.x1 - cut.x0) * (cut.y1 - cut.y0) * board.thickness
    return Wood(bought / 1e9, made / 1e9, kept / 1e9, price)


def proof_words(bound: Bound | None, currency: str) -> str:
    """How near the cost is to the least possible, in one sentence."""
    if bound is None:
        return "How near this is to the cheapest layout has not been worked out."
    if bound.proved:
        return f"Proved: no layout sawn {bound.sawing.value} costs less ({bound.method})."
    least = f"{bound.cost:.2f} {currency}".strip()
    return f"No layout sawn {bound.sawing.value} can cost less than {least} ({bound.method})."


def price_words(board: Board, currency: str) -> str:
    """What a board costs, and on what basis."""
    if board.owned:
        return "owned"
    if board.price.amount == 0:
        return ""
    money = f"{price_of(board):.2f} {currency}".strip()
    if board.price.basis is PriceBasis.CUBIC_METRE:
        return f"{money} ({board.price.amount:.0f} per m3)"
    return money
