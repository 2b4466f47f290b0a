"""Parts and cuts as CSV text, one row each, every number the one that stands on the sheets."""

import csv
from collections.abc import Iterable, Sequence
from io import StringIO

from layout.allowances import Shop
from layout.parts import Part
from layout.placement import CutKind, Layout
from layout.stock import Board, Face
from ui.drawing.board_view import BoardView
from ui.drawing.draw_pieces import lies_words, side_words
from ui.drawing.measures import Tape
from ui.drawing.pieces import Piece, copy_marks, listed
from ui.lengths import Units

__all__ = ["CUT_COLUMNS", "PART_COLUMNS", "cuts_csv", "parts_csv"]

PART_COLUMNS = (
    "mark",
    "part",
    "copy",
    "board",
    "from datum end",
    "to",
    "from datum edge",
    "to edge",
    "sawn length",
    "sawn width",
    "finished length",
    "finished width",
    "finished thickness",
    "board face that becomes the face side",
    "end for end",
    "tilt in degrees",
    "planed off front in mm",
    "how it lies",
    "front face of board shows",
    "reason not placed",
)
CUT_COLUMNS = ("board", "order", "stage", "cut", "reading", "from", "measured piece", "kerf in mm")


def parts_csv(
    boards: Sequence[Board], parts: Sequence[Part], shop: Shop, layout: Layout, units: Units = "mm"
) -> str:
    """Every copy of every part: where it comes from and how it lies, or why it found no place."""
    rows: list[Sequence[object]] = []
    for board in boards:
        view = BoardView(board, tuple(parts), shop, layout, Face.FRONT, units)
        rows += [_part_row(piece, view) for piece in view.pieces]
    mark, blank, by_name = copy_marks(parts, layout), [""] * 6, listed(parts, shop, layout)
    tape = Tape(units, 1.0 if units == "mm" else 25.4 / 16)
    for missing in layout.unplaced:
        part = by_name[missing.part]
        rows.append(
            (
                *(mark(part.name, missing.copy), part.name, missing.copy, "", *blank),
                *_finished(part, tape),
                *("", "", "", "", "", "", missing.reason),
            )
        )
    return _text(PART_COLUMNS, rows)


def _part_row(piece: Piece, view: BoardView) -> tuple[object, ...]:
    x0, y0, x1, y1 = piece.box
    tape, placement = view.tape, piece.placement
    return (
        piece.mark,
        piece.part.name,
        placement.copy,
        view.board.id,
        *(tape.words(tape.nearest(value)) for value in (x0, x1, y0, y1)),
        *(tape.words(value) for value in view.sawn_size(piece)),
        *_finished(piece.part, tape),
        placement.face_from.value,
        "yes" if placement.end_for_end else "no",
        f"{placement.tilt:g}",
        f"{placement.from_front:g}",
        lies_words(piece),
        side_words(piece, Face.FRONT),
        "",
    )


def _finished(part: Part, tape: Tape) -> tuple[str, str, str]:
    long, wide, thick = (tape.words(tape.at_least(v)) for v in (part.length, part.width, part.thickness))
    return long, wide, thick


def cuts_csv(
    boards: Sequence[Board], parts: Sequence[Part], shop: Shop, layout: Layout, units: Units = "mm"
) -> str:
    """Every cut in the order it is made, with the reading of the line to saw to."""
    rows = []
    for board in boards:
        view = BoardView(board, tuple(parts), shop, layout, Face.FRONT, units)
        for cut in view.cuts:
            across = cut.kind is CutKind.CROSSCUT
            kept = ("before" if cut.kept_before else "after") + " the line"
            rows.append(
                (
                    *(board.id, cut.order, cut.stage, cut.kind.value, view.tape.words(view.reading(cut))),
                    *("datum end" if across else "datum edge", kept, f"{shop.allowances.kerf:g}"),
                )
            )
    return _text(CUT_COLUMNS, rows)


def _text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # as RFC 4180 has it
    writer.writerow(columns)
    writer.writerows([_plain(cell) for cell in row] for row in rows)
    return out.getvalue()


def _plain(cell: object) -> object:
    """A cell that no spreadsheet takes for a formula."""
    if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return "'" + cell
    return cell
