"""Makes the sample job anew: python -m samples.make_bedside_cabinets [FOLDER].

Boards, photographs and confirmed marks come from the wood model with the seeds
below; the same seeds give the same bytes on the same versions of numpy and OpenCV.
"""

import json
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from shapely import Polygon, clip_by_rect

from layout.allowances import Allowances, Shop
from layout.parts import Part, PartSide, Visibility
from layout.stock import Board, Defect, Face, Price, PriceBasis, Turn
from samples.wood.camera import Phone, Photograph, camera_over, photograph
from samples.wood.faults import Fault
from samples.wood.finish import numbered
from samples.wood.knots import Knot
from samples.wood.light import Light
from samples.wood.log import grow_log
from samples.wood.picture import face_picture
from samples.wood.sawn import SawnBoard
from samples.wood.stock import board_at, check_at, knot_through, split_at, with_branches
from samples.wood.truth import Known, board_as_known, defects_of, known_faults
from ui.cutting_list import parts_to_csv
from ui.jobfile import BoardRecord, FaceRecord, Job, job_json
from vision.marks import Mark, MarkState, Origin

__all__ = ["main", "sample_boards", "sample_parts"]

Corners = tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float]]

SEED = 20260
PHONE = Phone(focal_35mm=26, k1=-0.021, k2=0.004)
SPECIES = "European oak"
PER_M3 = Price(3400.0, PriceBasis.CUBIC_METRE)
_SHOW, _USE, _HID = Visibility.SHOW, Visibility.SEEN_IN_USE, Visibility.CONCEALED


@dataclass(frozen=True)
class Photographed:
    """A board of the sample, and how it was photographed."""

    board: SawnBoard
    price: Price
    ground: str
    sheet: bool = False


def sample_boards() -> tuple[Photographed, ...]:
    """The six boards, faults and all."""
    return _first(), _second(), _third(), _fourth(), _fifth(), _sixth()


def _first() -> Photographed:
    board = board_at(grow_log(SPECIES, SEED + 1, 300.0), "1", (2050, 290, 27), 700, 165)
    knots = (
        _knot(board, "sound knot", (620, 205), 15, tilt=0.5),
        # grown over before it reaches the front: it shows on the back alone
        _knot(board, "closed knot", (1340, 90), 11, tilt=0.45, alive=-24, dead=11),
        _knot(board, "pin knot", (1010, 60), 2.2, tilt=0.3, pin=True),
    )
    board = with_branches(board, knots)
    return Photographed(_with(board, split_at(board, "end split", True, 120, 165, 2.6)), PER_M3, "floor")


def _second() -> Photographed:
    board = board_at(grow_log(SPECIES, SEED + 2, 280.0), "2", (1880, 280, 27), 400, 130, turn=1.1)
    knots = (
        _knot(board, "dead knot", (1180, 175), 13, tilt=0.4, alive=-70, dead=130, tone=0.1),
        _knot(board, "closed knot", (420, 70), 9, tilt=0.5, alive=-30, dead=18),
    )
    return Photographed(with_branches(board, knots), PER_M3, "concrete", sheet=True)


def _third() -> Photographed:
    """Bark on both edges."""
    board = board_at(grow_log(SPECIES, SEED + 3, 205.0), "3", (1720, 460, 27), 900, 128, turn=2.0)
    board = with_branches(board, (_knot(board, "sound knot", (830, 190), 10, tilt=0.55),))
    split = split_at(board, "end split", False, 150, 120, 2.2)
    return Photographed(_with(board, split), Price(31.0), "trestles")


def _fourth() -> Photographed:
    """Bark on one edge."""
    board = board_at(grow_log(SPECIES, SEED + 4, 215.0), "4", (1600, 330, 27), 300, 105, turn=0.6, aside=75)
    knot = _knot(board, "pin knot", (1090, 110), 2.0, tilt=0.3, pin=True)
    return Photographed(with_branches(board, (knot,)), Price(26.0), "floor")


def _fifth() -> Photographed:
    """Quartered: ray fleck, and nothing wrong."""
    log = grow_log(SPECIES, SEED + 5, 330.0)
    return Photographed(board_at(log, "5", (1560, 215, 27), 500, 12, turn=0.2, aside=165), PER_M3, "floor")


def _sixth() -> Photographed:
    board = board_at(grow_log(SPECIES, SEED + 6, 290.0), "6", (1950, 265, 27), 250, 150, turn=2.7, aside=30)
    knots = (
        _knot(board, "sound knot", (560, 60), 12, tilt=0.45),
        _knot(board, "closed knot", (1490, 160), 10, tilt=0.5, alive=-12),
    )
    board = with_branches(board, knots)
    checks = (
        check_at(board, "check", 1060, 200, 0, 130, 8, 0.9),
        check_at(board, "second check", 1180, 60, 27, 95, 6, 0.8),
    )
    return Photographed(_with(board, *checks), PER_M3, "concrete")


def _knot(board: SawnBoard, id: str, at: tuple[float, float], radius: float, **rest: float | bool) -> Knot:
    return knot_through(board, id, (*at, 0.0), radius, **rest)  # type: ignore[arg-type]


def _with(board: SawnBoard, *extra: Fault) -> SawnBoard:
    return replace(board, extra=extra, turned=Turn.ROLLED)


def sample_parts() -> tuple[Part, ...]:
    """What two bedside cabinets, 440 x 270 x 620 mm, are made of."""
    front = {PartSide.NEAR_EDGE: _SHOW}
    hidden = dict.fromkeys(PartSide, _HID)
    inside = {PartSide.FACE: _USE, PartSide.NEAR_EDGE: _SHOW}
    legs = {PartSide.FACE: _SHOW, PartSide.BACK: _USE, PartSide.NEAR_EDGE: _SHOW}
    return (
        Part("top", 440, 252, 20, 2, front | {PartSide.FAR_EDGE: _HID}, priority=3),
        Part("side", 470, 240, 20, 4, front | {PartSide.NEAR_END: _HID, PartSide.FAR_END: _HID}, priority=2),
        Part("drawer front", 392, 152, 20, 2, {}, priority=2, same_board_as="top"),
        Part("shelf", 396, 222, 18, 2, inside),
        Part("bottom", 396, 222, 18, 2, {PartSide.FACE: _HID, PartSide.NEAR_EDGE: _SHOW}),
        Part("front rail", 396, 38, 20, 4, front),
        Part("back rail", 396, 64, 18, 4, hidden),
        Part("leg", 128, 42, 20, 8, legs),
    )


def main(arguments: list[str] | None = None) -> int:
    """Writes the sample job's folder; 0 when done."""
    given = sys.argv[1:] if arguments is None else arguments
    folder = Path(given[0]) if given else Path(__file__).parent / "bedside_cabinets"
    (folder / "photos").mkdir(parents=True, exist_ok=True)
    done = [_written(folder, number, entry) for number, entry in enumerate(sample_boards())]
    job = Job(
        name="A pair of bedside cabinets in oak",
        currency="EUR",
        settings=Shop(allowances=Allowances(skim=1.0)),
        boards=tuple(record for record, _ in done),
        parts=sample_parts(),
    )
    (folder / "job.json").write_text(job_json(job), encoding="utf-8")
    truth = {name: facts for _, photos in done for name, facts in photos.items()}
    (folder / "truth.json").write_text(json.dumps({"photos": truth}, indent=1) + "\n", encoding="utf-8")
    (folder / "cutting_list.csv").write_text(parts_to_csv(sample_parts()), encoding="utf-8")
    return 0


def _written(folder: Path, number: int, entry: Photographed) -> tuple[BoardRecord, dict[str, Any]]:
    """Photographs a board into the folder; its record comes back, and the truth of each photograph."""
    board, rng = entry.board, np.random.default_rng(SEED + 100 + number)
    faults = known_faults(board)
    known = board_as_known(board, entry.price)
    faces: dict[Face, FaceRecord] = {}
    truth: dict[str, Any] = {}
    for face in Face:
        photo = _taken(entry, face, rng, faults)
        name = f"photos/{board.id}-{face.value}.jpg"
        (folder / name).write_bytes(photo.jpeg)
        truth[name] = _truth(photo)
        corners = _dragged(photo, known) if board.waney else None
        faces[face] = FaceRecord(photo=name, corners_px=corners)
    record = BoardRecord(
        id=board.id,
        length=round(board.length),
        widths=_taped(known, Face.FRONT, board.waney),
        back_widths=_taped(known, Face.BACK, True) if board.waney else (),
        frame_width=float(round(known.width)) if board.waney else None,
        back_edge=_beyond(known) if board.waney else (),
        thickness=board.thickness,
        species="oak",
        price=entry.price,
        turned=board.turned,
        waney=board.waney,
        moisture=9.0,
        heart=Face.BACK,  # the wood model's boards lie with their bark side up
        front=faces[Face.FRONT],
        back=faces[Face.BACK],
        marks=tuple(_mark(defect) for fault in faults for defect in defects_of(fault)),
    )
    return record, truth


def _taken(
    entry: Photographed, face: Face, rng: np.random.Generator, faults: tuple[Known, ...]
) -> Photograph:
    """The photograph of a face, the front with its number chalked on."""
    board = entry.board
    camera = camera_over(board, rng, 2400, 1350, tilt=6.0, phone=PHONE)
    light = replace(Light.some(rng), shadow=0.0, noise=1.2)
    seed = int(rng.integers(1, 10**6))
    shown = face_picture(board, face, 1.3, fine=2)
    if face is Face.FRONT:
        chalk = numbered(shown.rgb, 1.3, rng, board.id, (45.0, 0.5 * board.width))
        shown = replace(shown, rgb=chalk)
    sheet = entry.sheet and face is Face.FRONT
    return photograph(board, face, camera, seed, entry.ground, light, sheet, 82, shown=shown, faults=faults)


def _dragged(photo: Photograph, known: Board) -> Corners:
    """Corners of a waney board's ends as the maker drags them, to the pixel."""
    ends = [_edges(known, photo.face, x) for x in (0.0, known.length)]
    if photo.face is Face.BACK:  # rolled over: seen from its other edge
        ends = [(known.width - far, known.width - near) for near, far in ends]
    (first, fourth), (second, third) = ends
    length = known.length
    places = [[0.0, first, 0.0], [length, second, 0.0], [length, third, 0.0], [0.0, fourth, 0.0]]
    dragged = photo.camera.project(np.array(places)).round().tolist()
    one, two, three, four = ((x, y) for x, y in dragged)
    return one, two, three, four


def _edges(known: Board, face: Face, x: float) -> tuple[float, float]:
    """From where to where the wood of a face reaches across, a little inside its ends [mm]."""
    inside = min(max(x, 2.0), known.length - 2.0)
    _, near, _, far = clip_by_rect(Polygon(known.outline(face)), inside - 1, -50, inside + 1, 999).bounds
    return near, far


def _truth(photo: Photograph) -> dict[str, Any]:
    """What the camera knows of a photograph."""
    return {
        "corners_px": photo.corners_px.round(2).tolist(),
        "camera_matrix": photo.camera.matrix.round(3).tolist(),
        "distortion": photo.camera.distortion.round(5).tolist(),
        "faults_px": {
            name: [ring.round(1).tolist() for ring in rings] for name, rings in photo.outlines_px.items()
        },
    }


def _taped(known: Board, face: Face, waney: bool) -> tuple[tuple[float, float], ...]:
    """The tape's widths, to the millimetre: at both ends, and of a waney board in the middle too."""
    length = float(round(known.length))
    if not waney:
        return ((0.0, float(round(known.width))), (length, float(round(known.width))))
    reads = ((x, _edges(known, face, x)) for x in (0.0, length / 2, length))
    return tuple((x, float(round(far - near))) for x, (near, far) in reads)


def _beyond(known: Board) -> tuple[tuple[float, float], ...]:
    """How far the back lies out beyond the front at the datum edge, read with a rule at both ends."""
    ends = (0.0, float(round(known.length)))
    read = ((x, _edges(known, Face.FRONT, x)[0] - _edges(known, Face.BACK, x)[0]) for x in ends)
    return tuple((x, float(round(out))) for x, out in read)


def _mark(defect: Defect) -> Mark:
    return Mark(
        defect.id,
        defect.kind,
        defect.outline,
        defect.where,
        1.0,
        Origin.DRAWN,
        MarkState.CONFIRMED,
        defect.depth,
        defect.wish,
    )


if __name__ == "__main__":
    sys.exit(main())
