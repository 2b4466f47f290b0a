"""What a maker types about a board, made a change of its record. Pure; ValueError says what is wrong."""

from collections.abc import Callable, Iterable

from layout.stock import Face, Price, PriceBasis, Turn
from ui.back_edge import back_edge_from
from ui.board_frame import lies_over, turned_otherwise
from ui.jobfile import BoardRecord, Job
from ui.lengths import length_in_mm
from ui.surface_ops import replaced_board
from ui.surveying import widths_from
from vision.reference import MARKER_SHEET

__all__ = [
    "NOT_LOOKED_AT",
    "back_edge_typed",
    "back_widths_typed",
    "basis_typed",
    "board_change",
    "heart_typed",
    "length_typed",
    "moisture_typed",
    "price_typed",
    "sheet_line_typed",
    "species_typed",
    "thickness_typed",
    "turn_kept",
    "turned_typed",
    "waney_switched",
    "widths_typed",
    "without_board",
]

NOT_LOOKED_AT = "not looked at"

Change = Callable[[BoardRecord, str, Job], BoardRecord]


def board_change(id: str, change: Change) -> Callable[[Job, str], Job]:
    """The change of a job that a change of one board makes."""
    return lambda job, text: replaced_board(job, change(job.board(id), text, job))


def length_typed(record: BoardRecord, text: str, job: Job) -> BoardRecord:
    """The taped length; pictures made with the old one are no longer true."""
    value = _above(length_in_mm(text, job.units))
    return _unscaled(record.model_copy(update={"length": value}))


def widths_typed(record: BoardRecord, text: str, job: Job) -> BoardRecord:
    """The taped widths; pictures made with the old ones are no longer true."""
    return _read_anew(record, widths=widths_from(text, record.length, job.units))


def back_widths_typed(record: BoardRecord, text: str, job: Job) -> BoardRecord:
    """A waney board's widths on its back; empty for not read."""
    return _read_anew(record, back_widths=widths_from(text, record.length, job.units) if text.strip() else ())


def back_edge_typed(record: BoardRecord, text: str, job: Job) -> BoardRecord:
    """How far the back lies out beyond the front at the datum edge; the face laid by it is laid anew."""
    read = record.model_copy(update={"back_edge": back_edge_from(text, record.length, job.units)})
    laid = [face for face in Face if lies_over(record, face)]
    return _unscaled(read, laid)


def _read_anew(record: BoardRecord, **widths: tuple[tuple[float, float], ...]) -> BoardRecord:
    drawn = any(known is not None and known.outline_mm is not None for known in (record.front, record.back))
    # What is drawn on it stays in the frame it was drawn in, until it is surveyed again.
    frame = record.framed if record.waney and drawn else None
    return _unscaled(record.model_copy(update={**widths, "frame_width": frame}))


def thickness_typed(record: BoardRecord, text: str, job: Job) -> BoardRecord:
    """The thickness as the board lies."""
    return record.model_copy(update={"thickness": _above(length_in_mm(text, job.units))})


def species_typed(record: BoardRecord, text: str, _: Job) -> BoardRecord:
    """The species."""
    return record.model_copy(update={"species": text.strip() or "oak"})


def price_typed(record: BoardRecord, text: str, _: Job) -> BoardRecord:
    """The price."""
    try:
        amount = float(text.replace(",", "."))
    except ValueError:
        raise ValueError(f"{text!r} is not a number; give what it costs") from None
    return record.model_copy(update={"price": Price(amount, record.price.basis)})


def moisture_typed(record: BoardRecord, text: str, _: Job) -> BoardRecord:
    """The moisture content; empty for not measured."""
    if not text.strip():
        return record.model_copy(update={"moisture": None})
    try:
        value = float(text.replace(",", ".").removesuffix("%"))
    except ValueError:
        raise ValueError(f"{text!r} is not a number; give per cent") from None
    if not 0 < value < 200:
        raise ValueError(f"{text!r} can't be; give more than 0 and less than 200")
    return record.model_copy(update={"moisture": value})


def sheet_line_typed(record: BoardRecord, text: str, job: Job) -> BoardRecord:
    """What the line on the printed marker sheet measures; empty for not measured."""
    value = _above(length_in_mm(text, job.units)) if text.strip() else None
    if value is not None and abs(value / MARKER_SHEET.line_mm - 1) > 0.05:
        raise ValueError(f"it should be {MARKER_SHEET.line_mm:g} mm; print the sheet again at 100 %")
    return _unscaled(record.model_copy(update={"sheet_line": value}))


def waney_switched(record: BoardRecord, on: bool) -> BoardRecord:
    """A board whose long edges are as they grew, or sawn; its pictures are to be made anew."""
    return _unscaled(record.model_copy(update={"waney": on}))


def _unscaled(record: BoardRecord, faces: Iterable[Face] = Face) -> BoardRecord:
    """A board whose pictures are no longer true, its tape readings being others."""
    gone = {"picture": None, "px_per_mm": None, "error_mm": None, "error_along": (), "notes": ()}
    gone |= {"apart_mm": None}
    fresh = {face.value: known.model_copy(update=gone) for face in faces if (known := record.face(face))}
    return record.model_copy(update={"turn_offered": None, **fresh})


def without_board(job: Job, id: str) -> Job:
    """The job without one board; a layout that used it goes too."""
    boards = tuple(board for board in job.boards if board.id != id)
    layout = job.layout
    if layout is not None and id in layout.boards_used:
        layout = None
    return job.model_copy(update={"boards": boards, "layout": layout})


def _above(value: float) -> float:
    if not 0 < value <= 20_000:
        raise ValueError("give more than 0 and at most 20 m")
    return value


def basis_typed(record: BoardRecord, text: str, _: Job) -> BoardRecord:
    """What the price is for."""
    return record.model_copy(update={"price": Price(record.price.amount, PriceBasis(text))})


def turned_typed(record: BoardRecord, text: str, _: Job) -> BoardRecord:
    """How the board was turned over; what was seen on its back stays where its picture shows it."""
    turn, back = Turn(text), record.back
    if turn is record.turned:
        return record
    after = turn_kept(turned_otherwise(record))
    tapers = record.waney or len({width for _, width in record.widths}) > 1
    read = tapers or (back is not None and bool(back.ticks or back.further))
    # What was read from the datum end lies at the other end of the back's picture now.
    return _unscaled(after, [Face.BACK] if read else [])


def turn_kept(record: BoardRecord) -> BoardRecord:
    """A board turned over as it is said to be, whatever its pictures speak for."""
    return record.model_copy(update={"turn_offered": None})


def heart_typed(record: BoardRecord, text: str, _: Job) -> BoardRecord:
    """The face that lay nearer the pith."""
    return record.model_copy(update={"heart": None if text == NOT_LOOKED_AT else Face(text)})
