"""A waney board so crooked that its edges wander farther to one side than it is wide anywhere."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import Polygon

from layout.allowances import Sawing, Shop
from layout.cost import price_of
from layout.outline import rectangle
from layout.parts import Part
from layout.placement import Layout, Placement
from layout.stock import DefectKind, Face, Price, PriceBasis, Turn, Where
from tests.vision.drawn import FOCAL_35MM, camera_frame, drawn_board
from ui.board_fields import widths_typed
from ui.board_frame import reframed
from ui.chain import checked, planned
from ui.changes import edit_between
from ui.cli import main
from ui.edits import applied, inverse
from ui.files import JobFolder
from ui.jobfile import BoardRecord, FaceRecord, Job, KeptLayout
from ui.moves import layouts_moved
from ui.pictures import jpeg, picture_from
from ui.report import buying_list
from ui.surface_ops import replaced_board
from ui.survey import surveyed_board
from vision.errors import VisionError
from vision.marks import Mark
from vision.photo import Photo
from vision.rectify import true_scale

LENGTH, WIDTH, BOW = 1000.0, 150.0, 40.0
ROOM = WIDTH + BOW + 30.0
SIZE = (900, 440)
STATIONS = np.linspace(0.0, LENGTH, 101)


def upper(x: NDArray[np.float64]) -> NDArray[np.float64]:
    return 15.0 + BOW * 4 * x / LENGTH * (1 - x / LENGTH) + 3.0 * np.sin(x / 170.0)


def lower(x: NDArray[np.float64]) -> NDArray[np.float64]:
    return upper(x) + WIDTH - 22.0 + 22.0 * np.sin(np.pi * x / LENGTH) ** 2


def photographed(back: bool) -> tuple[NDArray[np.uint8], tuple[tuple[float, float], ...]]:
    """A face, the back rolled over and 3 mm narrower at either edge, and corners as set by hand."""
    frame = camera_frame(LENGTH, ROOM, tilt=(3.0, -3.0, 1.0), size=SIZE)
    board = drawn_board(LENGTH, ROOM, frame=frame, size=SIZE, seed=3)
    top, bottom = upper(STATIONS) + 3.0 * back, lower(STATIONS) - 3.0 * back
    if back:
        top, bottom = ROOM - bottom, ROOM - top
    ring = np.concatenate([np.stack([STATIONS, top], 1), np.stack([STATIONS, bottom], 1)[::-1]])
    wood = np.zeros(board.rgb.shape[:2], np.uint8)
    cv2.fillPoly(wood, [np.rint(frame.to_px(ring) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    share = wood[..., None] / 255.0
    ground = np.random.default_rng(4).normal((92, 96, 101), 3.0, board.rgb.shape)
    rgb = np.clip(board.rgb * share + ground * (1 - share), 0, 255).astype(np.uint8)
    ends = [[0, top[0]], [LENGTH, top[-1]], [LENGTH, bottom[-1]], [0, bottom[0]]]
    first, second, third, fourth = ((float(x), float(y)) for x, y in frame.to_px(ends))
    return rgb, (first, second, third, fourth)


def widths(narrower: float = 0.0) -> tuple[tuple[float, float], ...]:
    at = np.linspace(0.0, LENGTH, 5)
    return tuple((float(x), float(v) - narrower) for x, v in zip(at, lower(at) - upper(at), strict=True))


@pytest.fixture(scope="module")
def surveyed() -> BoardRecord:
    """Both faces, by the engine, no faults looked for; priced by the cubic metre."""
    taken = {face: photographed(face is Face.BACK) for face in Face}
    record = BoardRecord(
        id="7",
        length=LENGTH,
        widths=widths(),
        back_widths=widths(narrower=6.0),
        thickness=34,
        waney=True,
        turned=Turn.ROLLED,
        price=Price(1000.0, PriceBasis.CUBIC_METRE),
        **{face.value: FaceRecord(corners_px=taken[face][1]) for face in Face},  # type: ignore[arg-type]
    )
    stored: dict[str, bytes] = {}

    def keep(folder: str, data: bytes, suffix: str) -> str:
        stored[f"{folder}/{len(stored)}{suffix}"] = data
        return list(stored)[-1]

    photos = [(face, face.value, jpeg(rgb)) for face, (rgb, _) in taken.items()]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ui.survey.suggest_marks", lambda *_, **__: ())
        record, _ = surveyed_board(record, photos, keep)
    for face in Face:  # each picture covers the frame of both
        known = record.face(face)
        assert known is not None
        assert known.px_per_mm is not None
        high = picture_from(stored[known.picture or ""]).shape[0]
        assert high == pytest.approx(record.framed * known.px_per_mm, abs=1.5)
    return record


def test_the_whole_outline_lies_in_the_frame_and_bends_as_the_board_does(surveyed: BoardRecord) -> None:
    assert WIDTH + BOW - 5 < surveyed.framed < WIDTH + BOW + 8
    board = surveyed.board()
    assert board.width == surveyed.framed
    for face, less in ((Face.FRONT, 0.0), (Face.BACK, 3.0)):
        wood = Polygon(board.outline(face))
        move = wood.bounds[1] - (float(upper(STATIONS).min()) + less)
        truth = np.concatenate(
            [
                np.stack([STATIONS, upper(STATIONS) + less + move], 1),
                np.stack([STATIONS, lower(STATIONS) - less + move], 1)[::-1],
            ]
        )
        assert wood.symmetric_difference(Polygon(truth)).area < 2.0 * 2 * LENGTH  # 2 mm on either edge


def test_both_faces_lie_over_one_another(surveyed: BoardRecord) -> None:
    front, back = (Polygon(surveyed.board().outline(face)) for face in Face)
    assert back.difference(front.buffer(2.5)).area < 100.0


def test_it_is_bought_and_sold_by_the_tape(surveyed: BoardRecord) -> None:
    board = surveyed.board()
    assert board.widest == WIDTH
    assert price_of(board) == pytest.approx(1000.0 * LENGTH * WIDTH * 34 / 1e9)
    assert surveyed.width == WIDTH
    assert "150" in buying_list_of(surveyed)


def buying_list_of(record: BoardRecord) -> str:
    """What the buying list says of a job in which one piece is cut from the board."""
    layout = Layout(placements=(Placement("rail", 1, record.id, 300.0, 90.0, Face.FRONT),))
    return " ".join(" ".join(row) for row in buying_list(Job(name="one", boards=(record,), layout=layout)))


def test_marks_stay_on_the_wood_when_the_frame_becomes_wider() -> None:
    knot = Mark("knot", DefectKind.SOUND_KNOT, rectangle(300.0, 60.0, 330.0, 90.0), Where.FRONT)
    face = FaceRecord(outline_mm=rectangle(0.0, 5.0, LENGTH, 140.0))
    board = BoardRecord(
        id="7", length=LENGTH, widths=widths(), thickness=34, waney=True, front=face, marks=(knot,)
    )
    after = reframed(board, WIDTH + 40.0)
    assert after.framed == WIDTH + 40.0
    assert after.marks[0].outline == rectangle(300.0, 80.0, 330.0, 110.0)
    assert after.outline(Face.FRONT) == rectangle(0.0, 25.0, LENGTH, 160.0)
    assert reframed(after, WIDTH).marks == board.marks
    assert reframed(after, WIDTH).frame_width is None
    retaped = widths_typed(after, "131 / 160 / 130", Job(name="one"))
    assert (retaped.width, retaped.framed) == (160.0, WIDTH + 40.0)  # until it is surveyed again


@pytest.mark.parametrize("sawing", [Sawing.CROSSCUT_FIRST, Sawing.RIP_FIRST])
def test_a_layout_stays_on_the_wood_when_the_frame_becomes_wider(sawing: Sawing) -> None:
    face = FaceRecord(outline_mm=rectangle(0.0, 5.0, LENGTH, 140.0))
    board = BoardRecord(id="7", length=LENGTH, widths=widths(), thickness=34, waney=True, front=face)
    other = BoardRecord(id="8", length=600.0, widths=((300.0, 120.0),), thickness=34)
    rails = Part("rail", 250.0, 45.0, 30.0, quantity=7)
    job = Job(name="one", boards=(board, other), parts=(rails,), settings=Shop(sawing=sawing))
    layout = planned(job, iterations=3, seed=1)
    job = job.model_copy(update={"layout": layout, "kept": (KeptLayout(name="first", layout=layout),)})
    assert len({one.board for one in layout.placements}) == 2
    assert not checked(job)
    wider = reframed(board, board.framed + 40.0)
    alone = replaced_board(job, wider)
    assert checked(alone)  # the wood moved away under the layout
    after = layouts_moved(alone, "7", 20.0)
    assert not checked(after)
    assert after.layout is not None
    assert [one.y for one in after.layout.on("7")] == [one.y + 20.0 for one in layout.on("7")]
    assert len(after.layout.cuts) == len(layout.cuts)
    assert after.kept[0].layout == after.layout
    edit = edit_between(job, after, "survey board 7, back")
    assert applied(job, edit) == after
    assert applied(after, inverse(edit)) == job
    assert after.layout.on("8") == layout.on("8")


def test_an_edge_that_cannot_be_followed_leaves_the_picture_in_the_shared_frame(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def nothing(*_: object, **__: object) -> None:
        raise VisionError("draw its outline by hand")

    monkeypatch.setattr("vision.rectify.waney_outline", nothing)
    monkeypatch.setattr("vision.waney_scale.waney_outline", nothing)
    rgb, corners = photographed(back=False)
    made = true_scale(
        Photo(rgb, FOCAL_35MM),
        corners,
        LENGTH,
        WIDTH,
        px_per_mm=0.5,
        widths_mm=widths(),
        waney=True,
        shown_mm=WIDTH + 60.0,
    )
    assert made.picture.shape[0] == round((WIDTH + 60.0) * 0.5)
    assert made.frame.to_mm(np.array(corners))[0, 1] == pytest.approx(30.0, abs=2.0)
    assert any("by hand" in note for note in made.notes)


def test_by_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ui.survey.suggest_marks", lambda *_, **__: ())
    rgb, corners = photographed(back=False)
    photo = tmp_path / "front.jpg"
    photo.write_bytes(jpeg(rgb))
    size = ["--length", f"{LENGTH:g}", "--width", "/".join(f"{width:.1f}" for _, width in widths())]
    set_by_hand = ["--corners", *(f"{x:.1f},{y:.1f}" for x, y in corners)]
    words = ["survey", str(photo), *size, *set_by_hand, "--waney", "--out", str(tmp_path / "new")]
    assert main(words) == 0, capsys.readouterr().err
    job = JobFolder(tmp_path / "new").job()
    board = job.board("1")
    assert board.framed > WIDTH + BOW - 5
    ys = [y for _, y in board.outline(Face.FRONT)]
    assert max(ys) - min(ys) > WIDTH + BOW - 8
    assert board.width == pytest.approx(WIDTH, abs=0.1)
