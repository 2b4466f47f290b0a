"""The marked-up picture of one face of a board, as pixels and as SVG."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Shop
from layout.outline import bounds_of
from layout.parts import Part
from layout.placement import Layout
from layout.stock import Board, Face
from ui.drawing.board_view import BoardView
from ui.drawing.chains import draw_chains
from ui.drawing.draw_cuts import draw_cuts, label_inner_cuts
from ui.drawing.draw_faults import Note, draw_faults, number_faults
from ui.drawing.draw_pieces import draw_pieces, edge_mark, label_pieces
from ui.drawing.draw_repairs import draw_repairs, label_repairs
from ui.drawing.margins import datum_lines, draw_datums, draw_legend, draw_title
from ui.drawing.raster import scene_pixels
from ui.drawing.room import Room
from ui.drawing.scene import LEADERS, Box, Item, Scene
from ui.drawing.vector import scene_svg
from ui.drawing.wood import draw_offcuts, draw_waste, draw_wood, label_offcuts
from ui.lengths import Units
from vision.marks import Mark

__all__ = ["board_picture", "board_scene", "board_svg", "picture_scale"]

_LEAST_WIDTH_PX = 3200  # 200 dpi across an A3 sheet
_UPRIGHT_PX = 1200  # three pixels to each of a phone's 390 or so


def board_scene(
    view: BoardView,
    picture: NDArray[np.uint8] | None = None,
    marks: Sequence[Mark] = (),
    *,
    margins: bool = True,
) -> Scene:
    """One face of a board with everything drawn on it.

    Parameters
    ----------
    view : BoardView
    picture : array of uint8 [height, width, 3] or None
        True-scale picture of this face as it is seen, covering exactly the
        board's length and width; None draws a plain ground.
    marks : sequence of Mark
        Those not yet confirmed are shown as such; dismissed ones are not.
    margins : bool
        Whether title, legend and scale bar are drawn round it.
    """
    room = Room(worth_seeing=_worth_seeing(view))
    items: list[Item] = [
        *draw_wood(view, picture),
        *draw_waste(view),
        *draw_offcuts(view),
        *draw_pieces(view),
    ]
    items += [*draw_cuts(view), *draw_faults(view, marks), *draw_repairs(view)]
    labels = draw_chains(view, room)
    labels += label_pieces(view, room, small=True)
    labels += label_inner_cuts(view, room)
    labels += label_repairs(view, room)
    labels += label_pieces(view, room, small=False)
    numbers, notes = number_faults(view, marks, room)
    labels += [*numbers, *label_offcuts(view, room), *draw_datums(view, room)]
    labels.sort(key=lambda item: item.layer != LEADERS)  # stable: leaders below, the rest in its order
    items += [*datum_lines(view), *labels]
    return _framed(view, items, notes, room, margins)


def _worth_seeing(view: BoardView) -> list[Box]:
    small = [each.defect for each in view.fates if each.defect.shows_on(view.face)]
    boxes = [view.seen_box(bounds_of(defect.outline)) for defect in small]
    most = 0.05 * view.board.length * view.board.width  # a wide streak of sapwood may be written on
    marks = [bounds_of(edge_mark(view, piece)) for piece in view.pieces]
    return marks + [box for box in boxes if (box[2] - box[0]) * (box[3] - box[1]) < most]


def _framed(view: BoardView, items: list[Item], notes: list[Note], room: Room, margins: bool) -> Scene:
    unit = view.unit
    boxes = [*room.taken, (0.0, 0.0, view.wide, view.high)]
    x0, y0 = min(box[0] for box in boxes) - 0.8 * unit, min(box[1] for box in boxes) - 0.5 * unit
    x1, y1 = max(box[2] for box in boxes) + 0.8 * unit, max(box[3] for box in boxes) + 0.5 * unit
    if margins:
        title, top = draw_title(view, (x0, y0, x1, y1))
        legend, foot = draw_legend(view, notes, (x0, y0, x1, y1))
        items, y0, y1 = [*items, *title, *legend], top, foot
    return Scene((x0, y0, x1, y1), items)


def board_picture(
    board: Board,
    parts: Sequence[Part],
    shop: Shop,
    layout: Layout,
    face: Face,
    picture: NDArray[np.uint8] | None = None,
    px_per_mm: float = 1.0,
    marks: Sequence[Mark] = (),
    *,
    units: Units = "mm",
    along: int = 120,
    upright: bool = False,
) -> NDArray[np.uint8]:
    """The marked-up picture of one face, RGB uint8 [height, width, 3].

    Parameters
    ----------
    board, parts, shop, layout
        What lies where; `parts` in the order of the cutting list, which gives their chalk marks.
    face : Face
        The face looked at.
    picture : array of uint8 [height, width, 3] or None
        True-scale picture of that face as it is seen; None draws a plain ground.
    px_per_mm : float
        Scale of `picture`; drawn at this scale, or finer where the words need it.
    marks : sequence of Mark
        Marks of this board, to show those not yet confirmed.
    units : "mm" or "inch"
    along : int
        Text heights to the length of the picture; 70 makes the type large enough
        for a phone held sideways.
    upright : bool
        For a phone held upright: the board stands with its datum end on top, all
        words level or along it. At 390 px of screen a usual board's type is 12 px
        or more; the picture is some 1200 px wide, to stay sharp, and scrolls.
    """
    view = BoardView(board, tuple(parts), shop, layout, face, units, along, upright)
    scene = board_scene(view, picture, marks)
    if upright:
        return scene_pixels(scene, _UPRIGHT_PX / (scene.extent[2] - scene.extent[0]))
    return scene_pixels(scene, picture_scale(scene, px_per_mm if picture is not None else 0.0))


def picture_scale(scene: Scene, px_per_mm: float) -> float:
    """The scale to draw a scene at: the picture's own, or finer where the words need it [px/mm]."""
    return max(px_per_mm, _LEAST_WIDTH_PX / (scene.extent[2] - scene.extent[0]))


def board_svg(
    board: Board,
    parts: Sequence[Part],
    shop: Shop,
    layout: Layout,
    face: Face,
    picture: NDArray[np.uint8] | None = None,
    marks: Sequence[Mark] = (),
    *,
    units: Units = "mm",
    along: int = 120,
    upright: bool = False,
) -> str:
    """The same picture as SVG at true scale: 1 mm of wood is 1 mm of drawing."""
    view = BoardView(board, tuple(parts), shop, layout, face, units, along, upright)
    return scene_svg(board_scene(view, picture, marks), f"board {board.id}, {face.value} face")
