"""The wood itself: its picture or a plain ground, its edges, and what of it is not used."""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from layout.outline import Outline
from ui.drawing.board_view import BoardView
from ui.drawing.palette import INK, OFFCUT, PAPER, PLATE, WOOD
from ui.drawing.room import Room, grown_box
from ui.drawing.scene import Box, Ground, Item, Pen, Shape, Words, box_shape

__all__ = ["draw_offcuts", "draw_waste", "draw_wood", "label_offcuts", "rings_of"]


def draw_wood(view: BoardView, picture: NDArray[np.uint8] | None) -> list[Item]:
    """The board's picture (or a plain ground) and its outline, with the other face's where it differs."""
    unit, board = view.unit, view.board
    own, other = (
        view.seen_outline(board.outline(view.face)),
        view.seen_outline(board.outline(view.face.other)),
    )
    items: list[Item] = []
    if picture is not None:
        if view.upright:
            picture = np.ascontiguousarray(np.rot90(picture, -1 if view.datum_end_left else 1))
        items.append(Ground((0.0, 0.0, view.wide, view.high), picture, "wood"))
    else:
        items.append(Shape(own, "wood", None, WOOD))
    if other != own:
        items.append(Shape(other, "other face", Pen(INK, 0.08 * unit, (0.3 * unit, 0.5 * unit))))
    items.append(Shape(own, "board", Pen(INK, 0.16 * unit)))
    return items


def draw_waste(view: BoardView) -> list[Item]:
    """A pale veil over wood that becomes neither part nor offcut, so that the parts stand out."""
    used: list[BaseGeometry] = [Polygon(piece.sawn) for piece in view.pieces]
    used += [shapely.box(item.x0, item.y0, item.x1, item.y1) for item in view.offcuts]
    if not used:
        return []
    whole = shapely.box(0.0, 0.0, view.board.length, view.board.width)
    left = whole.difference(shapely.union_all(used))
    many = left.geoms if hasattr(left, "geoms") else [left]
    return [_veil(view, each) for each in many if isinstance(each, Polygon) and each.area > 1e-6]


def _veil(view: BoardView, ground: Polygon) -> Shape:
    holes = tuple(view.seen_outline(_ring(hole.coords)) for hole in ground.interiors)
    outer = view.seen_outline(_ring(ground.exterior.coords))
    return Shape(outer, "waste", None, PAPER, 0.5, holes=holes)


def _ring(coordinates: Iterable[Sequence[float]]) -> Outline:
    return tuple((float(each[0]), float(each[1])) for each in coordinates)[:-1]


def rings_of(shape: BaseGeometry) -> list[Outline]:
    """The outer rings of every polygon in a shape."""
    many = shape.geoms if hasattr(shape, "geoms") else [shape]
    return [_ring(each.exterior.coords) for each in many if isinstance(each, Polygon) and each.area > 1e-6]


def draw_offcuts(view: BoardView) -> list[Item]:
    """The outline of each offcut worth keeping, just inside it."""
    unit = view.unit
    pen = Pen(OFFCUT, 0.14 * unit, (0.5 * unit, 0.4 * unit))
    boxes = [view.seen_box((each.x0, each.y0, each.x1, each.y1)) for each in view.offcuts]
    return [box_shape(grown_box(box, -0.1 * unit), "offcuts", pen) for box in boxes]


def label_offcuts(view: BoardView, room: Room) -> list[Item]:
    """The size of each offcut, where it can be read."""
    unit = view.unit
    items: list[Item] = []
    for offcut in view.offcuts:
        box = view.seen_box((offcut.x0, offcut.y0, offcut.x1, offcut.y1))
        size = f"{view.tape.words(view.tape.at_most(offcut.x1 - offcut.x0))} x "
        size += view.tape.words(view.tape.at_most(offcut.y1 - offcut.y0), unit=True)
        for text, upwards in (
            (f"offcut {size}", False),
            (size, False),
            (f"offcut {size}", True),
            (size, True),
        ):
            found = _words_inside(text, box, 0.85 * unit, room, upwards)
            if found:
                plate, words = found
                items += [plate, words]
                break
    return items


def _words_inside(text: str, box: Box, size: float, room: Room, upwards: bool) -> tuple[Shape, Words] | None:
    middle_x, middle_y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    places = [(x, middle_y) for x in (middle_x, (box[0] + middle_x) / 2, (middle_x + box[2]) / 2)]
    if upwards:
        places = [(middle_x, y) for y in (middle_y, (box[1] + middle_y) / 2, (middle_y + box[3]) / 2)]
    more_x, more_y = (0.0, 0.3 * size) if upwards else (0.3 * size, 0.0)
    best: tuple[float, Box, Words] | None = None
    for x, y in places:
        words = Words(x, y, text, size, "offcuts", OFFCUT, "middle", bold=True, upwards=upwards)
        x0, y0, x1, y1 = words.box
        ground = (x0 - more_x, y0 - more_y, x1 + more_x, y1 + more_y)
        inside = box[0] <= ground[0] and ground[2] <= box[2] and box[1] <= ground[1] and ground[3] <= box[3]
        if inside and room.free(ground) and (best is None or room.covers(ground) < best[0]):
            best = room.covers(ground), ground, words
    if best is None:
        return None
    room.take(best[1])
    return box_shape(best[1], "offcuts", None, PLATE, opacity=0.85), best[2]
