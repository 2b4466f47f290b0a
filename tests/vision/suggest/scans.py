"""The scanned boards kept outside the project, as true-scale pictures with their hand-made marks."""

import json
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.outline import Outline

Truth = list[tuple[str, Outline]]


def scanned_boards(
    shared: Path, px_per_mm: float = 2.0, names: str = "board_*"
) -> Iterator[tuple[str, NDArray[np.uint8], Truth]]:
    """Name, RGB picture, and hand-made marks in mm of each whole scanned board."""
    for path in sorted((shared / "data" / "scanned_boards").glob(f"{names}.jpg")):
        told = json.loads(path.with_suffix(".json").read_text())
        picture = cv2.cvtColor(cv2.imread(str(path)), cv2.COLOR_BGR2RGB)
        share = px_per_mm / told["px_per_mm"]
        picture = cv2.resize(picture, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
        truth = [(one["group"], scaled(one, told["px_per_mm"], told["px_per_mm"])) for one in told["objects"]]
        yield path.stem, np.asarray(picture, dtype=np.uint8), truth


def rare_frames(shared: Path, px_per_mm: float = 2.0) -> Iterator[tuple[str, NDArray[np.uint8], Truth]]:
    """The same for the short frames, turned so that the grain runs along x."""
    folder = shared / "data" / "rare_defect_frames"
    for entry in json.loads((folder / "index.json").read_text()):
        sx, sy = entry["px_per_mm_x"], entry["px_per_mm_y"]
        picture = cv2.cvtColor(cv2.imread(str(folder / entry["image"])), cv2.COLOR_BGR2RGB)
        size = (round(entry["width"] / sx * px_per_mm), round(entry["height"] / sy * px_per_mm))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA).transpose(1, 0, 2)
        marks = json.loads((folder / entry["labels"]).read_text())
        truth = [(one["group"], tuple((y, x) for x, y in scaled(one, sx, sy))) for one in marks]
        yield entry["image"], np.ascontiguousarray(picture, dtype=np.uint8), truth


def scaled(one: dict, sx: float, sy: float) -> Outline:
    ring = one.get("polygon") or []
    if len(ring) < 3:
        x0, y0, x1, y1 = one["bbox"]
        ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    return tuple((x / sx, y / sy) for x, y in ring)
