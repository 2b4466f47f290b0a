"""How well long boards are joined, in mm per metre and seconds.

`test_own_camera`: photographed by our own camera over boards of our own wood model, each
photograph squared by its edges as a maker's would be. The others know the errors they put in.

``pytest tests/bench/test_join_bench.py -m bench -s``. Boards of our own wood model, and
the scanned boards where they are at hand, are cut into overlapping pieces, each with the
errors of its own photograph: along-scale 0.2 %, half a millimetre of bend, its own light,
colour, blur, noise and JPEG.
"""

import time
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import pytest

from layout.stock import Face
from samples.wood.camera import Camera, photograph
from samples.wood.log import grow_log
from samples.wood.picture import Shown, face_picture
from samples.wood.sawn import SawnBoard
from samples.wood.species import SPECIES
from samples.wood.stock import board_at, grow_knots
from tests.vision.drawn import pencilled
from vision.frame import Frame
from vision.join import ChalkMark, Piece, joined
from vision.lens import Lens, LensPrior
from vision.photo import Photo, read_photo
from vision.photos_joined import PartSeen, PhotosJoined, joined_photos
from vision.ticks import line_near

pytestmark = pytest.mark.bench

SCALE = 2.0
PIECE_MM = 800.0
VIEW_MM = 1180.0


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
) -> tuple[int, int, int, float, float]:
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
        np.abs(board.places.along(i, np.linspace(0, p.length_mm, 9)) - x)
        for i, (p, x) in enumerate(zip(pieces, true, strict=True))
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
    return (
        sum(wrong),
        hidden,
        count - 1,
        untied,
        float(np.percentile(np.concatenate(off), 95)) / length * 1000,
    )


def summed(rows: list[tuple[int, int, int, float, float]]) -> None:
    wrong, hidden, joins, untied, tied = zip(*rows, strict=True)
    print(
        f"all: {sum(joins)} joins, {sum(wrong)} wrong, {sum(hidden)} of them hidden; "
        f"before the tape: median {np.median(np.abs(untied)):.2f}, worst {np.abs(untied).max():.2f} mm/m; "
        f"95 % of places after it: median {np.median(tied):.2f}, worst {max(tied):.2f} mm/m"
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


def over_a_part(board: SawnBoard, start: float, rng: np.random.Generator, k1: float) -> Camera:
    """A phone held over the stretch of VIEW_MM from `start` on, some degrees off square."""
    width, height, focal = 2400, 1600, 26.0 / 43.27 * float(np.hypot(2400, 1600))
    far = focal * VIEW_MM / width
    lean = np.radians(rng.uniform(-5, 5, 2))
    turn = cv2.Rodrigues(np.array([lean[0], lean[1], 0.0]))[0]
    rotation = cv2.Rodrigues(np.array([0, 0, np.radians(rng.uniform(-2, 2))]))[0] @ turn
    middle = np.array([start + VIEW_MM / 2, board.width / 2, 0.0])
    aim = np.array([0.0, rng.uniform(-60, 60), far])
    return Camera(width, height, focal, rotation, aim - rotation @ middle, k1, 0.0)


def part_seen(
    board: SawnBoard, shown: Shown, span: tuple[float, float], rng: np.random.Generator, k1: float
) -> tuple[Photo, np.ndarray, Camera]:
    """A photograph of a stretch, and the corners of it as set by hand."""
    camera = over_a_part(board, (span[0] + span[1] - VIEW_MM) / 2, rng, k1)
    taken = photograph(board, Face.FRONT, camera, int(rng.integers(1, 9999)), faults=(), shown=shown)
    ends = np.array([[span[0], 0], [span[1], 0], [span[1], board.width], [span[0], board.width]])
    corners = camera.project(np.column_stack([ends, np.zeros(4)])) + rng.normal(0, 1.0, (4, 2))
    return Photo(read_photo(taken.jpeg).rgb, 26.0), corners, camera


@pytest.mark.parametrize(("known", "lines"), [(False, False), (True, False), (False, True)])
def test_own_camera(known: bool, lines: bool) -> None:
    """Long boards in three or four photographs of some 1.1 m, overlapping by a third.

    `lines`: a pencil line across each overlap, tapped in both photographs, read to whole millimetres.
    """
    rows, off = [], []
    print(f"\nlens {'known' if known else 'unknown'}{', lines read with the tape' if lines else ''}")
    for seed, species in enumerate(sorted(SPECIES)[::2]):
        rng = np.random.default_rng(900 + seed)
        length, width = float(rng.uniform(2200, 3200)), float(rng.uniform(130, 210))
        log = grow_knots(grow_log(species, seed + 50), seed, 5000, 1.0)
        board = board_at(log, str(seed), (length, width, 28.0), 300.0, float(rng.uniform(30, 120)))
        shown, k1 = face_picture(board, Face.FRONT, 2.4, fine=1), float(rng.uniform(-0.06, 0.06))
        count = int(np.ceil((length - 1100) / 730)) + 1
        starts = np.linspace(0, length - 1100, count)
        seen = [part_seen(board, shown, (start, start + 1100), rng, k1) for start in starts]
        lens = None
        if known:
            focal = float(np.mean([camera.focal for _, _, camera in seen]))
            lens = LensPrior(Lens((1199.5, 799.5), focal, k1 + 0.002), 0.005, 0.002, 0.004)
        parts, taps = [], []
        for start, (photo, corners, camera) in zip(starts, seen, strict=True):
            across = (starts[1:] + starts[:-1] + 1100) / 2 if lines else []
            photo, tapped = lined(photo, camera, (start, start + 1100), width, across, rng)
            parts.append(PartSeen(photo, corners, width))
            taps.append(tapped)
        made = joined_photos(
            parts,
            length,
            lens=lens,
            thickness_mm=28.0,
            chalk=lambda frames, taps=taps, parts=parts: chalked(frames, taps, parts),
        )
        along, across_mm = places_off(made, [camera for _, _, camera in seen], starts, width)
        wrong = [abs(a - b) > 6 for a, b in zip(made.board.starts_mm, starts, strict=True)][1:]
        hidden = sum(bad and not join.weak for bad, join in zip(wrong, made.board.joins, strict=True))
        untied = (made.board.untied_mm - length) / length * 1000
        said = max(piece.across_mm for piece in made.pieces)
        rows.append((sum(wrong), hidden, count - 1, untied, along / length * 1000))
        off.append((along, made.board.error_mm, across_mm, said))
        print(
            f"{species:16s} {length:.0f} mm  joins {count - 1}  wrong {sum(wrong)}"
            f"  before tape {untied:+.2f} mm/m  along {along:.2f} mm"
            f" (said {made.board.error_mm:.1f})  across {across_mm:.2f} mm (said {said:.2f})"
        )
    summed(rows)
    along_mm, along_said, across_off, across_said = np.array(off).T
    print(
        f"along {np.median(along_mm):.2f} ({along_mm.max():.2f}) mm, "
        f"held {np.mean(along_mm <= along_said):.2f}; "
        f"across {np.median(across_off):.2f} ({across_off.max():.2f}) mm, "
        f"held {np.mean(across_off <= across_said):.2f}"
    )


def lined(
    photo: Photo,
    camera: Camera,
    span: tuple[float, float],
    width: float,
    lines: np.ndarray | list[float],
    rng: np.random.Generator,
) -> tuple[Photo, list[tuple[np.ndarray, float]]]:
    """The photograph with those of the pencil lines that it sees, and each as tapped and read."""
    ends = np.array([[span[0], 0], [span[1], 0], [span[1], width], [span[0], width]])
    lens = Lens((camera.matrix[0, 2], camera.matrix[1, 2]), camera.focal, camera.k1, camera.k2)
    seen = camera.project(np.column_stack([ends, np.zeros(4)]))
    frame = Frame.from_corners(seen, span[1] - span[0], width, lens)
    rgb, tapped = photo.rgb, []
    for x in lines:
        if span[0] + 20 < x < span[1] - 20:
            rgb = pencilled(rgb, frame, x - span[0], width)
            tapped.append((frame.to_px([x - span[0], width / 2]) + rng.normal(0, 1.0, 2), round(x)))
    return Photo(rgb, photo.focal_35mm), tapped


def chalked(
    frames: Sequence[Frame], taps: list[list[tuple[np.ndarray, float]]], parts: list[PartSeen]
) -> list[ChalkMark]:
    """The lines as chalk marks, each where it is seen beside its tap."""
    marks = []
    for number, (frame, tapped, part) in enumerate(zip(frames, taps, parts, strict=True)):
        for at, reading in tapped:
            line = line_near(part.photo.rgb, at, frame, part.width_mm)
            x, y = frame.to_mm(at if line is None else line)
            marks.append(ChalkMark(number, float(x), f"{reading}", reading, float(y) / part.width_mm))
    return marks


def places_off(
    made: PhotosJoined, cameras: list[Camera], starts: np.ndarray, width: float
) -> tuple[float, float]:
    """95 % of places all over the board are off by less, along and across [mm]."""
    along, across = [], []
    for number, (camera, start) in enumerate(zip(cameras, starts, strict=True)):
        grid = np.stack(
            np.meshgrid(np.linspace(start + 10, start + 1090, 23), [5.0, width / 2, width - 5]), axis=-1
        ).reshape(-1, 2)
        at = made.frames[number].to_mm(camera.project(np.column_stack([grid, np.zeros(len(grid))])))
        placed = made.board.places.along(number, at[:, 0], at[:, 1] / width - 0.5)
        along.append(np.abs(placed - grid[:, 0]))
        across.append(np.abs(at[:, 1] - grid[:, 1]))
    return float(np.percentile(np.concatenate(along), 95)), float(np.percentile(np.concatenate(across), 95))


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
