"""Whether the pieces can be sawn in the shop's order, and whether the cuts listed do it.

The class of layouts "crosscut first (rip first), s stages", exactly
---------------------------------------------------------------------
Every sawn piece counts as an upright rectangle (a tilted piece as the upright
rectangle round it). A cut goes right across the lump of wood being sawn and takes
one kerf. Beginning with the whole board and with crosscuts (rips)::

    stage 1   crosscuts part the board into lumps       |      |        |
    stage 2   rips part each of these lumps             |------|        |
    stage 3   crosscuts part each of those              |  |   |--------|

* Two pieces can be parted in a stage if, seen along the other direction, there
  is room for a kerf between them; pieces that cannot stay in one lump.
* After at most s stages every lump holds one piece.
* TRIM: a lump that holds one piece is then sawn to that piece's size, by cuts
  in whichever direction is still needed. That is no stage. So a strip is as
  wide as its widest piece, and narrower pieces in it may lie anywhere across it.

Parting every lump as finely as possible never hurts: a set of pieces that can be
parted can still be parted after some of them are taken away. So the test below
is exact. With the band saw any layout with a kerf between all pieces can be sawn.

The words are those of `layout.cuts`; the code below is another.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from layout.allowances import Sawing, Shop
from layout.checks.finding import TOLERANCE, Violation, mm
from layout.checks.piece import Piece
from layout.placement import Cut, CutKind
from layout.stock import Board

__all__ = ["cuts_part_them", "sawable"]

_FIRST = {Sawing.CROSSCUT_FIRST: CutKind.CROSSCUT, Sawing.RIP_FIRST: CutKind.RIP}


def sawable(pieces: Sequence[Piece], sawing: Sawing, shop: Shop) -> Iterator[Violation]:
    """The pieces of one board that no order of straight cuts can free."""
    if sawing is Sawing.BAND_SAW:
        return
    stuck = _stuck(list(pieces), _FIRST[sawing], shop.stages, shop.allowances.kerf)
    if stuck:
        names = ", ".join(f"{piece.part.name} {piece.placement.copy}" for piece in stuck)
        board = stuck[0].board.id
        yield Violation(
            stuck[0].part.name,
            stuck[0].placement.copy,
            board,
            f"board {board}: {names} cannot be sawn apart {sawing.value} in {shop.stages} stages of"
            " straight cuts.",
        )


def _stuck(pieces: list[Piece], kind: CutKind, stages: int, kerf: float) -> list[Piece]:
    """The first group no cut can divide any further; empty when all come free."""
    if len(pieces) < 2:
        return []
    if stages == 0:
        return pieces
    for group in _between_slots(pieces, kind, kerf):
        rest = _stuck(group, _turned(kind), stages - 1, kerf)
        if rest:
            return rest
    return []


def _between_slots(pieces: list[Piece], kind: CutKind, kerf: float) -> list[list[Piece]]:
    """Groups of pieces with room for a straight slot between each and the next."""
    low, high = (0, 2) if kind is CutKind.CROSSCUT else (1, 3)
    groups: list[list[Piece]] = []
    reached = float("-inf")
    for piece in sorted(pieces, key=lambda item: float(item.sawn.bounds[low])):
        bounds = piece.sawn.bounds
        if bounds[low] >= reached + kerf - TOLERANCE:
            groups.append([])
        groups[-1].append(piece)
        reached = max(reached, bounds[high])
    return groups


@dataclass
class _Block:
    """A lump of the board while it is being sawn."""

    x0: float
    y0: float
    x1: float
    y1: float
    stage: int = 0
    last: CutKind | None = None

    def along(self, kind: CutKind) -> tuple[float, float]:
        return (self.y0, self.y1) if kind is CutKind.CROSSCUT else (self.x0, self.x1)

    def across(self, kind: CutKind) -> tuple[float, float]:
        return (self.x0, self.x1) if kind is CutKind.CROSSCUT else (self.y0, self.y1)

    def holds(self, piece: Piece, slack: float = TOLERANCE) -> bool:
        x0, y0, x1, y1 = piece.sawn.bounds
        return bool(
            self.x0 <= x0 + slack
            and self.y0 <= y0 + slack
            and self.x1 >= x1 - slack
            and self.y1 >= y1 - slack
        )


def cuts_part_them(
    board: Board, pieces: Sequence[Piece], cuts: Sequence[Cut], sawing: Sawing, shop: Shop
) -> Iterator[Violation]:
    """Play the cuts listed for a board, in order, on the whole board, and see what is wrong."""
    blocks = [_Block(0.0, 0.0, board.length, board.width)]
    for cut in sorted(cuts, key=lambda item: item.order):
        block = next((item for item in blocks if _spans(cut, item, shop.allowances.kerf)), None)
        if block is None:
            yield _about(board, cut, "runs right across no piece that is left then")
            continue
        hit = [piece for piece in pieces if block.holds(piece) and _crosses(cut, piece, shop.allowances.kerf)]
        for piece in hit:
            yield _about(board, cut, f"goes through {piece.part.name} {piece.placement.copy}")
        stage = _stage(block, cut.kind, sawing)
        held = sum(block.holds(piece) for piece in pieces)
        yield from _in_order(board, cut, stage, held, sawing, shop)
        blocks.remove(block)
        blocks.extend(_halves(block, cut, stage, shop.allowances.kerf))
    yield from _not_free(board, blocks, pieces)


def _spans(cut: Cut, block: _Block, kerf: float) -> bool:
    start, end = block.along(cut.kind)
    near, far = block.across(cut.kind)
    whole = abs(cut.start - start) <= TOLERANCE and abs(cut.end - end) <= TOLERANCE
    return whole and cut.at + kerf > near + TOLERANCE and cut.at < far - TOLERANCE


def _crosses(cut: Cut, piece: Piece, kerf: float) -> bool:
    x0, y0, x1, y1 = piece.sawn.bounds
    near, far = (x0, x1) if cut.kind is CutKind.CROSSCUT else (y0, y1)
    return bool(cut.at + kerf > near + TOLERANCE and cut.at < far - TOLERANCE)


def _in_order(
    board: Board, cut: Cut, stage: int, held: int, sawing: Sawing, shop: Shop
) -> Iterator[Violation]:
    if sawing is Sawing.BAND_SAW:
        return
    if cut.stage != stage:
        yield _about(board, cut, f"is called stage {cut.stage}, but is stage {stage}")
    if stage > shop.stages and held > 1:
        yield _about(board, cut, f"is stage {stage}, but the shop saws in {shop.stages} at most")


def _stage(block: _Block, kind: CutKind, sawing: Sawing) -> int:
    if block.last is None:
        return 1 if kind is _FIRST.get(sawing, kind) else 2
    return block.stage + (kind is not block.last)


def _halves(block: _Block, cut: Cut, stage: int, kerf: float) -> list[_Block]:
    x0, y0, x1, y1 = block.x0, block.y0, block.x1, block.y1
    if cut.kind is CutKind.CROSSCUT:
        halves = [(x0, y0, cut.at, y1), (cut.at + kerf, y0, x1, y1)]
    else:
        halves = [(x0, y0, x1, cut.at), (x0, cut.at + kerf, x1, y1)]
    return [_Block(*half, stage, cut.kind) for half in halves if half[2] > half[0] and half[3] > half[1]]


def _not_free(board: Board, blocks: Sequence[_Block], pieces: Sequence[Piece]) -> Iterator[Violation]:
    for block in blocks:
        held = [piece for piece in pieces if block.holds(piece)]
        names = ", ".join(f"{piece.part.name} {piece.placement.copy}" for piece in held)
        if len(held) > 1:
            text = f"the cuts listed leave {names} in one piece"
        elif held and not _is_to_size(block, held[0]):
            x0, y0, x1, y1 = held[0].sawn.bounds
            text = (
                f"the cuts listed leave {names} {mm(block.x1 - block.x0)} x {mm(block.y1 - block.y0)},"
                f" to be sawn {mm(x1 - x0)} x {mm(y1 - y0)}"
            )
        else:
            continue
        yield Violation(held[0].part.name, held[0].placement.copy, board.id, f"board {board.id}: {text}.")


def _is_to_size(block: _Block, piece: Piece) -> bool:
    wanted = piece.sawn.bounds
    found = (block.x0, block.y0, block.x1, block.y1)
    return all(abs(one - other) <= TOLERANCE for one, other in zip(wanted, found, strict=True))


def _about(board: Board, cut: Cut, what: str) -> Violation:
    where = f"cut {cut.order} of board {board.id} ({cut.kind.value} at {mm(cut.at)})"
    return Violation(None, None, board.id, f"{where} {what}.")


def _turned(kind: CutKind) -> CutKind:
    return CutKind.RIP if kind is CutKind.CROSSCUT else CutKind.CROSSCUT
