"""The independent verifier: what is wrong with a layout, or nothing.

It shares no code with what makes layouts (`layout.clear`, `layout.cuts`,
`layout.cost`, `layout.solve`): no plan marks its own homework.
"""

from collections.abc import Sequence

from layout.allowances import Shop
from layout.checks import books, glued, mends, sawing, sides, wood
from layout.checks.finding import Violation
from layout.checks.piece import Piece
from layout.glue import Repair
from layout.parts import Part
from layout.placement import Layout, Placement
from layout.stock import Board

__all__ = ["Violation", "violations"]


def violations(
    boards: Sequence[Board],
    parts: Sequence[Part],
    shop: Shop,
    layout: Layout,
    *,
    locked: Sequence[Placement] = (),
) -> tuple[Violation, ...]:
    """Everything wrong with a layout, one clear sentence each; empty when it holds.

    Parameters
    ----------
    boards, parts, shop
        What the layout was made from.
    layout : Layout
    locked : sequence of Placement
        Placements the maker fixed, or sawed, before the plan was made.

    Returns
    -------
    tuple of Violation
    """
    stock = {board.id: board for board in boards}
    sawn = glued.as_sawn(parts, shop, layout)
    listed = {part.name: part for part in sawn}
    pieces = [
        Piece(item, listed[item.part], stock[item.board], shop)
        for item in layout.placements
        if item.part in listed and item.board in stock
    ]
    found = [*glued.glue_up_faults(parts, shop, layout)]
    found += [*books.unknown(boards, sawn, layout), *books.copies(sawn, layout)]
    found += books.kept_locks([*locked], layout)
    found += books.money(boards, layout)
    found += books.strays(layout)
    found += books.donors(boards, pieces, shop, layout)
    found += books.offcuts(boards, pieces, shop, layout)
    for board in boards:
        found += _on_board(board, [piece for piece in pieces if piece.board is board], shop, layout)
    return tuple(found)


def _on_board(board: Board, pieces: list[Piece], shop: Shop, layout: Layout) -> list[Violation]:
    if not pieces:
        return []
    found: list[Violation] = []
    usable = wood.usable_wood(board, shop)
    for piece in pieces:
        found += wood.inside(piece, usable)
        found += wood.planing(piece)
        found += wood.slopes(piece)
        repairs = [item for item in layout.repairs if _is_of(item, piece)]
        for repair in repairs:
            found += mends.faults_of(piece, repair)
        found += mends.budgets(piece, repairs)
        found += sides.shown(piece, mends.proofs(piece, repairs))
    found += wood.kerf_between(pieces, shop)
    found += sawing.sawable(pieces, layout.sawing, shop)
    cuts = [cut for cut in layout.cuts if cut.board == board.id]
    if cuts:
        found += sawing.cuts_part_them(board, pieces, cuts, layout.sawing, shop)
    return found


def _is_of(repair: Repair, piece: Piece) -> bool:
    return (repair.part, repair.copy) == (piece.part.name, piece.placement.copy)
