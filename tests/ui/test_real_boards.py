"""The chain on real boards: six scanned ones with their labels, three photographs from pixels alone."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from layout.allowances import Allowances, Shop
from layout.outline import normal_outline
from layout.parts import Part, PartSide, Visibility
from layout.stock import DefectKind, Face, Where
from ui import chain, survey
from ui.jobfile import BoardRecord, FaceRecord, Job
from vision.marks import Mark, MarkState

pytestmark = pytest.mark.data

PX_PER_MM = 4.0  # of the scans; their README
KINDS = {
    "knot": DefectKind.SOUND_KNOT,
    "crack": DefectKind.CHECK,
    "resin": DefectKind.RESIN_POCKET,
    "pith": DefectKind.PITH,
    "dark_streak": DefectKind.STAIN,
    "stain": DefectKind.STAIN,
    "overgrown": DefectKind.BARK_POCKET,
}
_CONCEALED = dict.fromkeys(PartSide, Visibility.CONCEALED)
PARTS = (  # twelve lines, as for a small cupboard
    Part("door stile", 620, 58, 20, 4),
    Part("door rail", 340, 58, 20, 4),
    Part("top strip", 800, 130, 20, 2),
    Part("side strip", 700, 130, 20, 4, same_board_as="top strip"),
    Part("shelf strip", 760, 120, 18, 4, sides={PartSide.FACE: Visibility.SEEN_IN_USE}),
    Part("bottom strip", 760, 120, 18, 2, sides=_CONCEALED),
    Part("plinth", 800, 80, 20, 1),
    Part("back rail", 760, 60, 18, 3, sides=_CONCEALED),
    Part("drawer front", 360, 110, 20, 2),
    Part("drawer side", 300, 90, 14, 4, sides={PartSide.FACE: Visibility.SEEN_IN_USE}),
    Part("runner", 320, 20, 18, 4, sides=_CONCEALED),
    Part("cleat", 200, 40, 18, 4, sides=_CONCEALED),
)
SHOP = Shop(allowances=Allowances(skim=0.5))


def _marks(objects: list[dict[str, Any]], length: float, width: float) -> Iterator[Mark]:
    """The labels as a maker's confirmed marks; specks that enclose nothing are left out."""
    for number, label in enumerate(objects):
        points = [
            (min(max(x / PX_PER_MM, 0.0), length), min(max(y / PX_PER_MM, 0.0), width))
            for x, y in label.get("polygon") or _corners(label["bbox"])
        ]
        try:
            outline = normal_outline(points, "label")
        except ValueError:
            continue
        kind = KINDS[label["group"]]
        yield Mark(f"label-{number}", kind, outline, Where.FRONT, state=MarkState.CONFIRMED)


def _corners(box: list[float]) -> list[tuple[float, float]]:
    x0, y0, x1, y1 = box
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _scanned(folder: Path) -> BoardRecord:
    known = json.loads(folder.with_suffix(".json").read_text())
    length_mm, width_mm = known["width_px"] / PX_PER_MM, known["height_px"] / PX_PER_MM
    outline = normal_outline([(x / PX_PER_MM, y / PX_PER_MM) for x, y in known["board_outline"]], "outline")
    return BoardRecord(
        id=folder.stem.split("_")[1],
        length=length_mm,
        widths=((0.0, width_mm),),
        thickness=25.0,
        species="spruce",
        front=FaceRecord(px_per_mm=PX_PER_MM, error_mm=0.5, outline_mm=outline),
        marks=tuple(_marks(known["objects"], length_mm, width_mm)),
    )


def test_a_cutting_list_on_six_scanned_boards(shared_data: Path) -> None:
    pictures = sorted((shared_data / "data" / "scanned_boards").glob("*.jpg"))
    boards = tuple(_scanned(path) for path in pictures)
    job = Job(name="six boards", boards=boards, parts=PARTS, settings=SHOP)
    assert len(boards) == 6
    assert sum(len(board.marks) for board in boards) > 100
    layout = chain.planned(job, iterations=15)
    job = job.model_copy(update={"layout": layout})
    assert chain.checked(job) == ()
    asked = sum(part.quantity for part in PARTS)
    assert len(layout.placements) + len(layout.unplaced) == asked
    assert all(item.reason for item in layout.unplaced)
    assert len(layout.placements) > 0.7 * asked


def _truth_corners(label: dict[str, Any]) -> NDArray[np.float64]:
    return np.asarray(label["board_corners_px"], dtype=np.float64)


@pytest.mark.parametrize("number", ["00", "03", "13"])
def test_a_bench_photo_from_pixels_alone(shared_data: Path, number: str) -> None:
    path = shared_data / "data" / "bench_photos" / f"photo_{number}.jpg"
    label = json.loads(path.with_suffix(".json").read_text())
    length, width = label["board_length_mm"], label["board_width_mm"]
    record = BoardRecord(id=number, length=length, widths=((0.0, width),), thickness=25.0)
    files: dict[str, bytes] = {}

    def keep(folder: str, data: bytes, suffix: str) -> str:
        name = f"{folder}/{len(files)}{suffix}"
        files[name] = data
        return name

    record, faces = survey.surveyed_board(record, [(Face.FRONT, path.name, path.read_bytes())], keep)
    found = np.asarray(faces[Face.FRONT].corners_px)
    truth = _truth_corners(label)
    turned = truth[[2, 3, 0, 1]]  # a board has no printed "datum end": either reading is right
    off = min(float(np.abs(found - known).max()) for known in (truth, turned))
    assert off < 12.0, f"corners {off:.1f} px off"
    job = Job(name="bench", boards=(record,), parts=PARTS[-4:], settings=SHOP)
    job = chain.accepted(job, 0.5)
    job = job.model_copy(update={"layout": chain.planned(job, iterations=10)})
    assert chain.checked(job) == ()
    assert job.layout is not None
    assert job.layout.placements
