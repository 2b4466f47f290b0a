"""The independent verifier: what is wrong with a layout, or nothing.

It shares no code with what makes layouts (`layout.clear`, `layout.cuts`,
`layout.cost`, `layout.solve`): no plan marks its own homework.
"""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from typing import NamedTuple, TypeVar

from layout.allowances import Sawing, Shop
from layout.checks import books, glued, mends, sawing, sides, wood
from layout.checks.finding import Violation
from layout.checks.piece import Piece
from layout.glue import Repair
from layout.parts import Part
from layout.placement import Cut, Layout, Offcut, Placement
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
    answers = _answers(boards, listed, shop, layout)
    found += [one for answer in answers for one in answer.offcuts]
    found += [one for answer in answers for one in answer.board]
    return tuple(found)


class _Asked(NamedTuple):
    """All that the findings about one board depend on."""

    board: Board
    shop: Shop
    sawing: Sawing
    parts: tuple[Part, ...]
    placements: tuple[Placement, ...]
    repairs: tuple[Repair, ...]
    cuts: tuple[Cut, ...]
    offcuts: tuple[Offcut, ...]


class _Answer(NamedTuple):
    """What is wrong with the offcuts of one board, and with the pieces on it."""

    offcuts: tuple[Violation, ...]
    board: tuple[Violation, ...]


# The answers about the layout seen last, board by board. A maker moves one part on one board of
# hundreds, and the page asks about all of them: those where nothing at all has changed are not
# gone over again. A question is compared whole, never by a name or a sum of it.
_last: dict[str, tuple[_Asked, _Answer]] = {}


def _answers(boards: Sequence[Board], parts: dict[str, Part], shop: Shop, layout: Layout) -> list[_Answer]:
    global _last
    placed = _by_board((item.board, item) for item in layout.placements if item.part in parts)
    cuts = _by_board((cut.board, cut) for cut in layout.cuts)
    offcuts = _by_board((item.board, item) for item in layout.offcuts)
    mended = _by_board(((item.part, item.copy), item) for item in layout.repairs)
    known, fresh, answers = _last, {}, []
    for board in boards:
        items = tuple(placed.get(board.id, ()))
        left = tuple(offcuts.get(board.id, ()))
        if not items and not left:
            continue
        of = tuple(parts[item.part] for item in items)
        repairs = tuple(one for item in items for one in mended.get((item.part, item.copy), ()))
        asked = _Asked(board, shop, layout.sawing, of, items, repairs, tuple(cuts.get(board.id, ())), left)
        before = known.get(board.id)
        answer = before[1] if before is not None and before[0] == asked else _answer(asked)
        fresh[board.id] = (asked, answer)
        answers.append(answer)
    _last = fresh
    return answers


K = TypeVar("K", bound=Hashable)
T = TypeVar("T")


def _by_board(items: Iterable[tuple[K, T]]) -> dict[K, list[T]]:
    found: dict[K, list[T]] = defaultdict(list)
    for key, item in items:
        found[key].append(item)
    return found


def _answer(asked: _Asked) -> _Answer:
    board, shop = asked.board, asked.shop
    pieces = [
        Piece(item, part, board, shop) for item, part in zip(asked.placements, asked.parts, strict=True)
    ]
    left = tuple(books.offcuts(board, pieces, shop, asked.offcuts))
    return _Answer(left, tuple(_on_board(asked, pieces)) if pieces else ())


def _on_board(asked: _Asked, pieces: list[Piece]) -> list[Violation]:
    board, shop = asked.board, asked.shop
    found: list[Violation] = []
    usable = wood.usable_wood(board, shop)
    for piece in pieces:
        found += wood.inside(piece, usable)
        found += wood.planing(piece)
        found += wood.slopes(piece)
        repairs = [item for item in asked.repairs if _is_of(item, piece)]
        for repair in repairs:
            found += mends.faults_of(piece, repair)
        found += mends.budgets(piece, repairs)
        found += sides.shown(piece, mends.proofs(piece, repairs))
    found += wood.kerf_between(pieces, shop)
    found += sawing.sawable(pieces, asked.sawing, shop)
    if asked.cuts:
        found += sawing.cuts_part_them(board, pieces, asked.cuts, asked.sawing, shop)
    return found


def _is_of(repair: Repair, piece: Piece) -> bool:
    return (repair.part, repair.copy) == (piece.part.name, piece.placement.copy)
