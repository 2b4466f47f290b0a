"""A real lens against squares of known size.

Source: the chessboard photographs of OpenCV's calibration sample, as Debian packages
them: package ``opencv-doc``, files ``/usr/share/doc/opencv-doc/examples/data/left*.jpg``
(13 pictures, 640 x 480, 9 x 6 inner corners, one strongly barrel-shaped lens; Apache-2.0).
A printed chessboard's squares are equal, so inner corners between the four outermost
tell how far a true-scale picture may be off with this lens.
"""

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from vision.adjust import adjusted
from vision.chessboard import chessboard_corners, lens_profile
from vision.evidence import Evidence, Readings
from vision.frame import Frame
from vision.lens import Lens, LensPrior, focal_px
from vision.photo import read_photo

FOLDER = Path("/usr/share/doc/opencv-doc/examples/data")
PHOTOS = sorted(FOLDER.glob("left[01]*.jpg"))
COLUMNS, ROWS, SQUARE = 9, 6, 25.0
LENGTH, WIDTH = (COLUMNS - 1) * SQUARE, (ROWS - 1) * SQUARE

pytestmark = pytest.mark.skipif(
    len(PHOTOS) < 10, reason="Debian's opencv-doc, with its photographs, is not installed"
)

# Goals for the worst inner corner, in % of the board's size; four plain corners give 1.5 and 2.9.
WITH_EDGES = 0.5
WITH_PROFILE = 0.7


@lru_cache(maxsize=1)
def pictures() -> tuple[np.ndarray, ...]:
    return tuple(read_photo(path.read_bytes()).rgb for path in PHOTOS)


@lru_cache(maxsize=1)
def grids() -> tuple[np.ndarray, ...]:
    """Inner corners of each picture, [row, column, 2], clockwise from the first."""
    answer = []
    for rgb in pictures():
        corners = chessboard_corners(rgb, COLUMNS, ROWS)
        assert corners is not None
        grid = corners.reshape(ROWS, COLUMNS, 2)
        right, down = grid[0, -1] - grid[0, 0], grid[-1, 0] - grid[0, 0]
        answer.append(grid if right[0] * down[1] - right[1] * down[0] > 0 else grid[::-1])
    return tuple(answer)


def outermost(grid: np.ndarray) -> np.ndarray:
    return np.array([grid[0, 0], grid[0, -1], grid[-1, -1], grid[-1, 0]])


def worst(frame: Frame, grid: np.ndarray) -> float:
    """Worst inner corner, % of the board's length or width."""
    true = np.stack(np.meshgrid(np.arange(COLUMNS), np.arange(ROWS)), axis=-1) * SQUARE
    off = np.abs(frame.to_mm(grid) - true) / [LENGTH, WIDTH]
    return float(100 * off.max())


def from_edges(grid: np.ndarray, rgb: np.ndarray) -> Frame:
    """One picture alone: its four outer rows of corners are the straight edges of a 'board'."""
    height, width = rgb.shape[:2]
    lens = Lens(((width - 1) / 2, (height - 1) / 2), focal_px(width, height, None))
    readings = Readings(
        LENGTH,
        ((None, WIDTH),),
        tape_mm=0.02,
        rule_mm=0.02,
        straight_mm=0.05,
        parallel_mm=0.05,
        square=0.0005,
    )
    evidence = Evidence(
        corners_px=outermost(grid),
        edges_px=(grid[0], grid[:, -1], grid[-1][::-1], grid[::-1, 0]),
        readings=readings,
        prior=LensPrior(lens, focal_spread=0.3, centre_spread=0.01, k1_spread=0.3),
        diagonal_px=float(np.hypot(width, height)),
        edge_px=0.1,
        seat_px=0.02,
    )
    return adjusted(evidence).frame


def test_straight_edges_of_the_picture_itself_undo_the_lens() -> None:
    plain = [worst(Frame.from_corners(outermost(g), LENGTH, WIDTH), g) for g in grids()]
    edges = [worst(from_edges(g, rgb), g) for g, rgb in zip(grids(), pictures(), strict=True)]
    print(f"\nworst inner corner, % of the board: median (worst) of {len(edges)} photographs")
    for how, off in (("four corners", plain), ("with edges", edges)):
        print(f"{how}: {np.median(off):.2f} ({max(off):.2f})")
    assert max(plain) > 1.5  # or the lens would be no test
    assert max(edges) < WITH_EDGES
    assert all(e < p for e, p in zip(edges, plain, strict=True))


def test_a_profile_from_other_photographs_undoes_the_lens() -> None:
    profile = lens_profile(pictures()[::2], COLUMNS, ROWS)
    assert profile
    off = [worst(Frame.from_corners(outermost(g), LENGTH, WIDTH, profile.lens), g) for g in grids()[1::2]]
    print(f"\nprofile of half the photographs on the other {len(off)}: {np.median(off):.2f} ({max(off):.2f})")
    assert max(off) < WITH_PROFILE
    assert -0.35 < profile.lens.k1 < -0.25
    assert profile.lens.focal_px == pytest.approx(
        536, rel=0.02
    )  # the sample's own published result, from memory
