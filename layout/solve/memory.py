"""Grounds and clear maps kept from one plan to the next, so that planning again is quick.

A map depends on its board, on what a part asks, and on the shop's allowances;
all three are values, so an equal question has the same answer. The oldest maps
go when they take more than a share of memory. Maps with repairs are not kept:
what a repair costs is a function, and functions have no equals.
"""

from collections.abc import Hashable
from threading import Lock

from layout.allowances import Shop
from layout.clear import ClearMap, clear_map
from layout.ground import Ground, Rows, ground_of
from layout.kept import Kept
from layout.parts import Part
from layout.stock import Board

__all__ = ["known_ground", "known_map", "likeness"]

_MOST = 150_000_000  # of maps [bytes]
_MOST_GROUNDS = 60_000_000  # [bytes]
_POINT = 200  # a point of an outline, as Python and as the geometry library keep it [bytes]


def known_ground(board: Board, shop: Shop, cells: int) -> Ground:
    """The ground of a board, made now or remembered."""
    key = (board, shop.allowances, shop.max_slope, cells)
    found = _grounds.get(key)
    if found is not None and found.shop == shop:
        return found
    if found is not None:
        _grounds.drop(key)
    return _grounds.put(key, ground_of(board, shop, cells))


def known_map(ground: Ground, part: Part) -> ClearMap:
    """The clear map of a part on a ground, made now or remembered."""
    # A ground remembered is the same object for equal boards, so it stands for board, shop and pitch.
    key = (ground, likeness(part))
    found = _maps.get(key)
    if found is not None:
        return found
    found = clear_map(ground, part)
    with _lock:
        _keys_of.setdefault(ground, set()).add(key)
    return _maps.put(key, found)


def likeness(part: Part) -> tuple[Hashable, ...]:
    """All that a part asks of the wood under it; parts alike in this share their maps."""
    return (
        part.length,
        part.width,
        part.thickness,
        tuple(sorted(part.sides.items())),
        part.outline,
        part.zones,
        part.length_allowance,
        part.width_allowance,
        part.max_slope,
        part.turn_end_for_end,
        part.heart_up,
        tuple(sorted(part.tolerates.items())),
    )


def _map_bytes(clear: ClearMap) -> int:
    """The map itself, and what it was asked for since: the harm to looks."""
    arrays = (clear.ok, clear.mend, vars(clear).get("harm"))
    return 500 + sum(array.nbytes for array in arrays if array is not None)


def _ground_bytes(ground: Ground) -> int:
    """Its obstacles row by row, also in the other forms that were asked for, and all outlines."""
    board = ground.board
    rows = [ground.rows, *(vars(ground).get(name) for name in ("hulls", "convex_rows", "convex_lines"))]
    spans = vars(ground).get("spans")
    more = 0 if spans is None else sum(array.nbytes for array in (*spans.rows, *spans.lines))
    points = len(board.front) + len(board.back) + sum(len(defect.outline) for defect in board.defects)
    return 5_000 + 2 * _POINT * points + more + sum(_rows_bytes(one) for one in rows if one is not None)


def _rows_bytes(rows: Rows) -> int:
    return rows.low.nbytes + rows.high.nbytes + rows.owner.nbytes


def _without_maps(_: Hashable, ground: Ground) -> None:
    """Maps of a ground that is gone are never asked for again, and would hold it back."""
    with _lock:
        keys = _keys_of.pop(ground, set())
    for key in keys:
        _maps.drop(key)


def _unlisted(key: Hashable, clear: ClearMap) -> None:
    with _lock:
        keys = _keys_of.get(clear.ground)
        if keys is not None:
            keys.discard(key)
            if not keys:
                del _keys_of[clear.ground]


_lock = Lock()
_keys_of: dict[Ground, set[Hashable]] = {}
_maps: Kept[ClearMap] = Kept(_MOST, _map_bytes, grows=True, gone=_unlisted)
_grounds: Kept[Ground] = Kept(_MOST_GROUNDS, _ground_bytes, grows=True, gone=_without_maps)
