"""Boards whose edges are as they grew: followed in the photographs, both faces in one frame."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from layout.outline import rectangle
from layout.stock import DefectKind, Face, Turn, Where
from tests.vision.drawn import FOCAL_35MM, camera_frame, drawn_board
from ui.board_fields import back_widths_typed, waney_switched
from ui.board_frame import as_read_on, in_board_frame
from ui.jobfile import BoardRecord, FaceRecord, Job, JobError
from ui.survey import surveyed_face
from ui.surveyed import SurveyedFace, surveyed_record, with_suggestions
from vision.marks import Mark, Origin
from vision.photo import Photo

LENGTH, WIDTH = 1200.0, 240.0
STATIONS = np.linspace(0.0, LENGTH, 61)


def upper(x: np.ndarray) -> np.ndarray:
    """The front's edge on the datum side; it bulges out in the middle."""
    return 22.0 - 22.0 * np.sin(np.pi * x / LENGTH) ** 2


def lower(x: np.ndarray) -> np.ndarray:
    return WIDTH - 14.0 + 14.0 * np.sin(np.pi * x / LENGTH)


def photographed(narrower: float, mirrored: bool, seed: int) -> tuple[Photo, tuple[tuple[float, float], ...]]:
    """A face, narrower than the widest on both edges as bark slopes, and its corners as set by hand."""
    frame = camera_frame(LENGTH, WIDTH, tilt=(4.0, -3.0, 2.0))
    board = drawn_board(LENGTH, WIDTH, frame=frame, seed=seed)
    top, bottom = upper(STATIONS) + narrower, lower(STATIONS) - narrower
    if mirrored:
        top, bottom = WIDTH - bottom, WIDTH - top
    ring = np.concatenate([np.stack([STATIONS, top], 1), np.stack([STATIONS, bottom], 1)[::-1]])
    wood = np.zeros(board.rgb.shape[:2], np.uint8)
    cv2.fillPoly(wood, [np.rint(frame.to_px(ring) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    share = wood[..., None] / 255.0
    ground = np.random.default_rng(seed).normal((92, 96, 101), 3.0, board.rgb.shape)
    rgb = np.clip(board.rgb * share + ground * (1 - share), 0, 255).astype(np.uint8)
    ends = [[0, top[0]], [LENGTH, top[-1]], [LENGTH, bottom[-1]], [0, bottom[0]]]
    return Photo(rgb, FOCAL_35MM), tuple((float(x), float(y)) for x, y in frame.to_px(ends))


def record(**more: object) -> BoardRecord:
    widths = tuple((x, float(lower(np.array(x)) - upper(np.array(x)))) for x in (0.0, LENGTH / 2, LENGTH))
    return BoardRecord(id="7", length=LENGTH, widths=widths, thickness=34, waney=True, **more)  # type: ignore[arg-type]


def surveyed(face: Face, narrower: float = 0.0) -> tuple[BoardRecord, SurveyedFace]:
    photo, corners = photographed(narrower, face is Face.BACK, seed=5)
    board = record(turned=Turn.ROLLED, **{face.value: FaceRecord(photo="photos/a.jpg", corners_px=corners)})
    return board, surveyed_face(photo, "a.jpg", board, face)


@pytest.fixture(scope="module")
def front() -> tuple[BoardRecord, SurveyedFace]:
    return surveyed(Face.FRONT)


def test_the_edges_are_followed_and_the_picture_keeps_the_boards_frame(
    front: tuple[BoardRecord, SurveyedFace],
) -> None:
    board, found = front
    assert found.picture.shape[0] == pytest.approx(WIDTH * found.px_per_mm, abs=1)
    ring = np.array(found.outline_seen)
    assert ring.min() >= 0.0
    assert ring[:, 1].max() <= WIDTH
    far = int(np.argmax(ring[:, 0] + (ring[:, 1] < WIDTH / 2)))
    datum, other = ring[: far + 1], ring[far + 1 :]
    assert datum[:, 1] == pytest.approx(upper(datum[:, 0]), abs=3.0)
    assert other[:, 1] == pytest.approx(lower(other[:, 0]), abs=3.0)
    stored = surveyed_record(board, Face.FRONT, found, "photos/a.jpg", "pictures/a.jpg")
    assert stored.outline_found
    assert len(stored.outline_mm or ()) > 8


def test_a_narrower_back_lies_in_the_middle_and_owns_to_it(front: tuple[BoardRecord, SurveyedFace]) -> None:
    board, back = surveyed(Face.BACK, narrower=3.0)
    ring = np.array(in_board_frame(back.outline_seen, board, Face.BACK))
    for x, y in ring[np.abs(ring[:, 0] - LENGTH / 2) < 300]:
        here = np.array(x)
        assert min(abs(y - upper(here) - 3.0), abs(y - lower(here) + 3.0)) < 3.5
    across = [max(off for _, _, off in found.error_along) for found in (back, front[1])]
    assert across[0] > max(across[1], 2.5)  # half of the 6 mm that are left over are in it


def test_bark_beside_the_wood_is_not_suggested(front: tuple[BoardRecord, SurveyedFace]) -> None:
    board, found = front
    stored = surveyed_record(board, Face.FRONT, found, "photos/a.jpg", "pictures/a.jpg")
    bark = Mark("front-1", DefectKind.WANE, rectangle(20, 0, 150, 12), Where.FRONT, 0.9, Origin.SUGGESTED)
    knot = replace(bark, id="front-2", kind=DefectKind.SOUND_KNOT, outline=rectangle(300, 60, 330, 90))
    board = board.model_copy(update={"front": stored})
    assert [mark.id for mark in with_suggestions(board, Face.FRONT, (bark, knot)).marks] == ["front-2"]


def test_one_width_is_too_few_for_a_waney_board() -> None:
    photo, corners = photographed(0.0, False, seed=5)
    one = record(front=FaceRecord(photo="photos/a.jpg", corners_px=corners)).model_copy(
        update={"widths": ((0.0, WIDTH),)}
    )
    with pytest.raises(JobError, match="read its width at both ends"):
        surveyed_face(photo, "a.jpg", one, Face.FRONT)


def test_the_back_is_not_brought_to_scale_by_the_fronts_widths() -> None:
    """Bark slopes: so it was 20 mm wrong, and said 5."""
    photo, corners = photographed(3.0, True, seed=5)
    faces = {face.value: FaceRecord(photo="photos/a.jpg", corners_px=corners) for face in Face}
    with pytest.raises(JobError, match="read the back's own widths too"):
        surveyed_face(photo, "a.jpg", record(**faces), Face.BACK)


def test_the_backs_widths_are_typed_and_cleared() -> None:
    job = Job(name="one", boards=(record(),))
    typed = back_widths_typed(job.boards[0], "250 / 251 / 249", job)
    assert typed.back_widths == ((0.0, 250.0), (LENGTH / 2, 251.0), (LENGTH, 249.0))
    assert typed.width == 251.0
    assert as_read_on(typed, Face.BACK).widths == typed.back_widths
    assert as_read_on(typed, Face.FRONT).width == record().width
    assert back_widths_typed(typed, " ", job).back_widths == ()


def test_a_board_said_to_be_waney_is_to_be_brought_to_scale_again() -> None:
    face = FaceRecord(photo="photos/a.jpg", picture="pictures/a.jpg", px_per_mm=1.0, error_mm=2.0)
    board = waney_switched(record(front=face).model_copy(update={"waney": False}), True)
    assert board.waney
    assert board.front is not None
    assert board.front.picture is None


def test_corners_set_on_the_box_round_the_board_are_named() -> None:
    photo, _ = photographed(0.0, False, seed=5)
    ends = [[0.0, 0.0], [LENGTH, 0.0], [LENGTH, WIDTH], [0.0, WIDTH]]
    box = camera_frame(LENGTH, WIDTH, tilt=(4.0, -3.0, 2.0)).to_px(ends)
    quad = tuple((float(x), float(y)) for x, y in box)
    board = record(front=FaceRecord(photo="photos/a.jpg", corners_px=quad))
    found = surveyed_face(photo, "a.jpg", board, Face.FRONT)
    (said,) = [note for note in found.notes if "corners" in note]
    assert "end lie 2" in said
    assert "put each corner on the wood's own edge at its end, not on the box round the board" in said
    assert not any("corners" in note for note in surveyed(Face.FRONT)[1].notes)
