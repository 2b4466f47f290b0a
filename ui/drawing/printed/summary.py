"""The first sheet: what was placed where, what it costs, how much is waste, how good it is proved to be."""

from reportlab.platypus import Flowable, PageBreak, Spacer

from layout.stock import Face
from ui.drawing.cautions import ALWAYS
from ui.drawing.job_values import SheetJob
from ui.drawing.measures import Tape
from ui.drawing.pieces import Piece, copy_marks
from ui.drawing.printed.ink import MM
from ui.drawing.printed.page import HEAD, MARGIN, TITLE, SideBySide, page_size, plain_table, text
from ui.drawing.reckoning import price_words, proof_words, wood_of
from ui.wording import counted

__all__ = ["cutting_rows", "summary_story"]


def summary_story(job: SheetJob) -> list[Flowable]:
    """Title, figures, boards, cutting list, what was not placed, cautions."""
    wide = (page_size(job.paper, True)[0] - 2 * MARGIN) / MM
    story: list[Flowable] = [text(job.title or "Cutting layout", TITLE), *_figures(job), Spacer(1, 2 * MM)]
    story += [text("Boards", HEAD), _boards(job, wide)]
    if job.layout.unplaced:
        story += [text("Not placed", HEAD), _unplaced(job, wide)]
    story += [text("Cutting list", HEAD), *_cutting_list(job, wide), Spacer(1, 2 * MM)]
    story += [text(words) for words in ALWAYS]
    return [*story, PageBreak()]


def _figures(job: SheetJob) -> list[Flowable]:
    layout, wood = job.layout, wood_of(job.used, job.parts, job.shop, job.layout)
    lines = [
        f"{_placed_words(job)} {_cost_words(job)} {proof_words(layout.bound, job.currency)}",
        f"Bought {wood.bought:.4f} m3, parts {wood.parts:.4f} m3, offcuts worth keeping {wood.kept:.4f} m3: "
        f"{wood.waste_words()}.",
        f"Sawn {layout.sawing.value}; kerf {Tape(job.units).fine(job.shop.allowances.kerf)}.",
    ]
    return [text(line) for line in lines]


def _placed_words(job: SheetJob) -> str:
    asked, used, on_offer = sum(part.quantity for part in job.parts), len(job.used), len(job.boards)
    placed = asked - len(job.layout.unplaced)
    parts = counted(asked, "part") if placed == asked else f"{placed} of {counted(asked, 'part')}"
    return f"{parts} from {counted(used, 'board') if used == on_offer else f'{used} of {on_offer} boards'}."


def _cost_words(job: SheetJob) -> str:
    unpriced = [board.id for board in job.used if not board.owned and board.price.amount == 0]
    if job.layout.cost == 0 and unpriced:
        return "No price is given for these boards."
    left_out = f", without a price for board {', '.join(unpriced)}" if unpriced else ""
    return f"Cost {job.money(job.layout.cost)}{left_out}."


def _unit(job: SheetJob) -> str:
    return "in" if job.units == "inch" else "mm"


def _boards(job: SheetJob, wide: float) -> Flowable:
    head = [
        "board",
        "species",
        f"size, {_unit(job)}",
        "price",
        "parts",
        "not in the parts",
        "added",
        "chalk on",
    ]
    rows = []
    for board in job.used:
        view, wood = job.view(board, Face.FRONT), wood_of([board], job.parts, job.shop, job.layout)
        tape = view.tape
        size = " x ".join(tape.words(tape.nearest(v)) for v in (board.length, board.widest, board.thickness))
        marks = ", ".join(piece.mark for piece in view.pieces)
        lost, added = f"{100 * wood.lost_share:.0f} %", f"{100 * wood.added_share:.0f} %"
        price = price_words(board, job.currency)
        rows.append([board.id, board.species, size, price, marks, lost, added, job.marking_face(board).value])
    widths = [16, 22, 36, 48, 88, 28, 16, 20]
    return plain_table(head, rows, [each * wide / sum(widths) for each in widths])


def _unplaced(job: SheetJob, wide: float) -> Flowable:
    mark = copy_marks(job.parts, job.layout)
    rows = [[mark(item.part, item.copy), item.part, item.reason] for item in job.layout.unplaced]
    return plain_table(["mark", "part", "why, and what would do"], rows, [16, 45, wide - 61])


def cutting_rows(job: SheetJob) -> list[list[str]]:
    """Every copy placed: mark, part, finished size, board, where on it, how it lies."""
    found: list[tuple[Piece, Tape]] = []
    for board in job.used:
        view = job.view(board, Face.FRONT)
        found += [(piece, view.tape) for piece in view.pieces]
    order = {part.name: rank for rank, part in enumerate(job.parts)}
    found.sort(key=lambda pair: (order.get(pair[0].part.name, len(order)), pair[0].mark[:1], pair[0].copy))
    rows = []
    for piece, tape in found:
        part, placement = piece.part, piece.placement
        size = " x ".join(
            tape.words(tape.at_least(each)) for each in (part.length, part.width, part.thickness)
        )
        lies = placement.face_from.value + (", turned" if placement.end_for_end else "")
        at = tape.words(tape.nearest(piece.box[0]))
        rows.append([piece.mark, part.name, size, placement.board, at, lies])
    return rows


def _cutting_list(job: SheetJob, wide: float) -> list[Flowable]:
    rows = cutting_rows(job)
    head = ["mark", "part", f"finished, {_unit(job)}", "board", "from end", "face side on"]
    widths = [13, 36, 32, 14, 18, 24]
    scale = (wide - 5) / 2 / sum(widths)
    half = -(-len(rows) // 2)
    left, right = (
        plain_table(head, part, [w * scale for w in widths]) for part in (rows[:half], rows[half:])
    )
    return [SideBySide(left, right, sum(widths) * scale * MM, 5 * MM)]
