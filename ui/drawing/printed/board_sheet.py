"""The sheet of one board: picture with its chains, parts, cut order, turning over, faults and cautions."""

from collections.abc import Sequence
from itertools import pairwise

from reportlab.platypus import Flowable, KeepTogether, PageBreak, Spacer

from layout.placement import CutKind
from layout.stock import Board, Turn
from ui.drawing.board_picture import board_scene
from ui.drawing.board_view import BoardView
from ui.drawing.cautions import board_cautions
from ui.drawing.draw_repairs import numbered_repairs
from ui.drawing.job_values import SheetJob
from ui.drawing.margins import straight_datum
from ui.drawing.measures import Tape
from ui.drawing.printed.ink import MM, SceneFlowable
from ui.drawing.printed.page import (
    HEAD,
    MARGIN,
    FirstThatFits,
    SideBySide,
    beside,
    page_size,
    plain_table,
    text,
)
from ui.drawing.repair_sketch import repair_sketch
from ui.drawing.repair_steps import repair_steps
from ui.drawing.saw_order import SawStep, saw_steps
from ui.drawing.scene import Scene
from ui.lengths import Units

__all__ = ["between", "board_story", "cut_rows", "part_rows", "tilted_lines", "turn_words"]

# Of the columns of the tables of parts and of cuts, as shares.
_WIDTHS: dict[Units, tuple[list[float], list[float]]] = {
    "mm": ([9, 22, 26, 18, 21, 18, 11, 10, 14], [7, 15, 24, 21, 18, 18, 15]),
    "inch": ([8, 18, 32, 23, 22, 18, 10, 9, 16], [7, 16, 30, 25, 22, 20, 12]),
}
_ALONG = 100  # text heights to the picture's length: 2.5 mm type on A4


def board_story(job: SheetJob, board: Board) -> list[Flowable]:
    """Everything about one board, beginning with the face to chalk the layout on."""
    face = job.marking_face(board)
    view = job.view(board, face, _ALONG)
    wide, high = page_size(job.paper, True)
    story: list[Flowable] = [SceneFlowable(_scene(job, view), 0.55 * high), Spacer(1, 1 * MM)]
    story += [text(_lay_words(view)), *(text(f"Caution: {words}") for words in board_cautions(view))]
    story += [Spacer(1, 1.5 * MM), *_tables(view, (wide - 2 * MARGIN) / MM)]
    other = job.view(board, face.other, _ALONG)
    back = [text(turn_words(view), HEAD), SceneFlowable(_scene(job, other), 0.5 * high)]
    story += [KeepTogether(back), *_repairs(job, view), PageBreak()]
    return story


def _repairs(job: SheetJob, view: BoardView) -> list[Flowable]:
    """Every repair of this board's pieces step by step, and what its wood is wanted for elsewhere."""
    story: list[Flowable] = []
    for item in numbered_repairs(view):
        repair = item.repair
        head = f"{item.name} {repair.kind.value}"
        if item.piece is None:
            text_of = f"{head}: its wood is sawn out of this board for {repair.part} {repair.copy}."
            story.append(text(text_of))
            continue
        cost = f", {job.money(repair.cost)}" if repair.cost else ""
        title = text(f"{head}, {item.piece.mark} {item.piece.part.name}{cost}", HEAD)
        steps = repair_steps(repair, item.piece.part, item.piece.mark, view.tape)
        lines: list[Flowable] = [text(f"{number}. {step}") for number, step in enumerate(steps, start=1)]
        lines += [text(f"Caution: {words}") for words in repair.cautions]
        if repair.alternative:
            lines.append(text(f"Without it: {repair.alternative}"))
        sketch = repair_sketch(repair, item.piece.part, view.tape)
        if sketch is not None:
            lines = [beside(SceneFlowable(sketch, 34 * MM), lines, 72 * MM)]
        story.append(KeepTogether([title, *lines]))
    return story


def _scene(job: SheetJob, view: BoardView) -> Scene:
    found = job.pictures.get((view.board.id, view.face))
    return board_scene(view, found.rgb if found else None, job.marks.get(view.board.id, ()))


def _lay_words(view: BoardView) -> str:
    end = "left" if view.datum_end_left else "right"
    edge = "far from you" if view.datum_edge_top else "towards you"
    if not straight_datum(view):
        edge += " (the edge is not straight: snap a chalk line along it and measure from that)"
    step = view.tape.words(view.tape.step, unit=True)
    rest = (
        "; sizes opposite are part to part. Saw on the named side of each line, so that the kerf falls there"
    )
    rest = rest if view.cuts else ""
    return (
        f"Lay the board {view.face.value} face up, datum end to your {end}, datum edge {edge}. "
        f"Bold readings run from the datum, to {step}{rest}."
    )


def turn_words(view: BoardView) -> str:
    """How to turn the board over to see its other face as drawn."""
    other = view.face.other.value
    if view.board.turned is Turn.ROLLED:
        return f"Roll the board over its long edge: the {other} face, datum end stays where it is"
    return f"Tumble the board end over end: the {other} face, datum end changes sides"


def tilted_lines(view: BoardView) -> list[str]:
    """How to mark out each piece that lies askew: its edge towards the datum edge, by two points."""
    tape, found = view.tape, []
    for piece in view.pieces:
        if not piece.placement.tilt:
            continue
        ring = [*piece.sawn, piece.sawn[0]]
        edges = [(a, b) for a, b in pairwise(ring) if abs(b[0] - a[0]) > abs(b[1] - a[1])]
        nearest = min(edges, key=lambda edge: edge[0][1] + edge[1][1])
        begin, end = min(nearest), max(nearest)
        x0, y0, x1, y1 = (tape.words(tape.nearest(each)) for each in (*begin, *end))
        found.append(
            f"{piece.mark} lies askew: draw its edge from {x0} from the end, {y0} from the edge "
            f"to {x1} from the end, {y1} from the edge; square its ends off that line."
        )
    return found


def part_rows(view: BoardView) -> list[list[str]]:
    """Mark, part, finished and sawn size, place, how it lies, planing: one row a piece."""
    tape, rows = view.tape, []
    for piece in view.pieces:
        part, placement = piece.part, piece.placement
        finished = (tape.words(tape.at_least(each)) for each in (part.length, part.width, part.thickness))
        x0, x1 = _from_to(tape, piece.box[0], piece.box[2], part.length)
        y0, y1 = _from_to(tape, piece.box[1], piece.box[3], part.width)
        laid = "yes" if placement.end_for_end else "no"
        if placement.tilt:
            laid += f", tilted {placement.tilt:g}°"
        back = view.board.thickness - part.thickness - placement.from_front
        sawn = " x ".join(tape.words(each) for each in view.sawn_size(piece))
        row = [piece.mark, part.name, " x ".join(finished), sawn, f"{x0} to {x1}", f"{y0} to {y1}"]
        rows.append([*row, placement.face_from.value, laid, _planed(tape, placement.from_front, back)])
    return rows


def _from_to(tape: Tape, low: float, high: float, least: float) -> tuple[str, str]:
    """Two readings with no less than the finished size between them."""
    begin = tape.nearest(low)
    return tape.words(begin), tape.words(max(tape.nearest(high), tape.at_least(begin + least)))


def _planed(tape: Tape, front: float, back: float) -> str:
    return " / ".join(tape.fine(each).removesuffix(" mm").removesuffix(" in") for each in (front, back))


def cut_rows(view: BoardView, steps: Sequence[SawStep]) -> list[list[str]]:
    """Number, kind, reading, setting, kerf side and what comes free: one row a cut."""
    rows = []
    for step in steps:
        datum = "end" if step.cut.kind is CutKind.CROSSCUT else "edge"
        if step.setting is None:
            setting = "to the line"
        else:
            stop = "stop" if step.cut.kind is CutKind.CROSSCUT else "fence"
            setting = f"{stop} {view.tape.words(step.setting)}" + (" raw" if step.from_raw else "")
        rows.append(
            [
                *(str(step.cut.order), step.cut.kind.value),
                f"{view.tape.words(step.reading)} from {datum}",
                between(view, step),
                setting,
                step.kerf_side,
                ", ".join(step.frees),
            ]
        )
    return rows


def between(view: BoardView, step: SawStep) -> str:
    """Which lump a later cut goes through: its extent along the cut, as read on the uncut board."""
    if step.cut.stage == 1:
        return "whole board"
    start, end = (view.tape.words(view.tape.nearest(each)) for each in (step.cut.start, step.cut.end))
    return f"{start} to {end}"


def _tables(view: BoardView, wide_mm: float) -> list[Flowable]:
    unit = "in" if view.units == "inch" else "mm"
    head = ["", "part", f"finished {unit}", f"sawn {unit}", "from end", "from edge"]
    head += ["face side", "end for end", "plane front / back"]
    steps, parts = cut_rows(view, saw_steps(view)), part_rows(view)
    part_widths, cut_widths = _WIDTHS[view.units]
    if not steps:
        scale = wide_mm / sum(part_widths)
        note = "Straight cuts cannot part these pieces: saw along the lines, the kerf outside each piece."
        lines = [text(words) for words in (note, *tilted_lines(view))]
        return [plain_table(head, parts, [each * scale for each in part_widths]), Spacer(1, 1 * MM), *lines]
    scale = (wide_mm - 4) / (sum(part_widths) + sum(cut_widths))
    cut_head = ["", "cut", "line at", "between", "setting", "kerf side", "frees"]
    ways = []
    for tight in (False, True):
        left = plain_table(head, parts, [each * scale for each in part_widths], tight=tight)
        right = plain_table(cut_head, steps, [each * scale for each in cut_widths], tight=tight)
        ways.append(SideBySide(left, right, sum(part_widths) * scale * MM, 4 * MM))
    return [FirstThatFits(ways), *(text(words) for words in tilted_lines(view))]
