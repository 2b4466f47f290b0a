"""How true a long waney board is that was photographed piece by piece, by widths and by pencil lines.

``pytest tests/bench/test_waney_long_bench.py -m bench -s``: boards of our own wood model cut beside the
bark, 2.2 to 3.2 m, three or four photographs of 1.1 m by our own camera, half of each over the one before,
|k1| up to 0.08, the lens unknown, corners set by hand to a pixel, widths read to 0.5 mm, lines to 1 mm.
"""

from dataclasses import dataclass
from itertools import islice

import cv2
import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from layout.stock import Face
from samples.wood.camera import Camera, photograph
from samples.wood.ground import GROUNDS
from samples.wood.log import grow_log
from samples.wood.picture import face_picture
from samples.wood.species import SPECIES
from samples.wood.stock import board_at, grow_knots
from samples.wood.truth import face_outline
from tests.vision.drawn import pencilled
from vision.frame import Frame
from vision.lens import Lens
from vision.photo import Photo, read_photo
from vision.piece_outline import find_piece_outline
from vision.waney import waney_outline
from vision.waney_photos import PhotosWeighed, WaneyPart, weighed_photos
from vision.waney_scale import both_edges
from vision.waney_ties import edge_at

pytestmark = pytest.mark.bench

BOARDS = 12
FIRST_PIECES, PIECES_OF = 7, 5  # other boards than any setting was chosen on
PIECE, VIEW = 1100.0, 1180.0
WIDE, HIGH = 2400, 1600
WAYS = {
    "a width every 0.5 m": (500.0, 0.0),
    "a width every 0.9 m, a line every 0.45 m": (900.0, 450.0),
}


@dataclass(frozen=True)
class Long:
    name: str
    length: float
    starts: np.ndarray
    seen: list[tuple[np.ndarray, np.ndarray, Camera]]
    outline: Polygon

    def edges(self, x: float) -> tuple[float, float]:
        at = min(max(x, 2.0), self.length - 2.0)
        _, low, _, high = self.outline.intersection(box(at - 1, -50, at + 1, 500)).bounds
        return low, high


def long_board(seed: int) -> Long | None:
    rng, species = np.random.default_rng(7000 + seed), sorted(SPECIES)[seed % len(SPECIES)]
    length = float(rng.uniform(2200, 3200))
    log = grow_knots(grow_log(species, seed + 3, radius=190.0), seed, 5000, 1.0)
    heart, aside = float(rng.uniform(90, 130)), float(rng.uniform(-20, 20))
    board = board_at(log, str(seed), (length, 330.0, 34.0), 300.0, heart, aside=aside)
    if not board.waney:
        return None
    ground, shown = GROUNDS[seed % len(GROUNDS)], face_picture(board, Face.FRONT, 2.4, fine=1)
    k1 = float(rng.uniform(-0.08, 0.08))
    k2 = float(rng.uniform(-0.2, 0.1)) * k1
    starts = np.linspace(0, length - PIECE, int(np.ceil((length - PIECE) / 730)) + 1)
    made = Long(f"{seed} {ground} {species}", length, starts, [], Polygon(face_outline(board, Face.FRONT)))
    focal = 26 / 43.27 * float(np.hypot(WIDE, HIGH))
    for start in starts:
        far = focal * VIEW / WIDE
        lean = np.radians(rng.uniform(-5, 5, 2))
        turn = cv2.Rodrigues(np.array([lean[0], lean[1], 0.0]))[0]
        rotation = cv2.Rodrigues(np.array([0, 0, np.radians(rng.uniform(-2, 2))]))[0] @ turn
        aim = np.array([0.0, rng.uniform(-60, 60), far])
        middle = np.array([start + PIECE / 2, board.width / 2, 0.0])
        camera = Camera(WIDE, HIGH, focal, rotation, aim - rotation @ middle, k1, k2)
        taken = photograph(
            board, Face.FRONT, camera, int(rng.integers(1, 9999)), ground=ground, faults=(), shown=shown
        )
        (a, b), (c, d) = made.edges(start), made.edges(start + PIECE)
        cut = [[start, a, 0], [start + PIECE, c, 0], [start + PIECE, d, 0], [start, b, 0]]
        corners = camera.project(np.array(cut)) + rng.normal(0, 1.0, (4, 2))
        made.seen.append((read_photo(taken.jpeg).rgb, corners, camera))
    return made


def read(board: Long, width_mm: float, line_mm: float) -> tuple[list[WaneyPart], list[tuple[float, float]]]:
    """The photographs with their lines drawn and tapped, and the widths."""
    rng = np.random.default_rng(1)
    at = np.linspace(0, board.length, max(2, round(board.length / width_mm) + 1))
    widths = [(float(x), float(np.ptp(board.edges(x)) + rng.normal(0, 0.5))) for x in at]
    lines = np.arange(line_mm / 2, board.length - 60, line_mm) if line_mm else np.zeros(0)
    parts = []
    _, low, _, high = board.outline.bounds
    for start, (rgb, corners, camera) in zip(board.starts, board.seen, strict=True):
        ends = [
            [start, low, 0],
            [start + PIECE, low, 0],
            [start + PIECE, high, 0],
            [start, high, 0],
        ]
        lens = Lens((camera.matrix[0, 2], camera.matrix[1, 2]), camera.focal, camera.k1, camera.k2)
        frame = Frame.from_corners(camera.project(np.array(ends)), PIECE, high - low, lens)
        picture, ticks = rgb, []
        for x in lines[(lines > start + 25) & (lines < start + PIECE - 25)]:
            picture = pencilled(picture, frame, x - start, high - low)
            place = camera.project(np.array([[x, 165.0, 0.0]]))[0] + rng.normal(0, 1, 2)
            ticks.append(((float(place[0]), float(place[1])), float(round(x))))
        parts.append(WaneyPart(Photo(picture, 26.0), corners, tuple(ticks)))
    return parts, widths


def off(board: Long, made: PhotosWeighed) -> tuple[np.ndarray, np.ndarray]:
    """95 % of places are off by less, along and across, and the worst error stated [mm]."""
    places, away, said = [], [], []
    for number, (start, (_, _, camera)) in enumerate(zip(board.starts, board.seen, strict=True)):
        x, y = np.linspace(start + 15, start + PIECE - 15, 23), [60.0, 165.0, 270.0]
        grid = np.stack(np.meshgrid(x, y, indexing="ij"), -1).reshape(-1, 2)
        at = made.frames[number].to_mm(camera.project(np.column_stack([grid, np.zeros(len(grid))])))
        places.append(grid)
        away.append(at - grid)
        said.append(1.96 * made.bundle.error_at(number, at))
    grid, gone = np.concatenate(places), np.concatenate(away)
    # Where a waney board begins across, and which way is along it, is for its outline to say.
    turn, begin = np.polyfit(grid[:, 0], gone[:, 1], 1)
    gone += np.column_stack([turn * (grid[:, 1] - 165.0), -turn * grid[:, 0] - begin])
    return np.percentile(np.abs(gone), 95, axis=0), np.concatenate(said).max(axis=0)


def test_long_waney_boards() -> None:
    rows: dict[str, list[np.ndarray]] = {way: [] for way in WAYS}
    weak, joins, count = 0, 0, 0
    print()
    for board in (one for seed in range(1, 80) if (one := long_board(seed)) is not None):
        told = []
        for way, (width_mm, line_mm) in WAYS.items():
            made = weighed_photos(*_given(board, width_mm, line_mm))
            found, said = off(board, made)
            rows[way].append(np.concatenate([found, said]))
            told.append(f"{found[0]:.1f}/{found[1]:.1f} ({said[0]:.1f}/{said[1]:.1f})")
            weak, joins = weak + sum(join.weak for join in made.joins), joins + len(made.joins)
        print(f"{board.name:28s} {board.length:.0f} mm  {'  '.join(told)}")
        count += 1
        if count == BOARDS:
            break
    for way, several in rows.items():
        along, across, along_said, across_said = np.array(several).T
        print(
            f"{way:42s} 95 % error, mm, median (worst) along {np.median(along):.2f} ({along.max():.2f}) "
            f"across {np.median(across):.2f} ({across.max():.2f})  said {np.median(along_said):.1f}, "
            f"{np.median(across_said):.1f}  held {np.mean(along <= along_said):.2f}, "
            f"{np.mean(across <= across_said):.2f}"
        )
    print(f"joins {joins}, weak {weak}")
    assert count == BOARDS


def test_edges_are_followed() -> None:
    """Each edge of each photograph in its exact frame, beside the truth every 50 mm."""
    means, spreads = [], []
    boards = (one for seed in range(1, 80) if (one := long_board(seed)) is not None)
    for board in islice(boards, BOARDS):
        _, low, _, high = board.outline.bounds
        for number, (start, (rgb, _, camera)) in enumerate(zip(board.starts, board.seen, strict=True)):
            far = start + PIECE
            ends = np.array([[start, low, 0], [far, low, 0], [far, high, 0], [start, high, 0]])
            lens = Lens((camera.matrix[0, 2], camera.matrix[1, 2]), camera.focal, camera.k1, camera.k2)
            frame = Frame.from_corners(camera.project(ends), PIECE, high - low, lens)
            open_ends = (number > 0, number < len(board.seen) - 1)
            ring = np.array(waney_outline(rgb, frame, PIECE, high - low, open_ends=open_ends))
            x = np.arange(20.0, PIECE - 10.0, 50.0)
            true = np.array([board.edges(start + at) for at in x]).T - low
            for edge, there in zip(both_edges(ring, PIECE), true, strict=True):
                away = edge_at(edge, x) - there
                means.append(abs(float(away.mean())))
                spreads.append(float(away.std()))
    print(
        f"\n{len(means)} edges: spread, mm, median {np.median(spreads):.2f}, worst {max(spreads):.2f}; "
        f"mean off, median {np.median(means):.2f}, worst {max(means):.2f}"
    )
    assert means


def test_corners_of_pieces_unaided() -> None:
    """How far a piece's corners, found unaided, lie from the wood's own edges and ends."""
    worst = []
    boards = (one for seed in range(FIRST_PIECES, 80) if (one := long_board(seed)) is not None)
    print()
    for board in islice(boards, PIECES_OF):
        for number, (rgb, true, camera) in enumerate(board.seen):
            open_ends = (number > 0, number < len(board.seen) - 1)
            found = find_piece_outline(rgb, open_ends, straight=False)
            assert found
            x = np.linspace(0.0, board.length, 300)
            sides = np.array([board.edges(at) for at in x]).T
            lines = [LineString(camera.project(np.column_stack([x, side, 0 * x]))) for side in sides]
            off = [lines[k > 1].distance(Point(at)) for k, at in enumerate(found.corners_px)]
            for k, is_open in enumerate((*open_ends, *open_ends[::-1])):
                if not is_open:
                    off[k] = float(np.hypot(*(found.corners_px[k] - true[k])))
            worst.append(max(off))
            print(f"{board.name:28s} {number} {worst[-1]:6.1f} px  sure {found.confidence:.2f}")
    least = [sum(one <= px for one in worst) for px in (6, 20)]
    print(f"worst of four corners <= 6 px (3 mm) {least[0]}, <= 20 px {least[1]} of {len(worst)}")
    assert least[1] > 0.7 * len(worst)


def _given(
    board: Long, width_mm: float, line_mm: float
) -> tuple[list[WaneyPart], float, list[tuple[float, float]]]:
    parts, widths = read(board, width_mm, line_mm)
    return parts, board.length, widths
