"""Rows of a cutting list out of an XLSX workbook."""

import csv
import io
import warnings
import zipfile
import zlib

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from ui.cutting_list import MOST_ROWS, rows_of_text
from ui.jobfile import JobError

__all__ = ["rows_of_workbook"]

_MOST_BYTES = 20_000_000
_DAMAGE = (  # what the reader was seen to raise on damaged workbooks, and its kin
    zipfile.BadZipFile,
    InvalidFileException,
    zlib.error,
    SyntaxError,  # of its XML
    OSError,
    EOFError,
    ValueError,
    TypeError,
    AttributeError,
    LookupError,
    ArithmeticError,
    RuntimeError,
    MemoryError,
)


def rows_of_workbook(data: bytes, where: str) -> list[dict[str, str]]:
    """The rows of the first sheet, by column name.

    Raises
    ------
    JobError
        Not a workbook, too big, or no heading that can be read.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if sum(item.file_size for item in packed.infolist()) > _MOST_BYTES:
                raise JobError(f"{where}: too big for a cutting list; save the one sheet as CSV")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        cells = list(book.worksheets[0].iter_rows(max_row=MOST_ROWS + 1, max_col=30, values_only=True))
        book.close()
    except JobError:
        raise
    except _DAMAGE as error:
        raise JobError(f"{where}: not a workbook that can be read; save it as CSV") from error
    out = io.StringIO()
    writer = csv.writer(out, delimiter="\t", lineterminator="\n")
    for row in cells:
        if any(cell is not None for cell in row):
            writer.writerow(["" if cell is None else _text(cell) for cell in row])
    return rows_of_text(out.getvalue(), where)


def _text(cell: object) -> str:
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return " ".join(str(cell).split())
