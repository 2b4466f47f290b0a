"""Whatever is given as an XLSX workbook: rows, or one sentence; no traceback, no hang, memory bounded."""

import io
import random
import zipfile
from datetime import datetime
from pathlib import Path

import pytest
from openpyxl import Workbook

from tests.robust.answers import sentence
from tests.robust.mutations import damaged
from tests.robust.sizes import HANG, few_or_many, grown_mb, hang_after, seeded
from ui.cutting_list import Rows, parts_from_rows
from ui.jobfile import JobError
from ui.spreadsheet import rows_of_workbook

HEAD = ["name", "quantity", "length", "width", "thickness", "face"]


def workbook(*rows: list[object]) -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (HEAD, *rows):
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


GOOD = workbook(
    ["top", 2, 1200.5, 300, 22, "show"], ["rail", "4", '47 1/4"', 60, 20, None], ["leg", 4, 700, 45, 45, ""]
)


def answered(data: bytes) -> Rows | str:
    """The parts and mistakes, or the sentence the file was refused with."""
    try:
        return parts_from_rows(rows_of_workbook(data, "list.xlsx"))
    except JobError as error:
        return sentence(error, 350)


def zipped_anew(data: bytes, chance: random.Random) -> bytes:
    """The workbook with one of its inner files damaged, its own sums put right."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        files = {name: packed.read(name) for name in packed.namelist()}
    name = chance.choice([*files, "xl/worksheets/sheet1.xml", "xl/worksheets/sheet1.xml"])
    what = chance.random()
    if what < 0.1:
        del files[name]
    elif what < 0.3:
        files[name] = files[name].replace(b'"', chance.choice((b"'", b'"x', b"")), chance.randrange(4))
    else:
        files[name] = damaged(files[name], chance, list(files.values()))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, body in files.items():
            packed.writestr(name, body)
    return out.getvalue()


def test_a_good_workbook_gives_its_parts() -> None:
    rows = answered(GOOD)
    assert isinstance(rows, Rows)
    assert [part.name for part in rows.parts] == ["top", "rail", "leg"]
    assert rows.parts[1].length == pytest.approx(1200.15)


@few_or_many(250)
def test_damaged_workbooks(cases: int, tmp_path: Path) -> None:
    chance = seeded(61)
    read = 0
    with grown_mb(300):
        for case in range(cases):
            data = (
                zipped_anew(GOOD, chance) if chance.random() < 0.7 else damaged(GOOD, chance, [b"PK\x05\x06"])
            )
            with hang_after(HANG, f"case {case}"):
                try:
                    read += isinstance(answered(data), Rows)
                except Exception as error:
                    (tmp_path / "damaged.xlsx").write_bytes(data)
                    pytest.fail(f"case {case}, kept in {tmp_path}: {error!r}")
    assert 0 < read < cases


@pytest.mark.parametrize(
    "cell",
    [
        True,
        float("1e300"),
        datetime(2026, 1, 1),
        "=1+1",
        '=HYPERLINK("http://example.invalid")',
        "x" * 32_000,
        -5,
        0,
        "\u202e",
    ],
    ids=range(9),
)
def test_any_cell(cell: object) -> None:
    for column in range(len(HEAD)):
        row: list[object] = ["top", 2, 1200.5, 300, 22, "show"]
        row[column] = cell
        answered(workbook(row))


def packed(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, body in files.items():
            archive.writestr(name, body)
    return out.getvalue()


def inside() -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(GOOD)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_a_file_that_unpacks_to_gigabytes_is_refused() -> None:
    with grown_mb(100), hang_after(10, "bomb"):
        bomb = packed(inside() | {"xl/worksheets/sheet1.xml": b" " * 60_000_000})
        assert "too big" in str(answered(bomb))


def test_a_size_that_lies_in_the_zip_is_found_out() -> None:
    """The heading says a few bytes, what unpacks is more."""
    data = packed(inside() | {"xl/worksheets/sheet1.xml": b"<a>" + b" " * 30_000_000 + b"</a>"})
    length = (30_000_007).to_bytes(4, "little")
    assert length in data
    with grown_mb(200), hang_after(10, "lie"):
        assert isinstance(answered(data.replace(length, (500).to_bytes(4, "little"))), str)


def test_names_within_names_without_end_are_refused() -> None:
    names = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10 if n else "ha"}">' for n in range(12))
    text = f'<?xml version="1.0"?><!DOCTYPE x [{names}]><x>&a11;</x>'
    outside = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/passwd">]><x>&f;</x>'
    for body in (text, outside):
        for name in ("xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"):
            with grown_mb(100), hang_after(10, name):
                assert "root:" not in str(answered(packed(inside() | {name: body.encode()})))


def test_a_sheet_of_a_million_rows_is_cut_at_the_most_a_list_may_have() -> None:
    row = b'<row><c t="inlineStr"><is><t>a</t></is></c></row>'
    sheet = inside()["xl/worksheets/sheet1.xml"]
    with hang_after(20, "rows"):
        many = packed(
            inside()
            | {"xl/worksheets/sheet1.xml": sheet.replace(b"</sheetData>", row * 300_000 + b"</sheetData>")}
        )
        assert "the most is 2000" in str(answered(many))
