"""A photograph with the marker sheet on the board is brought to true scale with its help."""

import cv2
import numpy as np
import pytest

from tests.vision.drawn import camera_frame, drawn_board
from ui.board_fields import sheet_line_typed
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError
from ui.lenses import sheets_in
from ui.survey import surveyed_face
from ui.surveyed import Corners
from vision.photo import Photo
from vision.reference import MARKER_SHEET

LENGTH, WIDTH = 800.0, 200.0
SIZE = (1600, 1000)


def taken(with_sheet: bool) -> tuple[Photo, Corners]:
    """A board by a lens that bends, with or without the sheet in the middle of it."""
    frame = camera_frame(LENGTH, WIDTH, k1=-0.06, size=SIZE)
    board = drawn_board(LENGTH, WIDTH, frame=frame, size=SIZE)
    rgb = board.rgb
    if with_sheet:
        long, wide = MARKER_SHEET.size_mm
        page = np.full((round(wide * 4), round(long * 4)), 235, dtype=np.uint8)
        for x, y, w, h in MARKER_SHEET.black_mm():
            left, top, right, low = np.rint(np.array([x, y, x + w, y + h]) * 4).astype(int)
            page[top:low, left:right] = 25
        at = frame.to_mm(np.stack(np.meshgrid(np.arange(SIZE[0]), np.arange(SIZE[1])), axis=-1))
        at = (at - [265.0, 10.0]) * 4 - 0.5
        maps = [np.ascontiguousarray(at[..., k], dtype=np.float32) for k in range(2)]
        seen = cv2.remap(page, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
        on = cv2.remap(np.full_like(page, 255), *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
        rgb = np.where(on[..., None] > 127, seen[..., None], rgb).astype(np.uint8)
    first, second, third, fourth = ((float(x), float(y)) for x, y in board.corners_px)
    return Photo(rgb, 26.0), (first, second, third, fourth)


@pytest.fixture(autouse=True)
def unmarked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ui.survey.suggest_marks", lambda *_, **__: ())


def record(corners: Corners, **more: object) -> BoardRecord:
    board = BoardRecord(
        id="1", length=LENGTH, widths=((0, WIDTH),), thickness=27, front=FaceRecord(corners_px=corners)
    )
    return board.model_copy(update=more)


def test_the_sheet_makes_the_picture_truer() -> None:
    photo, corners = taken(with_sheet=True)
    plain, _ = taken(with_sheet=False)
    assert len(sheets_in(photo, record(corners))) == 1
    with_it = surveyed_face(photo, "a", record(corners, sheet_line=250.0))
    without = surveyed_face(plain, "b", record(corners))
    assert with_it.error_mm < without.error_mm
    assert with_it.lens is not None
    assert without.lens is not None
    assert with_it.lens.k1_spread < without.lens.k1_spread
    assert with_it.lens.lens.k1 == pytest.approx(-0.06, abs=0.03)


def test_a_print_of_another_size_gets_one_sentence() -> None:
    photo, corners = taken(with_sheet=True)
    with pytest.raises(JobError, match=r"^a: the line on the marker sheet measures 200 mm"):
        surveyed_face(photo, "a", record(corners, sheet_line=200.0))
    with pytest.raises(ValueError, match="print the sheet again at 100 %"):
        sheet_line_typed(record(corners), "230", Job(name="x"))
    assert sheet_line_typed(record(corners), "249", Job(name="x")).sheet_line == 249
    assert sheet_line_typed(record(corners, sheet_line=249.0), "", Job(name="x")).sheet_line is None
