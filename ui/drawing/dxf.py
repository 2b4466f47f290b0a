"""One face of a board as DXF at true scale in millimetres, layers named in the trade's words.

y grows upwards in DXF: the datum end is x = 0, the datum edge y = 0, and the
board reaches to y = -width on its front face, so that the drawing looks like
the board. The back is drawn as it is seen.
"""

from collections.abc import Iterable
from io import StringIO

from ezdxf import units
from ezdxf._options import options
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from layout.outline import Point
from layout.parts import Visibility
from layout.placement import CutKind
from ui.drawing.board_view import BoardView

__all__ = ["LAYERS", "board_dxf"]

# Layer to AutoCAD colour index; chosen to tell apart on dark and light ground.
LAYERS = {
    "BOARD": 7,
    "PARTS SHOW": 5,
    "PARTS SEEN IN USE": 4,
    "PARTS CONCEALED": 8,
    "FINISHED SHAPES": 6,
    "CUT LINES": 1,
    "KERF": 9,
    "OFFCUTS": 3,
    "DEFECTS": 30,
    "MARKS": 7,
}
# Dates, the machine and random numbers are left out of the file: the same board gives the same bytes.
options.write_fixed_meta_data_for_testing = True

_WORDS = 0.8  # of the text size of the pictures
_PARTS = {
    Visibility.SHOW: "PARTS SHOW",
    Visibility.SEEN_IN_USE: "PARTS SEEN IN USE",
    Visibility.CONCEALED: "PARTS CONCEALED",
}


def board_dxf(view: BoardView) -> str:
    """The face as DXF text; the same board always gives the same text."""
    made = new("R2010", units=units.MM)
    for name, colour in LAYERS.items():
        made.layers.add(name, color=colour)
    space = made.modelspace()
    _ring(space, view, view.board.outline(view.face), "BOARD")
    for piece in view.pieces:
        _ring(space, view, piece.sawn, _PARTS[piece.seen(view.face)])
        _ring(space, view, piece.finished, "FINISHED SHAPES")
        x0, y0, x1, y1 = view.seen_box(piece.box)
        _text(space, piece.mark, ((x0 + x1) / 2, (y0 + y1) / 2), 2 * view.unit)
    _cuts(space, view)
    for offcut in view.offcuts:
        box = ((offcut.x0, offcut.y0), (offcut.x1, offcut.y0), (offcut.x1, offcut.y1), (offcut.x0, offcut.y1))
        _ring(space, view, box, "OFFCUTS")
    for found in view.fates:
        if found.defect.shows_on(view.face):
            _ring(space, view, found.defect.outline, "DEFECTS")
    out = StringIO()
    made.write(out)
    return out.getvalue()


def _cuts(space: Modelspace, view: BoardView) -> None:
    for cut in view.cuts:
        x0, y0, x1, y1 = view.slot(cut)
        _ring(space, view, ((x0, y0), (x1, y0), (x1, y1), (x0, y1)), "KERF")
        at = view.line(cut)
        line = ((at, y0), (at, y1)) if cut.kind is CutKind.CROSSCUT else ((x0, at), (x1, at))
        start, end = (_up(view.seen(point)) for point in line)
        space.add_line(start, end, dxfattribs={"layer": "CUT LINES"})


def _ring(space: Modelspace, view: BoardView, points: Iterable[Point], layer: str) -> None:
    corners = [_up(view.seen(point)) for point in points]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})


def _text(space: Modelspace, words: str, at: Point, size: float) -> None:
    text = space.add_text(words, height=_WORDS * size, dxfattribs={"layer": "MARKS"})
    text.set_placement(_up(at), align=TextEntityAlignment.MIDDLE_CENTER)


def _up(point: Point) -> Point:
    return point[0], -point[1]
