"""A label for each part, to be cut apart and stuck on: mark, name, size, where it comes from, how it lies."""

from typing import Any

from layout.parts import PartSide
from layout.stock import Face
from ui.drawing.board_view import BoardView
from ui.drawing.fonts import printable, width_of
from ui.drawing.job_values import SheetJob
from ui.drawing.palette import INK, LIGHT, SIDE_COLOURS
from ui.drawing.pieces import Piece
from ui.drawing.printed.ink import BOLD, MM, PLAIN
from ui.drawing.printed.page import MARGIN, check_rule, new_canvas, page_size

__all__ = ["labels_pdf"]

_COLUMNS, _ROWS = 3, 8
_FOOT = 9 * MM


def labels_pdf(job: SheetJob) -> bytes:
    """Sheets of 24 labels with lines to cut along."""
    canvas, out = new_canvas(job.paper, False, f"{job.title}: labels")
    pieces = [
        (piece, view) for view in (job.view(board, Face.FRONT) for board in job.used) for piece in view.pieces
    ]
    page_wide, page_high = page_size(job.paper, False)
    wide, high = (page_wide - 2 * MARGIN) / _COLUMNS, (page_high - 2 * MARGIN - _FOOT) / _ROWS
    for rank, (piece, view) in enumerate(pieces):
        place = rank % (_COLUMNS * _ROWS)
        if rank and not place:
            canvas.showPage()
        if not place:
            check_rule(canvas, MARGIN, 5.5 * MM)
        row, column = divmod(place, _COLUMNS)
        left, top = MARGIN + column * wide, page_high - MARGIN - row * high
        _label(canvas, piece, view, (left, top - high, wide, high))
    canvas.save()
    return out.getvalue()


def _label(canvas: Any, piece: Piece, view: BoardView, box: tuple[float, float, float, float]) -> None:
    left, foot, wide, high = box
    canvas.setStrokeColor(LIGHT)
    canvas.setLineWidth(0.4)
    canvas.setDash([2, 2])
    canvas.rect(left, foot, wide, high)
    inset = 3 * MM
    size = min(30.0, 0.4 * wide / max(width_of(piece.mark, 1.0, True), 1e-9))
    canvas.setFillColor(SIDE_COLOURS[piece.part.visibility(PartSide.FACE)])
    canvas.setFont(BOLD, size)
    canvas.drawString(left + inset, foot + high - inset - 0.73 * size, piece.mark)
    canvas.setFillColor(INK)
    canvas.setFont(PLAIN, 7.5)
    canvas.drawRightString(left + wide - inset, foot + high - inset - 6, f"board {printable(view.board.id)}")
    lines = _lines(piece, view)
    for rank, (words, bold) in enumerate(lines):
        fitted = min(8.0, 8.0 * (wide - 2 * inset) / max(width_of(words, 8.0, bold), 1e-9))
        canvas.setFont(BOLD if bold else PLAIN, fitted)
        canvas.drawString(left + inset, foot + inset + (len(lines) - 1 - rank) * 10.2, words)


def _lines(piece: Piece, view: BoardView) -> list[tuple[str, bool]]:
    tape, part = view.tape, piece.part
    unit = "in" if view.units == "inch" else "mm"
    sizes = (tape.words(tape.at_least(each)) for each in (part.length, part.width, part.thickness))
    face, back = part.visibility(PartSide.FACE).value, part.visibility(PartSide.BACK).value
    turned = ", end for end" if piece.placement.end_for_end else ""
    at = tape.words(tape.nearest(piece.box[0]))
    return [
        (printable(part.name), True),
        (f"{' x '.join(sizes)} {unit} finished", False),
        (f"face side up: {face}; back: {back}", False),
        (f"board's {piece.placement.face_from.value} up, {at} from datum end{turned}", False),
    ]
