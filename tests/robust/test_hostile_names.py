"""Names that try to be something else: a path, a tag, a formula, a control code."""

import csv
import io
import json
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest

from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop
from tests.robust.jobs import full_job
from ui.drawing.sheets import _file_name, sheets
from ui.files import JobFolder
from ui.jobfile import JobError, job_json

NAMES = [
    "../../<script>alert(1)</script>&amp;]]>\"/><image href='http://example.invalid/x.png'/>",
    "=1+cmd|' /C calc'!A0\ttab\nline <b>bold</b><font size=99> %s {0}",
    "x" * 300,
    "\u202edesrever räuchereiche №7 \U0001fab5 木",
]


def named(name: str) -> dict[str, bytes]:
    """Every file of the tiny layout whose board, part and job bear the name."""
    layout = tiny_layout()
    layout = replace(
        layout,
        placements=tuple(
            replace(item, board=name, part=name if item.part == "slat" else item.part)
            for item in layout.placements
        ),
        cuts=tuple(replace(cut, board=name) for cut in layout.cuts),
        offcuts=tuple(replace(offcut, board=name) for offcut in layout.offcuts),
    )
    rail, slat = tiny_parts()
    shaped = replace(slat, name=name, outline=((0, 0), (400, 5), (400, 55), (0, 60)))
    return sheets((replace(tiny_board(), id=name),), (rail, shaped), tiny_shop(), layout, title=name)


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
def test_whatever_a_board_is_called_its_files_stay_whole(name: str, tmp_path: Path) -> None:
    files = named(name)
    for file, data in files.items():
        assert re.fullmatch(r"[\w.-]+", file), file
        assert not file.startswith(".")
        assert len(file.encode()) <= 200, "longer than file systems take"
        (tmp_path / file).write_bytes(data)
        if file.endswith(".svg"):
            for element in ElementTree.fromstring(data).iter():
                assert not element.tag.endswith(("script", "foreignObject"))
                outside = [value for key, value in element.items() if key.endswith("href")]
                assert all(value.startswith(("data:image/", "#")) for value in outside)
        elif file.endswith(".geojson"):
            json.loads(data)
        elif file.endswith(".dxf"):
            assert not ezdxf.read(io.StringIO(data.decode())).audit().has_errors
        elif file.endswith(".pdf"):
            assert b"/JavaScript" not in data
            assert b"/URI" not in data
        elif file.endswith(".csv"):
            rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))
            assert len({len(row) for row in rows}) == 1, "a name broke the table"
    assert {path.name for path in tmp_path.iterdir()} == set(files)


def test_two_boards_never_share_a_file() -> None:
    twins = ("1/2", "1_2", "1?2", "x" * 300, "x" * 299 + "y", "..", "")
    assert len({_file_name(twin) for twin in twins}) == len(twins)
    assert _file_name("A12") == "A12"


@pytest.mark.parametrize(
    "path", ["/etc/passwd", "../secret", "photos/../../secret", "photos/link", "\x00", "a" * 5000]
)
def test_a_job_from_elsewhere_can_not_name_files_outside_itself(path: str, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("the neighbour's")
    raw = json.loads(job_json(full_job()))
    raw["boards"][0]["front"]["photo"] = raw["boards"][0]["front"]["picture"] = path
    (tmp_path / "job" / "photos").mkdir(parents=True)
    (tmp_path / "job" / "photos" / "link").symlink_to(tmp_path / "secret")
    (tmp_path / "job" / "job.json").write_text(json.dumps(raw))
    folder = JobFolder(tmp_path / "job")
    named_photo = folder.job().boards[0].front
    assert named_photo is not None
    with pytest.raises(JobError):
        folder.read(str(named_photo.photo))
