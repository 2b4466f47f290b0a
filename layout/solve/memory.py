"""Grounds and clear maps kept from one plan to the next, so that planning again is quick.

A map depends on its board, on what a part asks, and on the shop's allowances;
all three are values, so an equal question has the same answer. The oldest maps
go when they take more than a share of memory. Maps with repairs are not kept:
what a repair costs is a function, and functions have no equals.
"""

from collections import OrderedDict
from collections.abc import Hashable
from threading import Lock

from layout.allowances import Shop
from layout.clear import ClearMap, clear_map
from layout.ground import Ground, ground_of
from layout.parts import Part
from layout.stock import Board

__all__ = ["known_ground", "known_map", "likeness"]

_MOST = 150_000_000  # bytes of maps
_MOST_GROUNDS = 600  # about 0.1 MB each

_lock = Lock()
_grounds: OrderedDict[Hashable, Ground] = OrderedDict()
_maps: OrderedDict[Hashable, ClearMap] = OrderedDict()
_size = 0


def known_ground(board: Board, shop: Shop, cells: int) -> Ground:
    """The ground of a board, made now or remembered."""
    key = (board, shop.allowances, shop.max_slope, cells)
    with _lock:
        found = _grounds.get(key)
        if found is not None and found.shop == shop:
            _grounds.move_to_end(key)
            return found
    found = ground_of(board, shop, cells)
    with _lock:
        _grounds[key] = found
        while len(_grounds) > _MOST_GROUNDS:
            _grounds.popitem(last=False)
    return found


def known_map(ground: Ground, part: Part) -> ClearMap:
    """The clear map of a part on a ground, made now or remembered."""
    global _size
    # A ground remembered is the same object for equal boards, so it stands for board, shop and pitch.
    key = (ground, likeness(part))
    with _lock:
        found = _maps.get(key)
        if found is not None:
            _maps.move_to_end(key)
            return found
    found = clear_map(ground, part)
    with _lock:
        if key not in _maps:
            _maps[key] = found
            _size += _bytes(found)
        while _size > _MOST and len(_maps) > 1:
            _, old = _maps.popitem(last=False)
            _size -= _bytes(old)
    return found


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


def _bytes(clear: ClearMap) -> int:
    # The map itself, and the harm to looks that a few of them are asked for.
    return clear.ok.size * 2
