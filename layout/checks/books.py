"""Whether the books balance: every copy once, nothing unknown, locks kept, offcuts real, money added up."""

from collections import Counter
from collections.abc import Iterator, Sequence

from shapely.geometry import Polygon, box

from layout.allowances import Shop
from layout.checks.finding import TOLERANCE, Violation, mm
from layout.checks.piece import Piece
from layout.checks.sides import grown
from layout.checks.wood import solid
from layout.glue import Repair
from layout.parts import Part
from layout.placement import CutKind, Layout, Offcut, Placement
from layout.stock import Board, PriceBasis

__all__ = ["board_price", "copies", "donors", "kept_locks", "money", "offcuts", "strays", "unknown"]


def unknown(boards: Sequence[Board], parts: Sequence[Part], layout: Layout) -> Iterator[Violation]:
    """Boards and parts the layout speaks of that are not in the job, or may not be cut."""
    stock = {board.id: board for board in boards}
    names = {part.name for part in parts}
    for item in layout.placements:
        if item.part not in names:
            text = f"{item.part} {item.copy} is placed, but the cutting list has no such part."
            yield Violation(item.part, item.copy, item.board, text)
        if item.board not in stock:
            text = f"{item.part} {item.copy} is placed on board {item.board}, but there is no such board."
            yield Violation(item.part, item.copy, item.board, text)
        elif stock[item.board].forbidden:
            text = f"{item.part} {item.copy} is placed on board {item.board}, which is not to be cut."
            yield Violation(item.part, item.copy, item.board, text)
    for what, named in (("a cut", layout.cuts), ("an offcut", layout.offcuts)):
        for board in sorted({item.board for item in named} - set(stock)):
            yield Violation(
                None, None, board, f"{what} is listed on board {board}, but there is no such board."
            )


def copies(parts: Sequence[Part], layout: Layout) -> Iterator[Violation]:
    """A copy of a part missing, there twice, or one too many."""
    counted = Counter((item.part, item.copy) for item in layout.placements)
    counted += Counter((item.part, item.copy) for item in layout.unplaced)
    for part in parts:
        for copy in range(1, part.quantity + 1):
            times = counted.pop((part.name, copy), 0)
            if times == 0:
                text = f"{part.name} {copy} is neither placed nor listed as not placed."
                yield Violation(part.name, copy, None, text)
            elif times > 1:
                yield Violation(part.name, copy, None, f"{part.name} {copy} is in the layout {times} times.")
    wanted = {part.name: part.quantity for part in parts}
    for name, copy in counted:
        if name in wanted:
            text = f"{name} {copy} is in the layout, but only {wanted[name]} are wanted."
            yield Violation(name, copy, None, text)
    for item in layout.unplaced:
        if item.part not in wanted:
            text = f"{item.part} {item.copy} is listed as not placed, but the cutting list has no such part."
            yield Violation(item.part, item.copy, None, text)
        elif not item.reason.strip():
            yield Violation(
                item.part, item.copy, None, f"{item.part} {item.copy} is not placed and no reason is given."
            )


def kept_locks(locked: Sequence[Placement], layout: Layout) -> Iterator[Violation]:
    """A part the maker fixed, or has sawn already, that was moved."""
    for item in locked:
        now = [found for found in layout.placements if (found.part, found.copy) == (item.part, item.copy)]
        if not any(_same_place(item, found) for found in now):
            fixed = "sawn already" if item.cut else "locked"
            text = f"{item.part} {item.copy} is {fixed} on board {item.board} and must stay where it is."
            yield Violation(item.part, item.copy, item.board, text)


def _same_place(one: Placement, other: Placement) -> bool:
    numbers = (("x", TOLERANCE), ("y", TOLERANCE), ("tilt", 1e-3), ("from_front", TOLERANCE))
    return (
        (one.board, one.face_from, one.end_for_end) == (other.board, other.face_from, other.end_for_end)
        and all(abs(getattr(one, name) - getattr(other, name)) <= slack for name, slack in numbers)
        and (other.cut or not one.cut)
    )


def offcuts(
    board: Board, pieces: Sequence[Piece], shop: Shop, listed: Sequence[Offcut]
) -> Iterator[Violation]:
    """An offcut of a board that is off it, too small to keep, or in part already used."""
    for number, item in enumerate(listed):
        name = f"the offcut of board {item.board} at {mm(item.x0)}, {mm(item.y0)}"
        for text in _offcut_faults(item, board, pieces, listed[number + 1 :], shop):
            yield Violation(None, None, item.board, f"{name} {text}.")


def _offcut_faults(
    item: Offcut, board: Board, pieces: Sequence[Piece], later: Sequence[Offcut], shop: Shop
) -> Iterator[str]:
    length, width = item.x1 - item.x0, item.y1 - item.y0
    least_length, least_width = shop.least_offcut
    if length < least_length - TOLERANCE or width < least_width - TOLERANCE:
        least = f"{mm(least_length)} x {mm(least_width)}"
        yield f"is {mm(length)} x {mm(width)}, less than the {least} worth keeping"
        return
    ground = box(item.x0, item.y0, item.x1, item.y1).buffer(-TOLERANCE)
    wood = Polygon(board.front).union(Polygon(board.back))
    if not wood.contains(ground):
        yield "reaches past the edge of the board"
    for piece in pieces:
        if ground.intersection(piece.sawn).area > TOLERANCE:
            yield f"takes wood of {piece.part.name} {piece.placement.copy}"
    for other in later:
        if ground.intersection(box(other.x0, other.y0, other.x1, other.y1)).area > TOLERANCE:
            yield f"overlaps the offcut at {mm(other.x0)}, {mm(other.y0)}"


def donors(
    boards: Sequence[Board], pieces: Sequence[Piece], shop: Shop, layout: Layout
) -> Iterator[Violation]:
    """A repair's blank that is not left-over wood: in the trim, in a part, a cut, a fault, or taken twice."""
    stock = {board.id: board for board in boards}
    blanks = [(repair, repair.donor) for repair in layout.repairs if repair.donor is not None]
    for number, (repair, donor) in enumerate(blanks):
        board = stock.get(donor.board)
        if board is None:
            continue
        blank = box(donor.x0, donor.y0, donor.x1, donor.y1)
        for text in _blank_faults(blank, board, pieces, shop, layout):
            yield _of_repair(repair, text)
        for other, theirs in blanks[number + 1 :]:
            there = box(theirs.x0, theirs.y0, theirs.x1, theirs.y1)
            if theirs.board == donor.board and blank.distance(there) < shop.allowances.kerf - TOLERANCE:
                yield _of_repair(
                    repair, f"takes the wood of the {other.kind.value} of {other.part} {other.copy}"
                )


def _blank_faults(
    blank: Polygon, board: Board, pieces: Sequence[Piece], shop: Shop, layout: Layout
) -> Iterator[str]:
    core, kerf = blank.buffer(-TOLERANCE), shop.allowances.kerf
    wood, end = solid(board), shop.allowances.end_trim + board.off[0]
    if not wood.intersection(box(end, -1.0, board.length - end, board.width + 1.0)).covers(core):
        yield "takes its wood past the edge of the board or from its end trim"
    for piece in pieces:
        if piece.board.id == board.id and piece.sawn.distance(blank) < kerf - TOLERANCE:
            yield f"takes wood of {piece.part.name} {piece.placement.copy}"
    for cut in (item for item in layout.cuts if item.board == board.id):
        slot = box(cut.at, cut.start, cut.at + kerf, cut.end)
        if cut.kind is CutKind.RIP:
            slot = box(cut.start, cut.at, cut.end, cut.at + kerf)
        if core.intersects(slot):
            yield f"takes wood that cut {cut.order} goes through"
    for defect in board.defects:
        if core.intersects(grown(defect, board, shop)):
            yield f"takes wood with the {defect.kind.value} {defect.id} in it"
    for offcut in (item for item in layout.offcuts if item.board == board.id):
        there = box(offcut.x0, offcut.y0, offcut.x1, offcut.y1)
        if core.intersects(there):
            yield f"takes wood of the offcut listed at {mm(offcut.x0)}, {mm(offcut.y0)}"


def _of_repair(repair: Repair, text: str) -> Violation:
    name = f"{repair.part} {repair.copy}: the {repair.kind.value} for {', '.join(repair.defects)}"
    board = repair.donor.board if repair.donor is not None else None
    return Violation(repair.part, repair.copy, board, f"{name} {text}.")


def strays(layout: Layout) -> Iterator[Violation]:
    """A repair of a part that is not placed."""
    placed = {(item.part, item.copy) for item in layout.placements}
    for repair in layout.repairs:
        if (repair.part, repair.copy) not in placed:
            yield _of_repair(repair, "belongs to no placed part")


def money(boards: Sequence[Board], layout: Layout) -> Iterator[Violation]:
    """A cost that is not the sum of the boards bought and the repairs made."""
    used = {item.board for item in layout.placements}
    spent = sum(board_price(board) for board in boards if board.id in used and not board.owned)
    mended = sum(repair.cost for repair in layout.repairs)
    if abs(spent + mended - layout.cost) > 0.011:
        what = f"the boards come to {spent:.2f}" + (f" and the repairs to {mended:.2f}" if mended else "")
        yield Violation(None, None, None, f"the cost is given as {layout.cost:.2f}, but {what}.")


def board_price(board: Board) -> float:
    """What a board costs as it is, owned or not [money]."""
    if board.price.basis is PriceBasis.BOARD:
        return board.price.amount
    return board.price.amount * board.length * board.widest * board.thickness / 1e9
