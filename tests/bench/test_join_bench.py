"""How well long boards are joined, in mm per metre and seconds.

``pytest tests/bench/test_join_bench.py -m bench -s``. Boards of our own wood model, and
the scanned boards where they are at hand, are cut into overlapping pieces, each with the
errors of its own photograph: along-scale 0.2 %, half a millimetre of bend, its own light,
colour, blur, noise and JPEG.
"""

import time
from pathlib import Path

import cv2
import numpy as np
import pytest

from layout.stock import Face
from samples.wood.log import grow_log
from samples.wood.picture import face_picture
from samples.wood.species import SPECIES
from samples.wood.stock import board_at, grow_knots
from vision.join import Piece, joined
from vision.photo import read_photo

pytestmark = pytest.mark.bench

SCALE = 2.0
PIECE_MM = 800.0


def piece(
    face: np.ndarray, per_mm: float, start: float, rng: np.random.Generator
) -> tuple[Piece, np.ndarray]:
    """One rectified photograph of a part of the face, and the true x of nine places in it [mm]."""
    stretch, bend = 1 + rng.normal(0, 0.002), rng.normal(0, 0.5)
    columns, rows = round(PIECE_MM / stretch * SCALE), round(face.shape[0] / per_mm * SCALE)

    def true_x(u: np.ndarray) -> np.ndarray:
        part = u / (columns / SCALE)
        return start + u * stretch + bend * 4 * part * (1 - part)

    x = true_x((np.arange(columns) + 0.5) / SCALE)
    y = (np.arange(rows) + 0.5) / SCALE + rng.normal(0, 0.5)
    maps = [
        np.ascontiguousarray(m, dtype=np.float32) for m in np.meshgrid(x * per_mm - 0.5, y * per_mm - 0.5)
    ]
    smooth = cv2.GaussianBlur(face, (0, 0), max(0.3, per_mm / SCALE * 0.5))
    seen = cv2.remap(smooth, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT).astype(np.float32) / 255
    seen = seen ** rng.uniform(0.8, 1.25) * rng.uniform(0.85, 1.1, 3)
    seen *= 1 + rng.uniform(-0.25, 0.25) * np.linspace(-1, 1, columns)[None, :, None]
    seen = cv2.GaussianBlur(seen.astype(np.float32), (0, 0), rng.uniform(0.4, 1.0)) + rng.normal(
        0, 0.015, seen.shape
    )
    jpeg = cv2.imencode(".jpg", (np.clip(seen, 0, 1) * 255).astype(np.uint8), [1, int(rng.integers(70, 92))])[
        1
    ]
    return Piece(np.asarray(cv2.imdecode(jpeg, 1)), SCALE), true_x(np.linspace(0, columns / SCALE, 9))


def report(
    name: str, face: np.ndarray, per_mm: float, overlap: float, seed: int
) -> tuple[int, int, int, float]:
    rng = np.random.default_rng(seed)
    length = face.shape[1] / per_mm
    count = max(2, int(np.ceil((length - PIECE_MM) / (PIECE_MM * (1 - overlap)))) + 1)
    pieces, true = zip(
        *[piece(face, per_mm, s, rng) for s in np.linspace(0, length - PIECE_MM, count)], strict=True
    )
    begun = time.perf_counter()
    board = joined(pieces, length)
    seconds = (time.perf_counter() - begun) / (count - 1)
    off = [
        np.abs(start + stretch * np.linspace(0, p.length_mm, 9) - x)
        for p, x, start, stretch in zip(pieces, true, board.starts_mm, board.stretches, strict=True)
    ]
    wrong = [
        abs((board.starts_mm[i + 1] - board.starts_mm[i]) - (true[i + 1][0] - true[i][0])) > 6
        for i in range(count - 1)
    ]
    hidden = sum(bad and not join.weak for bad, join in zip(wrong, board.joins, strict=True))
    untied = (board.untied_mm - length) / length * 1000
    print(
        f"{name:24s} overlap {overlap:.2f}  joins {count - 1}  wrong {sum(wrong)}  hidden {hidden}  "
        f"weak {sum(j.weak for j in board.joins)}  before tape {untied:+.2f} mm/m  "
        f"off {np.percentile(np.concatenate(off), 95):.2f} mm (said {board.error_mm:.1f})  {seconds:.2f} s"
    )
    return sum(wrong), hidden, count - 1, untied


def summed(rows: list[tuple[int, int, int, float]]) -> None:
    wrong, hidden, joins, untied = zip(*rows, strict=True)
    print(
        f"all: {sum(joins)} joins, {sum(wrong)} wrong, {sum(hidden)} of them hidden; "
        f"before the tape: median {np.median(np.abs(untied)):.2f}, worst {np.abs(untied).max():.2f} mm/m"
    )
    assert sum(hidden) == 0


def test_own_wood() -> None:
    rows = []
    print()
    for seed, species in enumerate(sorted(SPECIES)):
        log = grow_log(species, seed + 5)
        if seed % 2:
            log = grow_knots(log, seed, 5000, 1.0)
        board = board_at(log, str(seed), (2600.0, 160.0, 28.0), 300.0, 40.0 + 8 * seed)
        face = face_picture(board, Face.FRONT, SCALE, fine=1).rgb
        rows += [report(species, face, SCALE, overlap, seed) for overlap in (0.15, 0.3)]
    summed(rows)


@pytest.mark.data
def test_scanned_boards(shared_data: Path) -> None:
    rows = []
    print()
    for path in sorted((shared_data / "data" / "scanned_boards").glob("*.jpg")):
        face = read_photo(path.read_bytes()).rgb
        rows += [
            report(path.stem[-12:], face, 4.0, overlap, seed) for overlap in (0.15, 0.3) for seed in (0, 1)
        ]
    summed(rows)
