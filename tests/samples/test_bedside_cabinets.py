import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from shapely import Polygon

from layout.allowances import sawn_length, sawn_width
from layout.outline import Outline
from layout.parts import Part, PartSide
from layout.stock import DefectKind, Face, Where
from samples import make_bedside_cabinets as made
from samples.wood.truth import defects_of, face_outline, known_faults
from ui.board_frame import as_read_on, in_board_frame
from ui.cutting_list import parts_from_csv
from ui.jobfile import Job, boards_of, job_from
from vision.outline import find_outline
from vision.photo import read_photo
from vision.rectify import true_scale
from vision.waney_faces import OtherFace, edges_at

FOLDER = Path(made.__file__).parent / "bedside_cabinets"


@pytest.fixture(scope="module")
def job() -> Job:
    return job_from((FOLDER / "job.json").read_bytes())


def test_the_folder_is_complete_and_small(job: Job) -> None:
    for board in job.boards:
        for record in (board.front, board.back):
            assert record is not None
            assert record.photo is not None
            assert (FOLDER / record.photo).read_bytes()[:2] == b"\xff\xd8"
    assert sum(path.stat().st_size for path in FOLDER.rglob("*") if path.is_file()) <= 6_000_000
    assert "seed 20260" in (FOLDER / "ORIGIN.md").read_text(encoding="utf-8")


def test_the_cutting_list_is_the_jobs(job: Job) -> None:
    parts = parts_from_csv((FOLDER / "cutting_list.csv").read_text(encoding="utf-8"))
    assert [_said(part) for part in parts] == [_said(part) for part in job.parts]
    assert 20 <= sum(part.quantity for part in job.parts) <= 30


def _said(part: Part) -> tuple[object, ...]:
    seen = [part.visibility(side) for side in PartSide]
    return part.name, part.quantity, part.length, part.width, part.thickness, seen, part.same_board_as


def test_every_part_fits_some_board(job: Job) -> None:
    allowances = job.settings.allowances
    for part in job.parts:
        fits = [
            board
            for board in boards_of(job)
            if sawn_length(part, allowances) <= board.length - 2 * allowances.end_trim
            and sawn_width(part, allowances) <= board.width - 2 * allowances.edge_trim
            and part.thickness <= board.thickness - 2 * allowances.skim
        ]
        assert fits, part.name


def test_the_boards_need_thought(job: Job) -> None:
    """Faults on the back alone, through faults, a dead knot, sapwood and a split are all there."""
    defects = [defect for board in boards_of(job) for defect in board.defects]
    assert sum(d.where is Where.BACK and d.kind is DefectKind.SOUND_KNOT for d in defects) >= 3
    kinds = {d.kind for d in defects}
    assert {DefectKind.DEAD_KNOT, DefectKind.SAPWOOD, DefectKind.SPLIT, DefectKind.CHECK} <= kinds
    finished = job_from((FOLDER / "finished/job.json").read_bytes())
    assert any(board.front != board.back for board in boards_of(finished))


def test_the_confirmed_marks_are_the_models(job: Job) -> None:
    """Sawing the first board again from its seed gives the marks that stand in the job."""
    board = made.sample_boards()[0].board
    marks = {mark.id: mark for mark in job.board("1").marks}
    again = [defect for known in known_faults(board) for defect in defects_of(known)]
    assert {defect.id for defect in again} == set(marks)
    for defect in again:
        assert defect.kind is marks[defect.id].kind
        apart = Polygon(defect.outline).hausdorff_distance(Polygon(marks[defect.id].outline))
        assert apart < 0.5


def test_no_mark_lies_outside_its_board(job: Job) -> None:
    for board in boards_of(job):
        for defect in board.defects:
            points = np.array(defect.outline)
            assert points.min() >= -0.01
            assert (points.max(axis=0) <= (board.length + 0.6, board.width + 0.6)).all()


def _outline(number: str, face: Face) -> Outline:
    """The model's outline of a waney face, as it is seen."""
    board = next(entry.board for entry in made.sample_boards() if entry.board.id == number)
    outline = face_outline(board, face)
    return outline if face is Face.FRONT else tuple((x, board.width - y) for x, y in outline)


def _across(outline: Outline) -> tuple[float, float]:
    return min(y for _, y in outline), max(y for _, y in outline)


def test_the_faces_of_the_waney_boards_lie_over_one_another_as_the_model_has_them() -> None:
    """By two readings with a square and a rule: without them 10 mm and more were open."""
    finished = job_from((FOLDER / "finished/job.json").read_bytes())
    for number in ("3", "4"):
        record = finished.board(number)
        model_width = next(one.board.width for one in made.sample_boards() if one.board.id == number)
        assert all(record.face(face).outline_found for face in Face)
        board, x = record.board(), np.linspace(30.0, record.length - 30.0, 41)
        middles = {
            "model": [np.mean(edges_at(np.array(_outline(number, face)), x), axis=0) for face in Face],
            "found": [
                np.mean(edges_at(np.array(in_board_frame(board.outline(face), record, face)), x), axis=0)
                for face in Face
            ],
        }
        apart = {name: front + back for name, (front, back) in middles.items()}  # the back is seen mirrored
        off = (apart["found"] - record.framed) - (apart["model"] - model_width)
        assert np.abs(off).max() < (record.front.apart_mm or record.back.apart_mm or 0.0) + 2.0


NAMES = [f"{number}-{face}" for number in range(1, 7) for face in ("front", "back")]


@pytest.mark.parametrize("name", NAMES)
def test_a_photograph_comes_true_within_the_error_it_claims(job: Job, name: str) -> None:
    """Points of the face projected by the camera's truth are measured in the result.

    Square boards from pixels alone, waney ones from the corners their maker set; where across its frame
    such a face lies is arbitrary, so it is laid where the model has it.
    """
    number, seen = name.split("-")
    board = job.board(number)
    truth = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))["photos"][f"photos/{name}.jpg"]
    photo = read_photo((FOLDER / f"photos/{name}.jpg").read_bytes())
    corners = np.array(truth["corners_px"])
    set_by_hand = board.face(Face(seen)).corners_px
    if set_by_hand is None:
        found = find_outline(photo.rgb)
        assert found
        assert np.hypot(*(np.array(found.corners_px) - corners).T).max() < 4.0
        set_by_hand = found.corners_px
    read = as_read_on(board, Face(seen))
    scaled = true_scale(
        photo,
        set_by_hand,
        board.length,
        read.width,
        widths_mm=read.widths,
        waney=board.waney,
        shown_mm=board.framed,
        lies_mm=_across(_outline(number, Face(seen))) if board.waney else None,
    )
    matrix, bent = np.array(truth["camera_matrix"]), np.array(truth["distortion"])
    length, width = board.length, board.framed
    across, along = np.meshgrid(np.linspace(10, width - 10, 4), np.linspace(30, length - 30, 15))
    grid = np.column_stack([along.ravel(), across.ravel()])
    face = np.array([[0, 0], [length, 0], [length, width], [0, width]], dtype=np.float64)
    # Through the exact corners, not by a pose: the box is a fraction of a millimetre off the tape's.
    straight = cv2.undistortPoints(corners.reshape(-1, 1, 2), matrix, bent)
    seen_at = cv2.perspectiveTransform(grid[:, None], cv2.findHomography(face, straight)[0])
    rays = np.concatenate([seen_at, np.ones((len(grid), 1, 1))], axis=2)
    pixels, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), matrix, bent)
    off = np.hypot(*(scaled.frame.to_mm(pixels.reshape(-1, 2)) - grid).T)
    assert np.quantile(off, 0.95) < scaled.error_mm


@pytest.mark.parametrize("name", ["3-front", "4-back", "5-front"])
def test_a_waney_board_taken_for_square_is_noticed(job: Job, name: str) -> None:
    board = job.board(name[0])
    truth = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))["photos"][f"photos/{name}.jpg"]
    photo = read_photo((FOLDER / f"photos/{name}.jpg").read_bytes())
    scaled = true_scale(photo, np.round(truth["corners_px"]), board.length, board.framed)
    assert any("say that the board is waney" in note for note in scaled.notes) is board.waney


def test_a_waney_face_lies_where_its_outline_was_drawn(job: Job) -> None:
    """The front of board 3 is 281 mm of its 318 mm wide: where across, bark hides that slopes."""
    board, photo = job.board("3"), read_photo((FOLDER / "photos/3-front.jpg").read_bytes())
    front, back = (_outline("3", face) for face in Face)
    alone, drawn = (
        true_scale(
            photo,
            board.front.corners_px,
            1720,
            281,
            widths_mm=board.widths,
            waney=True,
            shown_mm=318,
            lies_mm=lies,
            other=OtherFace([(x, 318 - y) for x, y in back]),
            thickness_mm=27,
        )
        for lies in (None, _across(front))
    )
    assert max(drawn.error_mm, alone.error_mm) < 6 < 10 < alone.apart_mm
    assert drawn.apart_mm == 0.0
    assert min(y for _, y in drawn.outline_mm) == pytest.approx(18, abs=2)
