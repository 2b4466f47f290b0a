"""The tiny board of `tests.builders` as a job on disk, with pictures, and photographs of made-up boards."""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.outline import rectangle
from layout.stock import DefectKind, Price, Where
from tests.builders import tiny_knot, tiny_layout, tiny_parts, tiny_shop
from ui.files import JobFolder, stored_name
from ui.jobfile import BoardRecord, FaceRecord, Job
from ui.pictures import jpeg
from vision.marks import Mark, MarkState, Origin

__all__ = ["PHOTO_CORNERS", "photo_of_a_board", "tiny_job", "tiny_job_folder", "wood"]

PHOTO_CORNERS = ((150.0, 300.0), (1430.0, 270.0), (1445.0, 560.0), (140.0, 575.0))


def wood(length: int, width: int, seed: int = 0) -> NDArray[np.uint8]:
    """Brown stripes along the grain, one pixel a millimetre."""
    rng = np.random.default_rng(seed)
    lines = cv2.GaussianBlur(rng.normal(size=(width, 1)), (1, 9), 0) * 22
    noise = cv2.GaussianBlur(rng.normal(size=(width, length)), (41, 1), 0) * 30
    tone = 150 + lines + noise
    rgb = np.stack([tone * 1.15, tone * 0.85, tone * 0.55], axis=-1)
    return np.asarray(np.clip(rgb, 0, 255), dtype=np.uint8)


def photo_of_a_board(length: int = 1000, width: int = 210, seed: int = 0, scale: float = 1.0) -> bytes:
    """A JPEG of a board with a knot, on a dark bench; its corners lie at `PHOTO_CORNERS` times the scale."""
    board = wood(length, width, seed)
    cv2.ellipse(board, (640, 90), (20, 15), 0, 0, 360, (60, 35, 22), -1, cv2.LINE_AA)
    size = round(1600 * scale), round(900 * scale)
    corners = np.float32(PHOTO_CORNERS) * scale
    flat = np.float32([(0, 0), (length, 0), (length, width), (0, width)])
    through = cv2.getPerspectiveTransform(flat, corners)
    ground = np.full((size[1], size[0], 3), (38, 42, 46), np.uint8)
    ground += np.random.default_rng(seed + 1).integers(0, 9, ground.shape, dtype=np.uint8)
    seen = cv2.warpPerspective(board, through, size, flags=cv2.INTER_AREA)
    mask = cv2.warpPerspective(np.full(board.shape[:2], 255, np.uint8), through, size)
    return jpeg(np.where(mask[..., None] > 127, seen, ground).astype(np.uint8), 90)


def tiny_marks() -> tuple[Mark, ...]:
    """The known knot, kept; one sure suggestion right of it, one doubtful one on the back."""
    knot = tiny_knot()
    return (
        Mark(knot.id, knot.kind, knot.outline, knot.where, state=MarkState.CONFIRMED),
        Mark(
            "front-1",
            DefectKind.SOUND_KNOT,
            rectangle(700, 60, 730, 90),
            Where.FRONT,
            0.9,
            Origin.SUGGESTED,
        ),
        Mark("back-1", DefectKind.CHECK, rectangle(600, 150, 660, 153), Where.BACK, 0.6, Origin.SUGGESTED),
    )


def tiny_job(**changes: object) -> Job:
    """The tiny board with its marks, its parts and the layout done by hand."""
    board = BoardRecord(
        id="1",
        length=1000,
        widths=((0, 210),),
        thickness=27,
        price=Price(40.0),
        marks=tiny_marks(),
        front=FaceRecord(
            photo=stored_name("photos", photo_of_a_board(), ".jpg"),
            corners_px=PHOTO_CORNERS,
            picture=stored_name("pictures", jpeg(wood(1000, 210)), ".jpg"),
            px_per_mm=1.0,
            error_mm=0.0,
        ),
        back=FaceRecord(
            picture=stored_name("pictures", jpeg(wood(1000, 210, 5)), ".jpg"), px_per_mm=1.0, error_mm=0.0
        ),
    )
    job = Job(name="Tiny", boards=(board,), parts=tiny_parts(), settings=tiny_shop(), layout=tiny_layout())
    return job.model_copy(update=changes)


def tiny_job_folder(path: Path, **changes: object) -> JobFolder:
    """The same on disk."""
    files = {stored_name("photos", data, ".jpg"): data for data in (photo_of_a_board(),)} | {
        stored_name("pictures", data, ".jpg"): data
        for data in (jpeg(wood(1000, 210)), jpeg(wood(1000, 210, 5)))
    }
    return JobFolder.created(path, tiny_job(**changes), files)
