"""Reasons for the parts a finished layout leaves without a place, where the search left them out."""

from collections.abc import Sequence
from dataclasses import replace

from layout.allowances import Shop
from layout.clear import clear_map
from layout.cuts import sawn_box
from layout.ground import ground_of
from layout.panels import sawn_parts
from layout.parts import Part
from layout.placement import Layout
from layout.solve.whynot import enough, reason_for
from layout.stock import Board

__all__ = ["UNEXPLAINED", "explained"]

UNEXPLAINED = "It has no place in this plan."  # of plans that are only compared
_CELLS = 20_000


def explained(layout: Layout, boards: Sequence[Board], parts: Sequence[Part], shop: Shop) -> Layout:
    """The layout with a reason for every copy without a place that has none yet.

    Parameters
    ----------
    layout : Layout
    boards : sequence of Board
    parts : sequence of Part
        The cutting list.
    shop : Shop
    """
    sawn = {part.name: part for part in sawn_parts(parts, shop, layout.glue_ups)}
    taken = [[sawn_box(item, sawn[item.part], shop) for item in layout.on(board.id)] for board in boards]
    usable = [board for board in boards if not board.forbidden]
    known: dict[str, str] = {}
    for name in dict.fromkeys(item.part for item in layout.unplaced if item.reason == UNEXPLAINED):
        part = sawn[name]
        open_to = enough(
            board.id for board in usable if clear_map(ground_of(board, shop, _CELLS), part).anywhere
        )
        known[name] = reason_for(part, boards, shop, taken, open_to)
    told = tuple(
        replace(item, reason=known[item.part]) if item.reason == UNEXPLAINED else item
        for item in layout.unplaced
    )
    return replace(layout, unplaced=told)
