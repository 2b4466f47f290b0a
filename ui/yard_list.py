"""The list of a yard's boards: tape readings and the names of their photographs, from CSV.

One row a board; `back`, `thickness`, `species`, `price` and `turned` may be left out::

    number, length, width, thickness, species, price, turned, front, back
"""

import csv
import io
from dataclasses import dataclass, replace

from layout.stock import Price, Turn
from ui.jobfile import JobError
from ui.lengths import Units, length_in_mm

__all__ = ["LIST", "MOST_BOARDS", "Row", "rows_of"]

LIST = "boards.csv"
MOST_BOARDS = 5000
_COLUMNS = ("number", "length", "width", "thickness", "species", "price", "turned", "front", "back")
_NEEDED = ("number", "length", "width", "front")


@dataclass(frozen=True)
class Row:
    """One board of the list; lengths in mm, photographs by file name."""

    number: str
    length: float
    width: float
    front: str
    back: str = ""
    thickness: float = 27.0
    species: str = "oak"
    price: float = 0.0
    turned: Turn = Turn.ROLLED


def rows_of(text: str, where: str = LIST, units: Units = "mm") -> tuple[Row, ...]:
    """The boards of a list.

    Raises
    ------
    JobError
        The first thing wrong with it, at its row and column.
    """
    lines = [line for line in text.removeprefix("\ufeff").splitlines() if line.strip()]
    if not lines:
        raise JobError(f"{where}: is empty; give one row for each board")
    if len(lines) > MOST_BOARDS + 1:
        raise JobError(f"{where}: {len(lines) - 1} boards; the most is {MOST_BOARDS}")
    try:
        table = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=max("\t;,", key=lines[0].count)))
    except csv.Error as error:
        raise JobError(f"{where}: not a table ({error}); save it again as CSV") from error
    heading = [" ".join(cell.lower().split()) for cell in table[0]]
    for column in _NEEDED:
        if column not in heading:
            raise JobError(f"{where}: the column {column!r} is missing; it holds {', '.join(_COLUMNS)}")
    rows: dict[str, Row] = {}
    for number, cells in enumerate(table[1:], start=1):
        row = _row(dict(zip(heading, cells, strict=False)), f"{where}, row {number}", units)
        if row.number in rows:
            raise JobError(f"{where}, row {number}: board {row.number!r} stands there twice")
        rows[row.number] = row
    return tuple(rows.values())


def _row(cells: dict[str, str], where: str, units: Units) -> Row:
    given = {name: (cells.get(name) or "").strip() for name in _COLUMNS}
    for name in _NEEDED:
        if not given[name]:
            raise JobError(f"{where}: {name} is empty")
    length, width = (_taped(given[name], name, where, units) for name in ("length", "width"))
    row = Row(given["number"][:80], length, width, given["front"], given["back"])
    if given["thickness"]:
        row = replace(row, thickness=_taped(given["thickness"], "thickness", where, units))
    return replace(
        row,
        species=given["species"][:80] or row.species,
        price=_price(given["price"], where),
        turned=_turned(given["turned"], where),
    )


def _price(text: str, where: str) -> float:
    try:
        price = float((text or "0").replace(",", "."))
    except ValueError:
        raise JobError(f"{where}: price is {text[:40]!r}; give a number") from None
    try:
        return Price(price).amount
    except ValueError as error:
        raise JobError(f"{where}: {error}") from error


def _turned(text: str, where: str) -> Turn:
    try:
        return Turn(text.lower() or Turn.ROLLED)
    except ValueError:
        ways = " or ".join(way.value for way in Turn)
        raise JobError(f"{where}: turned is {text[:40]!r}; give {ways}") from None


def _taped(text: str, name: str, where: str, units: Units) -> float:
    try:
        value = length_in_mm(text, units)
    except ValueError as error:
        raise JobError(f"{where}, {name}: {error}") from error
    if not 0 < value <= 20_000:
        raise JobError(f"{where}, {name}: {text!r} can't be; give more than 0 and at most 20 m")
    return value
