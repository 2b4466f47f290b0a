"""Room beyond the board for a label that finds none on it, and the line that leads to it."""

from layout.outline import Point
from ui.drawing.board_view import BoardView
from ui.drawing.room import Room
from ui.drawing.scene import Box

__all__ = ["outside"]


def outside(view: BoardView, room: Room, point: Point, wide: float, high: float) -> tuple[Box, Point]:
    """A place for a label beyond the board, and the point of it that a leader from `point` runs to [mm].

    Below the board where it lies flat, beside it (away from the datum edge) where it stands upright.
    """
    unit, (x, y) = view.unit, point
    if not view.upright:
        box = room.take(room.lane(x, wide, high, view.high + 1.6 * unit, 1.2 * high))
        return box, (x, box[1])
    right = view.seen((0.0, 0.0))[0] < view.wide / 2
    column = 0
    while True:
        away = 1.4 * unit + column * 0.5 * unit
        left = view.wide + away if right else -away - wide
        for shift in (0.0, 1.2, -1.2, 2.4, -2.4, 3.6, -3.6):
            top = y + shift * high - high / 2
            box = (left, top, left + wide, top + high)
            if room.free(box):
                return room.take(box), (box[0] if right else box[2], top + high / 2)
        column += 1
