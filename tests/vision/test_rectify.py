from dataclasses import replace
from functools import lru_cache

import cv2
import numpy as np
import pytest

from tests.vision.drawn import FOCAL_35MM, SIZE, Drawn, camera_frame, drawn_board
from vision.adjust import adjusted
from vision.errors import VisionError
from vision.evidence import Evidence, Readings
from vision.lens import LensPrior, unknown_lens
from vision.photo import Photo
from vision.rectify import TrueScale, true_scale

LENGTH, WIDTH = 1500.0, 190.0
DOTS = ((60.0, 30.0), (750.0, 95.0), (1430.0, 150.0))


def dots_in(made: TrueScale) -> np.ndarray:
    """Centres of the dark dots, by x [mm]."""
    dark = (made.picture.mean(2) < 70).astype(np.uint8)
    _, _, stats, centres = cv2.connectedComponentsWithStats(dark)
    centres = centres[1:][stats[1:, cv2.CC_STAT_AREA] > 4 * made.px_per_mm**2]
    return (centres[np.argsort(centres[:, 0])] + 0.5) / made.px_per_mm


@lru_cache(maxsize=8)
def photographed(k1: float) -> Drawn:
    frame = camera_frame(LENGTH, WIDTH, k1=k1, offset=(0.0, 170.0))
    return drawn_board(LENGTH, WIDTH, frame=frame, dots=DOTS)


def made_from(k1: float = 0.0, **how: object) -> TrueScale:
    board = photographed(k1)
    return true_scale(Photo(board.rgb, FOCAL_35MM), board.corners_px, LENGTH, WIDTH, **how)  # type: ignore[arg-type]


@pytest.mark.parametrize("px_per_mm", [0.5, 2.0])
def test_the_picture_covers_the_board_and_nothing_else(px_per_mm: float) -> None:
    made = made_from(px_per_mm=px_per_mm)
    assert made.picture.shape == (round(WIDTH * px_per_mm), round(LENGTH * px_per_mm), 3)
    rim = np.concatenate(
        [made.picture[1, 5:-5], made.picture[-2, 5:-5], made.picture[5:-5, 2], made.picture[5:-5, -3]]
    )
    assert np.median(rim[:, 0].astype(int) - rim[:, 2]) > 60  # wood is warm, the bench is not


def test_a_dot_lies_where_it_was_drawn() -> None:
    assert dots_in(made_from()) == pytest.approx(np.array(DOTS), abs=0.7)


@pytest.mark.parametrize("k1", [-0.1, 0.1])
def test_straight_edges_undo_a_bending_lens(k1: float) -> None:
    left_alone = made_from(k1, snap=False)
    corrected = made_from(k1, straight_mm=0.1)
    assert corrected.lens_learnt
    assert np.abs(dots_in(left_alone) - DOTS).max() > 3.0
    assert np.abs(dots_in(corrected) - DOTS).max() < 1.5  # a pixel of this small photograph
    assert corrected.lens.lens.k1 == pytest.approx(k1, abs=0.03)


def test_a_known_lens_is_undone_without_any_edge() -> None:
    lens = camera_frame(LENGTH, WIDTH, k1=-0.1).lens
    assert lens is not None
    made = made_from(-0.1, snap=False, lens=LensPrior(lens, 0.002, 0.001, 0.001))
    assert dots_in(made) == pytest.approx(np.array(DOTS), abs=0.7)


def test_the_error_holds_what_is_really_off() -> None:
    for k1 in (-0.1, 0.0, 0.1):
        made = made_from(k1)
        off = np.hypot(*(dots_in(made) - DOTS).T)
        assert off.max() < made.error_mm
        assert made.error_mm >= max(along for _, along, _ in made.error_along)
        assert made.error_across_mm == max(across for _, _, across in made.error_along)


def test_knowing_more_makes_the_error_smaller() -> None:
    lens = camera_frame(LENGTH, WIDTH, k1=1e-9).lens
    assert lens is not None
    bare = made_from(snap=False).error_mm
    edges = made_from().error_mm
    profile = made_from(lens=LensPrior(lens, 0.002, 0.001, 0.001)).error_mm
    widths = made_from(
        lens=LensPrior(lens, 0.002, 0.001, 0.001), widths_mm=((0.0, WIDTH), (LENGTH, WIDTH)), straight_mm=0.2
    ).error_mm
    assert bare > edges > profile > widths > 0.5


@pytest.mark.parametrize(("crook", "offset"), [(2.0, 0.0), (2.0, 170.0), (-2.0, 170.0)])
def test_a_bent_board_is_not_taken_for_a_bent_lens(crook: float, offset: float) -> None:
    frame = camera_frame(LENGTH, WIDTH, offset=(0.0, offset))
    board = drawn_board(LENGTH, WIDTH, frame=frame, dots=DOTS, crook=crook)
    plain = Photo(board.rgb, FOCAL_35MM)
    true = np.array(DOTS) + [[0.0, crook * 4 * x / LENGTH * (1 - x / LENGTH)] for x, _ in DOTS]

    def off(**how: object) -> float:
        made = true_scale(plain, board.corners_px, LENGTH, WIDTH, **how)  # type: ignore[arg-type]
        return float(np.hypot(*(dots_in(made) - true).T).max())

    known = unknown_lens(plain.width_px, plain.height_px, FOCAL_35MM)
    assert off() < off(lens=replace(known, k1_spread=1e-6)) + 0.3


def test_the_boards_own_edge_beside_its_face_is_not_taken_for_face() -> None:
    """A 50 mm board seen from beyond its far edge: 3 pixels of that edge show below the face."""
    frame = camera_frame(LENGTH, WIDTH, tilt=(-9.0, -3.0, 1.0))
    board = drawn_board(LENGTH, WIDTH, frame=frame, dots=DOTS)
    at = np.linspace(0.0, LENGTH, 50)
    known = unknown_lens(*SIZE, FOCAL_35MM)
    evidence = Evidence(
        board.corners_px, (None,) * 4, Readings(LENGTH, ((None, WIDTH),)), known, float(np.hypot(*SIZE))
    )
    shows = adjusted(evidence).edge_shows_px(2, 50.0, at / LENGTH)
    assert 2.0 < shows.mean() < 8.0
    arris = frame.to_px(np.stack([at, 0 * at + WIDTH], axis=1))
    below = arris + np.stack([0 * at, shows], axis=1)
    ring = np.concatenate([arris, below[::-1]])
    rgb = board.rgb.copy()
    cv2.fillPoly(rgb, [np.round(ring * 16).astype(np.int32)], (182, 146, 98), cv2.LINE_AA, 4)
    photo = Photo(rgb, FOCAL_35MM)
    profile = LensPrior(known.lens, 0.005, 0.002, 0.003)
    off = [
        np.hypot(*(dots_in(made) - DOTS).T).max()
        for thick in (None, 50.0)
        if (
            made := true_scale(
                photo, board.corners_px, LENGTH, WIDTH, lens=profile, thickness_mm=thick, px_per_mm=1.0
            )
        )
    ]
    assert off[1] < 1.2  # under a pixel of this small photograph
    assert off[0] > 1.4 * off[1]


@pytest.mark.parametrize(
    ("length", "width", "message"),
    [
        (0.0, 100.0, "taped length is 0"),
        (-5.0, 100.0, "taped length is -5"),
        (1200.0, float("nan"), "taped width is nan"),
        (1.2e6, 145.0, "give millimetres"),
    ],
)
def test_a_tape_reading_that_cannot_be(length: float, width: float, message: str) -> None:
    photo = Photo(np.zeros((80, 100, 3), dtype=np.uint8))
    with pytest.raises(VisionError, match=message):
        true_scale(photo, [[10, 10], [90, 10], [90, 50], [10, 50]], length, width)
