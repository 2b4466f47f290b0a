"""How often a bank card is found where it lies, and how often one is seen where none is.

``pytest tests/bench/test_card_bench.py -m bench -s``. Cards of any colour are drawn into photographs
by our own camera, among other things and in shade, and into the rendered bench photographs, on the
board and beside it; round corners as ISO/IEC 7810 has them.
"""

import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest

from layout.stock import Face
from samples.wood.camera import Camera, camera_over, photograph
from samples.wood.ground import GROUNDS
from samples.wood.log import grow_log
from samples.wood.species import SPECIES
from samples.wood.stock import board_at, grow_knots
from tests.bench.test_outline_bench import Known, bench_photo
from ui.jobfile import BoardRecord
from ui.rough import paper_checked
from vision.frame import Frame
from vision.lens import Lens
from vision.paper import found_card
from vision.photo import Photo, read_photo
from vision.rectify import true_scale
from vision.reference import Agreement, KnownSize

pytestmark = pytest.mark.bench

FINE = 8  # pixels of the drawn card per mm


SCENES = 12
CLUTTER = (  # things of a bench that are no cards [mm]
    (53.0, 36.0),  # a matchbox
    (147.0, 71.0),  # a phone
    (148.0, 105.0),  # a notebook
    (100.0, 100.0),  # a tile
    (175.0, 8.0),  # a pencil
    (72.0, 66.0),  # a tape measure
    (120.0, 45.0),  # a plane iron
)


def thing(size_mm: tuple[float, float], rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """A thing's picture with some print on it, and its share of each pixel."""
    width, height = (round(side * FINE) for side in size_mm)
    shade = cv2.resize(rng.normal(0, 9, (6, 9)).astype(np.float32), (width, height))[..., None]
    wooden = np.array([180, 140, 95]) + rng.integers(-25, 25)  # some things are of wood's colour
    colour = wooden if rng.random() < 0.2 else rng.integers(20, 235, 3)
    picture = np.clip(colour + shade, 0, 255).astype(np.float32)
    picture[180:260, 80:170] = (200, 180, 90)
    picture[320:340, 80:460:2] = 240 if picture.mean() < 128 else 30
    ys, xs = np.mgrid[:height, :width]
    off = np.abs(np.stack([xs - width / 2, ys - height / 2])) - np.array([width, height])[:, None, None] / 2
    inside = np.hypot(*np.maximum(off + 3.18 * FINE, 0)) < 3.18 * FINE  # as ISO/IEC 7810 rounds a card
    return picture, inside.astype(np.float32)


@dataclass(frozen=True)
class Scene:
    """A board photographed by our own camera, and the plane at any depth below its face."""

    known: Known
    camera: Camera

    def at_depth(self, depth: float) -> Frame:
        length, width = self.known.length, self.known.width
        ends = np.array([[0, 0, depth], [length, 0, depth], [length, width, depth], [0, width, depth]])
        return Frame.from_corners(self.camera.project(ends), length, width, self.known.lens)


def scene(seed: int) -> Scene:
    rng = np.random.default_rng(seed)
    species = sorted(SPECIES)[seed % len(SPECIES)]
    length, width, thick = float(rng.uniform(900, 2400)), float(rng.uniform(120, 240)), 28.0
    log = grow_knots(grow_log(species, seed), seed, 5000, 3)
    board = board_at(log, str(seed), (length, width, thick), 300, float(rng.uniform(20, 120)))
    camera = camera_over(board, rng, 2400, 1600, fill=float(rng.uniform(0.75, 0.92)), tilt=12, bow=0.05)
    ground = GROUNDS[seed % len(GROUNDS)]
    taken = photograph(board, Face.FRONT, camera, seed, ground=ground, faults=(), quality=92)
    lens = Lens((camera.matrix[0, 2], camera.matrix[1, 2]), camera.focal, camera.k1, camera.k2)
    film = camera.focal / np.hypot(2400, 1600) * np.hypot(36, 24)
    photo = Photo(read_photo(taken.jpeg).rgb, round(float(film)))
    none = np.zeros((0, 2))
    known = Known(
        f"{seed} {ground} {species}", photo, length, width, taken.corners_px, none, none, lens, thick
    )
    return Scene(known, camera)


def shaded(rgb: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A shadow with a soft border across the photograph, and noise of its own."""
    height, width = rgb.shape[:2]
    way, through = rng.uniform(0, 2 * np.pi), rng.uniform(0.2, 0.8, 2) * (width, height)
    ys, xs = np.mgrid[:height, :width]
    deep = (xs - through[0]) * np.cos(way) + (ys - through[1]) * np.sin(way)
    dark = 1.0 - rng.uniform(0.25, 0.55) / (1.0 + np.exp(-deep / rng.uniform(4.0, 40.0)))
    return np.clip(rgb * dark[..., None] + rng.normal(0, 1.5, rgb.shape), 0, 255).astype(np.uint8)


def cluttered(
    seen: Scene, kept_free: np.ndarray, rng: np.random.Generator
) -> tuple[np.ndarray, list[np.ndarray]]:
    """The photograph with things of other sizes on the board and the bench, away from a place kept free."""
    rgb, there = seen.known.photo.rgb, []
    for number in rng.choice(len(CLUTTER), 4, replace=False):
        on_board = bool(rng.random() < 0.4)
        for _ in range(20):
            y = seen.known.width / 2 if on_board else float(rng.choice([-90.0, seen.known.width + 90.0]))
            at = np.array([rng.uniform(0.05, 0.95) * seen.known.length, y])
            if min(np.hypot(*(at - other)) for other in (kept_free, *there, at + 999)) > 140.0:
                break
        else:
            continue
        there.append(at)
        frame = seen.at_depth(0.0 if on_board else 28.0)
        rgb, _ = laid(rgb, frame, CLUTTER[number], at, 0.5 * float(rng.uniform(0, 6)), rng)
    return rgb, there


def warned(rgb: np.ndarray, seen: Scene, rng: np.random.Generator) -> Agreement | None:
    """What the program says of the tape, which is right, by corners set by hand and the lens unknown."""
    known = seen.known
    clicked = known.corners_px + rng.normal(0, 1.0, (4, 2))
    photo = Photo(rgb, known.photo.focal_35mm)
    made = true_scale(photo, clicked, known.length, known.width, px_per_mm=0.2, thickness_mm=known.thickness)
    board = BoardRecord(id="1", length=known.length, widths=((0.0, known.width),), thickness=28.0)
    return paper_checked(photo, made.frame, board, made.error_mm)


def test_cards_by_our_own_camera() -> None:
    """On and beside boards on every ground, in shade, among other things, of any colour, some like wood."""
    seconds: list[float] = []
    count = dict.fromkeys(("scenes", "found", "wrong place", "seen where none is", "warned", "agreed"), 0)
    print()
    for seed in range(800, 800 + SCENES):
        seen, rng = scene(seed), np.random.default_rng(seed)
        known = seen.known
        for where in ("none", "on", "beside"):
            depth = 28.0 if where == "beside" else 0.0
            y = known.width / 2 if where == "on" else known.width + 75.0
            at = np.array([rng.uniform(0.15, 0.85) * known.length, y])
            rgb, _ = cluttered(seen, at, rng)
            corners = None
            if where != "none":
                size = KnownSize.BANK_CARD.value
                rgb, corners = laid(rgb, seen.at_depth(depth), size, at, float(rng.uniform(-0.6, 0.6)), rng)
            rgb = shaded(rgb, rng)
            begun = time.process_time()
            found = found_card(rgb, seen.at_depth(0.0), known.length, known.width)
            seconds.append(time.process_time() - begun)
            if corners is None:
                count["seen where none is"] += found is not None
            else:
                count["scenes"] += 1
                off = (
                    np.inf
                    if found is None
                    else max(float(np.hypot(*(corners - corner).T).min()) for corner in found)
                )
                count["found"] += off < 5.0
                count["wrong place"] += 5.0 <= off < np.inf
                print(f"{known.name:28s} {where:6s} {'missed' if found is None else f'{off:.1f} px'}")
            said = warned(rgb, seen, rng)
            count["warned"] += said is not None and not said
            count["agreed"] += said is not None and bool(said)
    print(", ".join(f"{name} {number}" for name, number in count.items()), f"of {3 * SCENES} photographs")
    print(f"looking for a card: median {np.median(seconds):.2f} s, longest {max(seconds):.2f} s of processor")
    assert count["warned"] == 0


def laid(
    rgb: np.ndarray,
    frame: Frame,
    size_mm: tuple[float, float],
    middle: np.ndarray,
    angle: float,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """The photograph with a thing laid in it, printed on, with round corners; and its corners [px]."""
    picture, inside = thing(size_mm, rng)
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    flat = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size_mm
    corners = frame.to_px((flat - np.array(size_mm) / 2) @ spin.T + middle)
    through = cv2.getPerspectiveTransform((flat * FINE).astype(np.float32), (corners * 2).astype(np.float32))
    size = (rgb.shape[1], rgb.shape[0])
    twice = (2 * size[0], 2 * size[1])
    share = cv2.resize(cv2.warpPerspective(inside, through, twice), size, interpolation=cv2.INTER_AREA)
    seen = cv2.warpPerspective(picture, through, twice, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.resize(seen, size, interpolation=cv2.INTER_AREA)
    # Its shadow: soft, a millimetre or two to one side.
    dark = cv2.GaussianBlur(np.roll(share, (2, 1), axis=(0, 1)), (0, 0), 2.0)
    ground = rgb * (1 - 0.35 * dark[..., None])
    mixed = ground * (1 - share[..., None]) + (seen + rng.normal(0, 2, seen.shape)) * share[..., None]
    return np.clip(mixed, 0, 255).astype(np.uint8), corners


@pytest.mark.data
def test_cards_on_the_bench_photos(shared_data: Path) -> None:
    rng, off, missed, false = np.random.default_rng(5), [], 0, 0
    paths = sorted((shared_data / "data" / "bench_photos").glob("*.jpg"))
    for path in paths:
        known = bench_photo(path)
        frame = Frame.from_corners(known.corners_px, known.length, known.width, known.lens)
        false += found_card(known.photo.rgb, frame, known.length, known.width) is not None
        for y in (known.width / 2, known.width + 70):
            at = np.array([rng.uniform(0.2, 0.8) * known.length, y])
            size = KnownSize.BANK_CARD.value
            rgb, corners = laid(known.photo.rgb, frame, size, at, float(rng.uniform(-0.6, 0.6)), rng)
            found = found_card(rgb, frame, known.length, known.width)
            missed += found is None
            if found is not None:
                off.append(max(float(np.hypot(*(corners - corner).T).min()) for corner in found))
    print(
        f"\ncards: missed {missed} of {2 * len(paths)}, seen where none is {false} of {len(paths)}; "
        f"worst corner median {np.median(off):.1f} px, worst {max(off):.1f} px"
    )
    assert off
