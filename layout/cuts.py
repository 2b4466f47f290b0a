"""Whether a layout can be sawn with straight cuts, and the cuts in an order a saw can follow.

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

The sequence
------------
Stage by stage; within a stage lump by lump, each from the origin outwards. A cut
before a piece cleans it (`kept_before` false: the measured piece lies beyond the
slot), a cut after a piece frees it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from layout.allowances import Sawing, Shop, sawn_length, sawn_width
from layout.outline import bounds_of
from layout.parts import Part
from layout.placement import Cut, CutKind, Placement, sawn_on_board
from layout.stock import Board

__all__ = ["Box", "Sawn", "groups", "sawable", "sawn_apart", "sawn_box", "set_ups"]

Box = tuple[float, float, float, float]

_CLOSE = 1e-4  # pieces nearer than this to a kerf apart count as a kerf apart [mm]
_SIZE = 0.05  # and this much over its size is to size [mm]
_FIRST = {
    Sawing.CROSSCUT_FIRST: CutKind.CROSSCUT,
    Sawing.RIP_FIRST: CutKind.RIP,
    Sawing.BAND_SAW: CutKind.CROSSCUT,
}
_FREELY = 12  # stages tried for straight cuts that happen to part a band-sawn board


def sawn_box(placement: Placement, part: Part, shop: Shop) -> Box:
    """The upright rectangle round a sawn piece (x0, y0, x1, y1), in the board frame [mm]."""
    if placement.tilt == 0.0:
        length, width = sawn_length(part, shop.allowances), sawn_width(part, shop.allowances)
        return placement.x, placement.y, placement.x + length, placement.y + width
    return bounds_of(sawn_on_board(placement, part, shop.allowances))


def groups(boxes: Sequence[Box], numbers: Sequence[int], kind: CutKind, kerf: float) -> list[list[int]]:
    """Pieces (by number) that no cut of this kind can part, lump after lump from the origin."""
    low, high = (0, 2) if kind is CutKind.CROSSCUT else (1, 3)
    found: list[list[int]] = []
    reached = float("-inf")
    for number in sorted(numbers, key=lambda item: boxes[item][low]):
        box = boxes[number]
        if box[low] >= reached + kerf - _CLOSE:
            found.append([])
        found[-1].append(number)
        reached = max(reached, box[high])
    return found


def sawable(boxes: Sequence[Box], sawing: Sawing, stages: int, kerf: float) -> bool:
    """Whether sawn pieces can be parted in the class defined above."""
    if sawing is Sawing.BAND_SAW:
        return True
    return _parts(boxes, range(len(boxes)), _FIRST[sawing], stages, kerf)


def _parts(boxes: Sequence[Box], numbers: Sequence[int], kind: CutKind, stages: int, kerf: float) -> bool:
    if len(numbers) < 2:
        return True
    if stages == 0:
        return False
    return all(
        _parts(boxes, group, _other(kind), stages - 1, kerf) for group in groups(boxes, numbers, kind, kerf)
    )


@dataclass(frozen=True)
class _Lump:
    """A lump of wood and the pieces in it."""

    box: Box
    numbers: tuple[int, ...]
    kind: CutKind
    stage: int


@dataclass(frozen=True)
class Sawn:
    """How a board is sawn: the cuts in order, and the rectangles they leave over (x0, y0, x1, y1) [mm]."""

    cuts: tuple[Cut, ...]
    left_over: tuple[Box, ...]


def sawn_apart(board: Board, boxes: Sequence[Box], shop: Shop) -> Sawn:
    """The cuts that free all pieces of a board, in order, and what they leave over.

    Parameters
    ----------
    board : Board
    boxes : sequence of (x0, y0, x1, y1)
        Sawn pieces, in the board frame [mm].
    shop : Shop

    Returns
    -------
    Sawn
        Without cuts where straight cuts cannot part the pieces (band saw only):
        they are sawn along their lines then.
    """
    kind = _first_kind(boxes, shop)
    if not boxes or kind is None:
        return Sawn((), ())
    cuts: list[Cut] = []
    left_over: list[Box] = []
    lumps = [_Lump((0.0, 0.0, board.length, board.width), tuple(range(len(boxes))), kind, 1)]
    while lumps:
        following: list[_Lump] = []
        for lump in lumps:
            made, left, over = _sawn(board.id, lump, boxes, shop.allowances.kerf)
            cuts += made
            following += left
            left_over += over
        lumps = following
    return Sawn(
        tuple(replace(cut, order=number) for number, cut in enumerate(cuts, start=1)), tuple(left_over)
    )


def set_ups(cuts: Sequence[Cut], boxes: Sequence[Box]) -> int:
    """How many fence or stop settings the cuts need: distinct sizes kept, to a tenth, for each kind."""
    sizes = {(CutKind.CROSSCUT, round(x1 - x0, 1)) for x0, _, x1, _ in boxes}
    sizes |= {(CutKind.RIP, round(y1 - y0, 1)) for _, y0, _, y1 in boxes}
    made = {cut.kind for cut in cuts}
    return sum(kind in made for kind, _ in sizes)


def _first_kind(boxes: Sequence[Box], shop: Shop) -> CutKind | None:
    first, kerf = _FIRST[shop.sawing], shop.allowances.kerf
    if shop.sawing is not Sawing.BAND_SAW:
        return first if _parts(boxes, range(len(boxes)), first, shop.stages, kerf) else None
    for kind in (first, _other(first)):
        if _parts(boxes, range(len(boxes)), kind, _FREELY, kerf):
            return kind
    return None


def _sawn(
    board: str, lump: _Lump, boxes: Sequence[Box], kerf: float
) -> tuple[list[Cut], list[_Lump], list[Box]]:
    """The cuts of one kind through one lump, the lumps they free, and what is left over."""
    across = lump.kind is CutKind.CROSSCUT
    low, high = (0, 2) if across else (1, 3)
    start, end = (lump.box[1], lump.box[3]) if across else (lump.box[0], lump.box[2])
    cuts, lumps, over = [], [], []
    reached = lump.box[low]

    def between(near: float, far: float) -> Box:
        return (near, start, far, end) if across else (start, near, end, far)

    for group in groups(boxes, lump.numbers, lump.kind, kerf):
        near = min(boxes[number][low] for number in group)
        far = max(boxes[number][high] for number in group)
        if near > reached + _SIZE:
            cuts.append(Cut(board, 0, lump.kind, near - kerf, start, end, lump.stage, kept_before=False))
            over.append(between(reached, near - kerf))
        else:
            near = reached  # no cut, so that is where the lump really begins
        reached = far
        if far < lump.box[high] - _SIZE:
            cuts.append(Cut(board, 0, lump.kind, far, start, end, lump.stage))
            reached = far + kerf
        else:
            far = reached = lump.box[high]
        lumps.append(_Lump(between(near, far), tuple(group), _other(lump.kind), lump.stage + 1))
    over.append(between(reached, lump.box[high]))
    unfinished = [item for item in lumps if len(item.numbers) > 1 or not _to_size(item, boxes)]
    return cuts, unfinished, [box for box in over if box[0] < box[2] and box[1] < box[3]]


def _to_size(lump: _Lump, boxes: Sequence[Box]) -> bool:
    # In the very words of `_sawn`: rounded differently, a lump just `_SIZE` too large would never be done.
    x0, y0, x1, y1 = boxes[lump.numbers[0]]
    near, low, far, high = lump.box
    return not (x0 > near + _SIZE or y0 > low + _SIZE or x1 < far - _SIZE or y1 < high - _SIZE)


def _other(kind: CutKind) -> CutKind:
    return CutKind.RIP if kind is CutKind.CROSSCUT else CutKind.CROSSCUT
