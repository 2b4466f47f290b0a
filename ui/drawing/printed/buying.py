"""The buying list for the yard: which boards, what they cost and weigh, and how much wood the list needs."""

from collections import defaultdict

from reportlab.platypus import Flowable

from layout.cost import money_for
from layout.outline import area_of
from layout.parts import Part
from layout.stock import Board, Face
from layout.volume import board_feet, cubic_metres
from ui.drawing.cautions import board_weight
from ui.drawing.job_values import SheetJob
from ui.drawing.measures import STEPS, Tape
from ui.drawing.printed.ink import MM
from ui.drawing.printed.page import HEAD, MARGIN, page_size, plain_table, text
from ui.drawing.reckoning import price_words

__all__ = ["board_rows", "buying_story", "need_rows"]


def buying_story(job: SheetJob) -> list[Flowable]:
    """Boards to take, boards to leave, and the wood the parts need by thickness."""
    wide = (page_size(job.paper, True)[0] - 2 * MARGIN) / MM
    take = [board for board in job.used if not board.owned]
    owned = [board for board in job.used if board.owned]
    leave = [board.id for board in job.boards if board.id not in job.layout.boards_used and not board.owned]
    cost = money_for(take)
    total = f"Boards to buy: {len(take)}" + (f", for {job.money(cost)}." if cost else ".")
    head = [
        "board",
        "species",
        f"length x width x thickness, {'in' if job.units == 'inch' else 'mm'}",
        "m3",
        "board feet",
        "about kg",
        "moisture",
        "price",
        "",
    ]
    widths = [18, 28, 54, 20, 24, 22, 22, 48, 12]
    scale = wide / sum(widths)
    story: list[Flowable] = [text("Buying list", HEAD), text(total)]
    if take:
        story.append(plain_table(head, board_rows(job, take), [each * scale for each in widths]))
    if owned:
        story += [text("Already in the shop: boards " + ", ".join(board.id for board in owned))]
    if leave:
        story += [text("Not needed: boards " + ", ".join(leave))]
    need = ["finished thickness", "parts", "parts' own wood, m3", "longest part", "widest part"]
    story += [text("What the parts need", HEAD), plain_table(need, need_rows(job), [40, 20, 45, 35, 35])]
    return story


def board_rows(job: SheetJob, boards: list[Board]) -> list[list[str]]:
    """A row for each board to buy, with a box to tick."""
    rows = []
    for board in boards:
        tape = job.view(board, Face.FRONT).tape
        size = " x ".join(tape.words(tape.nearest(v)) for v in (board.length, board.widest, board.thickness))
        sizes = (board.length, board.widest, board.thickness)
        weight = board_weight(board)
        rows.append(
            [
                *(board.id, board.species, size, f"{cubic_metres(*sizes):.4f}", f"{board_feet(*sizes):.2f}"),
                "" if weight is None else f"{weight:.0f}",
                "" if board.moisture is None else f"{board.moisture:g} %",
                price_words(board, job.currency),
                "[   ]",
            ]
        )
    return rows


def need_rows(job: SheetJob) -> list[list[str]]:
    """The cutting list's own wood by thickness, with the longest and the widest part of each."""
    groups: dict[float, list[Part]] = defaultdict(list)
    for part in job.parts:
        groups[part.thickness].append(part)
    tape = Tape(job.units, STEPS[job.units][0])
    rows = []
    for thick in sorted(groups):
        parts = groups[thick]
        volume = sum(area_of(part.shape) * thick * part.quantity for part in parts) / 1e9
        sizes = (thick, max(part.length for part in parts), max(part.width for part in parts))
        shown = [tape.words(tape.at_least(each), unit=True) for each in sizes]
        rows.append([shown[0], str(sum(part.quantity for part in parts)), f"{volume:.4f}", *shown[1:]])
    return rows
