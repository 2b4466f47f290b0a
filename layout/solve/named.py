"""From kinds to staves: a plan with free widths made into glue-ups with numbered staves.

The pieces of a panel are numbered as they lie in the boards, so that neighbours in
the wood are neighbours in the panel. Where the search took more width than the
panel has, the widest staves are made narrower, which levels them; each keeps a
side of its place on which nothing is in the way.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from layout.allowances import Shop, sawn_width
from layout.glue import GlueUp
from layout.panels import panel_glue_up, sawn_parts
from layout.parts import Part
from layout.placement import Layout, Placement, Unplaced
from layout.repair.fault import Host, faults
from layout.solve.family import MICRONS, Family, Kind
from layout.stock import Board

__all__ = ["along_the_board", "as_kinds", "named"]

_ACROSS = (0.0, 1.0, 0.5, 0.25, 0.75)  # places tried in a wider piece's place, from its near side


@dataclass
class _Piece:
    """A stave under way: its kind and place, unless it has none, and its width, now and at most [um]."""

    kind: Kind | None
    placement: Placement | None
    most: int
    size: int = 0


def named(
    layout: Layout, boards: Sequence[Board], shop: Shop, families: Sequence[Family]
) -> tuple[Layout, bool]:
    """The layout with its staves numbered, and whether every piece is sawn as it was.

    Parameters
    ----------
    layout : Layout
        Its placements of staves go by names of kinds.
    boards, shop
    families : sequence of Family

    Returns
    -------
    Layout
        With the families' glue-ups; its cuts, offcuts and repairs are still those of the layout given.
    bool
        False if a stave became narrower or lost its place, so that cuts are to be worked out again.
    """
    stock = {board.id: board for board in boards}
    moved: dict[tuple[str, int], Placement | None] = {}
    told: list[Unplaced] = []
    ups: list[GlueUp] = []
    same = True
    for family in families:
        up, places = _named_family(family, layout, stock, shop)
        ups.append(up)
        for stave, (piece, place) in zip(up.staves, places, strict=True):
            if piece.placement is not None and piece.kind is not None:
                moved[piece.placement.part, piece.placement.copy] = place
                same &= place is not None and piece.size == piece.kind.size
            if place is None:
                told.append(Unplaced(stave.part, 1, "It has no place in this plan."))
    return _retold(layout, families, moved, told, ups), same


def _named_family(
    family: Family, layout: Layout, stock: dict[str, Board], shop: Shop
) -> tuple[GlueUp, list[tuple[_Piece, Placement | None]]]:
    """The glue-up of one panel, and each stave's piece and place; some staves may be left without."""
    pieces = _in_order(family, layout)
    stiff: set[int] = set()
    while True:
        _level(pieces, family, stiff)
        up = panel_glue_up(family.panel, family.copy, [piece.size / MICRONS for piece in pieces])
        parts = sawn_parts([family.panel], shop, [up])
        places = [
            (piece, _as_stave(piece, part, stock, shop, number == len(pieces) - 1, family))
            for number, (piece, part) in enumerate(zip(pieces, parts, strict=True))
        ]
        # What can't be made narrower stays as wide as it was, if the others can give the rest.
        failed = {
            number
            for number, (piece, place) in enumerate(places)
            if place is None and piece.kind is not None and number not in stiff
        }
        kept = sum(
            pieces[number].most if number in stiff | failed else family.least for number in range(len(pieces))
        )
        if not failed or kept > family.width:
            return up, places
        stiff |= failed


def along_the_board(item: Placement) -> tuple[str, int, float]:
    """Order of pieces as they lie: lengths of the board one after the other, each from its datum edge."""
    return item.board, round(item.x / 50), item.y


def as_kinds(
    placements: Sequence[Placement], ups: Sequence[GlueUp], families: Sequence[Family]
) -> tuple[Placement, ...]:
    """An earlier plan's placements, its staves going by names of kinds again where there are such kinds."""
    names: dict[str, str] = {}
    for family in families:
        for up in ups:
            if (up.part, up.copy) != (family.panel.name, family.copy):
                continue
            for number, stave in enumerate(up.staves):
                group = _group_of(number, len(up.staves), family)
                kinds = [kind for kind in family.kinds if kind.group == group]
                near = min(kinds, key=lambda kind: abs(kind.size - round(stave.size * MICRONS)), default=None)
                if near is not None:
                    names[stave.part] = near.part.name
    copies: dict[str, int] = {}
    found = []
    for item in placements:
        if item.part in names:
            name = names[item.part]
            copies[name] = copies.get(name, 0) + 1
            item = replace(item, part=name, copy=copies[name])
        found.append(item)
    return tuple(found)


def _group_of(number: int, count: int, family: Family) -> int | None:
    for index, group in enumerate(family.groups):
        if number in group.numbers or (number == count - 1 and -1 in group.numbers):
            return index
    return next((index for index, group in enumerate(family.groups) if group.quota is None), None)


def _in_order(family: Family, layout: Layout) -> list[_Piece]:
    """The pieces of a panel from its near edge on, those without a place among them."""
    kinds = {kind.part.name: kind for kind in family.kinds}
    placed = sorted((item for item in layout.placements if item.part in kinds), key=along_the_board)
    missing, most = _missing(family, [kinds[item.part] for item in placed])
    count = len(placed) + missing
    order: list[_Piece | None] = [None] * count
    inner: list[_Piece] = []
    for item in placed:
        kind = kinds[item.part]
        numbers = [number % count for number in family.groups[kind.group].numbers]
        free = next((number for number in numbers if order[number] is None), None)
        piece = _Piece(kind, item, kind.size)
        if free is None:
            inner.append(piece)
        else:
            order[free] = piece
    rest = iter([*inner, *(_Piece(None, None, most) for _ in range(missing))])
    if any(group.quota is None for group in family.groups):
        # Missing outer staves come before inner ones take their numbers.
        owed = [number for number in (0, count - 1) if order[number] is None]
        for number in owed[:missing]:
            order[number] = _Piece(None, None, most)
        rest = iter([*inner, *(_Piece(None, None, most) for _ in range(missing - len(owed[:missing])))])
    return [piece if piece is not None else next(rest) for piece in order]


def _missing(family: Family, placed: Sequence[Kind]) -> tuple[int, int]:
    """How many staves have no place, and the most each may be [um]."""
    most = max(kind.size for kind in family.kinds)
    rest = family.width - sum(kind.size for kind in placed)
    owed = sum(
        group.quota - sum(kind.group == number for kind in placed)
        for number, group in enumerate(family.groups)
        if group.quota is not None
    )
    if any(group.quota is None for group in family.groups):
        return max(ceil(rest / most), owed), most
    return owed, most


def _level(pieces: Sequence[_Piece], family: Family, stiff: set[int]) -> None:
    """Make the widest staves narrower, but for stiff ones, until all are as wide together as the panel."""
    for piece in pieces:
        piece.size = piece.most
    giving = [piece for number, piece in enumerate(pieces) if number not in stiff]
    width = family.width - sum(piece.most for number, piece in enumerate(pieces) if number in stiff)
    left = len(giving)
    for piece in sorted(giving, key=lambda item: item.most):
        piece.size = min(piece.most, ceil(width / left))
        width, left = width - piece.size, left - 1


def _as_stave(
    piece: _Piece, part: Part, stock: dict[str, Board], shop: Shop, last: bool, family: Family
) -> Placement | None:
    """The placement of a numbered stave in the place of its kind, or None if a fault is in the way."""
    if piece.placement is None or piece.kind is None:
        return None
    old, board = piece.placement, stock[piece.placement.board]
    spare = sawn_width(piece.kind.part, shop.allowances) - sawn_width(part, shop.allowances)
    turned = last and 0 in family.groups[piece.kind.group].numbers
    base = replace(old, part=part.name, copy=1, end_for_end=old.end_for_end != turned)
    for share in _ACROSS if not old.tilt else (0.5,):
        place = replace(base, y=old.y + share * spare)
        if not faults(Host(place, part, board, shop)):
            return place
    return None


def _retold(
    layout: Layout,
    families: Sequence[Family],
    moved: dict[tuple[str, int], Placement | None],
    told: Sequence[Unplaced],
    ups: Sequence[GlueUp],
) -> Layout:
    """The layout with new names for its staves, in what it says as well."""
    kinds = {kind.part.name for family in families for kind in family.kinds}
    placements = []
    for item in layout.placements:
        place = moved.get((item.part, item.copy), item)
        if place is not None:
            placements.append(place)
    unplaced = [item for item in layout.unplaced if item.part not in kinds]
    spoken = [(re.compile(re.escape(name) + r" \d+"), name.split(" stave of ")[0]) for name in kinds]

    def said(text: str) -> str:
        if " stave of " in text:
            for pattern, panel in spoken:
                text = pattern.sub(f"a stave of {panel}", text)
        return text

    repairs = tuple(replace(item, alternative=said(item.alternative)) for item in layout.repairs)
    return replace(
        layout,
        placements=tuple(placements),
        unplaced=(*unplaced, *told),
        repairs=repairs,
        glue_ups=tuple(ups),
    )
