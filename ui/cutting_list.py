"""The cutting list as a table: from CSV or pasted rows, each mistake named at its cell; and back to CSV.

One row is one part. Columns may come in any order and in small or capital
letters; name, length, width and thickness are needed::

    name, quantity, length, width, thickness,
    face, back, edges, ends, near edge, far edge, near end, far end   (show, seen in use, concealed)
    same board as, priority
"""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from layout.parts import Part, PartSide, Visibility
from ui.jobfile import JobError
from ui.lengths import Units, length_in_mm

__all__ = [
    "COLUMNS",
    "CellError",
    "Mistake",
    "Rows",
    "part_from_row",
    "parts_from_csv",
    "parts_from_rows",
    "parts_to_csv",
    "rows_of_text",
]

COLUMNS = ("name", "quantity", "length", "width", "thickness", *(side.value for side in PartSide))
NEEDED = ("name", "length", "width", "thickness")
MOST_ROWS = 2000
LONGEST_NAME = 80

_ALSO = {
    "part": "name",
    "qty": "quantity",
    "number": "quantity",
    "no": "quantity",
    "pieces": "quantity",
    "copies": "quantity",
    "l": "length",
    "w": "width",
    "t": "thickness",
    "thick": "thickness",
    "face side": "face",
}
_PAIRS = {
    "edges": (PartSide.NEAR_EDGE, PartSide.FAR_EDGE),
    "ends": (PartSide.NEAR_END, PartSide.FAR_END),
}
_SEEN = {
    "show": Visibility.SHOW,
    "shows": Visibility.SHOW,
    "seen": Visibility.SEEN_IN_USE,
    "seen in use": Visibility.SEEN_IN_USE,
    "concealed": Visibility.CONCEALED,
    "hidden": Visibility.CONCEALED,
}
_OTHER = ("same board as", "priority")


@dataclass(frozen=True)
class Mistake:
    """What is wrong in one cell; row 1 is the first part."""

    row: int
    column: str
    message: str

    def __str__(self) -> str:
        return f"row {self.row}, {self.column}: {self.message}"


@dataclass(frozen=True)
class Rows:
    """What a table gave: the good rows as parts, the others as mistakes."""

    parts: tuple[Part, ...]
    mistakes: tuple[Mistake, ...]


def parts_from_csv(text: str, where: str = "cutting list", units: Units = "mm") -> tuple[Part, ...]:
    """The parts of a CSV text.

    Raises
    ------
    JobError
        A column is missing, or the first cell that can't be right.
    """
    found = parts_from_rows(rows_of_text(text, where), units)
    if found.mistakes:
        raise JobError(f"{where}: {found.mistakes[0]}")
    if not found.parts:
        raise JobError(f"{where}: holds no part; give one row for each")
    return found.parts


def rows_of_text(text: str, where: str = "cutting list") -> list[dict[str, str]]:
    """The rows of a CSV text, or of rows pasted from a spreadsheet, by column name.

    Raises
    ------
    JobError
        No heading that can be read, an unknown column, or a needed one missing.
    """
    lines = [line for line in text.removeprefix("\ufeff").splitlines() if line.strip()]
    if not lines:
        raise JobError(f"{where}: is empty")
    if len(lines) > MOST_ROWS:
        raise JobError(f"{where}: {len(lines)} rows; the most is {MOST_ROWS}")
    mark = max("\t;,", key=lines[0].count)
    try:
        table = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=mark, skipinitialspace=True))
    except csv.Error as error:
        raise JobError(f"{where}: not a table ({error}); save it again as CSV") from error
    heading = [_column(cell) for cell in table[0]]
    if "name" not in heading and "length" not in heading:
        heading, table = list(COLUMNS[: len(table[0])]), [[], *table]
    known = {*COLUMNS, *_PAIRS, *_OTHER, ""}
    for cell in heading:
        if cell not in known:
            raise JobError(
                f"{where}: column {_shown(cell)} is not known; use {', '.join((*COLUMNS, *_PAIRS, *_OTHER))}"
            )
    for needed in NEEDED:
        if needed not in heading:
            raise JobError(f"{where}: the column {needed!r} is missing")
    return [dict(zip(heading, row, strict=False)) for row in table[1:]]


def parts_from_rows(rows: Sequence[dict[str, str]], units: Units = "mm") -> Rows:
    """The parts that rows of a table give, and every mistake at its cell."""
    parts: list[Part] = []
    mistakes: list[Mistake] = []
    for number, row in enumerate(rows, start=1):
        try:
            part = part_from_row(row, units)
        except CellError as error:
            mistakes.append(Mistake(number, error.column, str(error)))
            continue
        if part.name in {other.name for other in parts}:
            mistakes.append(Mistake(number, "name", f"two parts are called {part.name!r}"))
            continue
        parts.append(part)
    return Rows(tuple(parts), tuple(mistakes))


def parts_to_csv(parts: Iterable[Part]) -> str:
    """The cutting list as CSV, in mm, to be read again by `parts_from_csv`."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*COLUMNS, *_OTHER])
    for part in parts:
        sizes = (part.length, part.width, part.thickness)
        writer.writerow(
            [
                part.name,
                part.quantity,
                *(f"{size:.10g}" for size in sizes),
                *(part.visibility(side).value for side in PartSide),
                part.same_board_as or "",
                part.priority,
            ]
        )
    return out.getvalue()


class CellError(ValueError):
    """What is wrong in one cell of a row."""

    def __init__(self, column: str, message: str) -> None:
        super().__init__(message)
        self.column = column


def _shown(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")


def _column(cell: str) -> str:
    name = " ".join(cell.replace("_", " ").lower().split()).rstrip(".")
    for unit in (" (mm)", " mm", " [mm]", " (in)", " [in]"):
        name = name.removesuffix(unit)
    return _ALSO.get(name, name)


def part_from_row(row: dict[str, str], units: Units = "mm") -> Part:
    """The part that one row gives.

    Raises
    ------
    CellError
        The first cell that can't be right.
    """
    name = (row.get("name") or "").strip()
    if not name:
        raise CellError("name", "is empty; every part needs a name")
    if len(name) > LONGEST_NAME:
        raise CellError("name", f"has {len(name)} letters; the most is {LONGEST_NAME}")
    sizes = [_length(row, column, units) for column in ("length", "width", "thickness")]
    try:
        return Part(
            name=name,
            length=sizes[0],
            width=sizes[1],
            thickness=sizes[2],
            quantity=_whole(row, "quantity", 1),
            sides=_sides(row),
            same_board_as=(row.get("same board as") or "").strip() or None,
            priority=_whole(row, "priority", 0),
        )
    except CellError:
        raise
    except ValueError as error:
        raise CellError("name", str(error)) from error


def _length(row: dict[str, str], column: str, units: Units) -> float:
    text = (row.get(column) or "").strip()
    if not text:
        raise CellError(column, "is empty; give a length")
    try:
        value = length_in_mm(text, units)
    except ValueError as error:
        raise CellError(column, str(error)) from error
    if not 0 < value <= 20_000:
        raise CellError(column, f"{text!r} can't be; give more than 0 and at most 20 m")
    return value


def _whole(row: dict[str, str], column: str, usual: int) -> int:
    text = (row.get(column) or "").strip()
    if not text:
        return usual
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise CellError(column, f"{_shown(text)} is not a number; give 1, 2, 3 ...") from None
    least = 1 if column == "quantity" else -999
    if not (least <= value <= 999 and value.is_integer()):
        raise CellError(column, f"{_shown(text)} can't be; give a whole number, {least} to 999")
    return int(value)


def _sides(row: dict[str, str]) -> dict[PartSide, Visibility]:
    sides: dict[PartSide, Visibility] = {}
    for column, pair in _PAIRS.items():
        seen = _seen(row, column)
        if seen is not None:
            sides.update(dict.fromkeys(pair, seen))
    for side in PartSide:
        seen = _seen(row, side.value)
        if seen is not None:
            sides[side] = seen
    return sides


def _seen(row: dict[str, str], column: str) -> Visibility | None:
    text = " ".join((row.get(column) or "").lower().split())
    if not text:
        return None
    if text not in _SEEN:
        raise CellError(column, f"{_shown(text)} is not known; give show, seen in use or concealed")
    return _SEEN[text]
