"""Widths read along a waney board, and a board of which one edge was sawn."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from tests.bench.test_scale import shot
from tests.vision.drawn import FOCAL_35MM, camera_frame, drawn_board
from vision.adjust import adjusted
from vision.photo import Photo
from vision.rectify import TrueScale, true_scale
from vision.waney_scale import both_edges, laid_across, straight_one

LENGTH, WIDTH, ROOM = 600.0, 200.0, 12.0
STATIONS = np.linspace(0.0, LENGTH, 31)


def lower(x: np.ndarray, narrower: float = 0.0) -> np.ndarray:
    return WIDTH - narrower - 18.0 + 18.0 * np.sin(np.pi * x / LENGTH)


def made(narrower: float, mirrored: bool) -> TrueScale:
    """A face whose datum edge is sawn and whose other one grew, as it is brought to scale."""
    room = WIDTH + 2 * ROOM  # the wood that is drawn is cut out on either side
    frame = camera_frame(LENGTH, room, tilt=(3.0, -3.0, 1.0))
    board = drawn_board(LENGTH, room, frame=frame)
    top, bottom = np.zeros_like(STATIONS), lower(STATIONS, narrower)
    read = [(x, float(lower(np.array(x), narrower))) for x in (0.0, LENGTH)]
    if mirrored:
        top, bottom = WIDTH - bottom, WIDTH - top
    top, bottom = top + ROOM, bottom + ROOM
    ring = np.concatenate([np.stack([STATIONS, top], 1), np.stack([STATIONS, bottom], 1)[::-1]])
    wood = np.zeros(board.rgb.shape[:2], np.uint8)
    cv2.fillPoly(wood, [np.rint(frame.to_px(ring) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    share = wood[..., None] / 255.0
    ground = np.random.default_rng(3).normal((92, 96, 101), 3.0, board.rgb.shape)
    rgb = np.clip(board.rgb * share + ground * (1 - share), 0, 255).astype(np.uint8)
    ends = frame.to_px([[0, top[0]], [LENGTH, top[-1]], [LENGTH, bottom[-1]], [0, bottom[0]]])
    return true_scale(
        Photo(rgb, FOCAL_35MM),
        ends,
        LENGTH,
        WIDTH,
        px_per_mm=0.4,
        widths_mm=read,
        waney=True,
        shown_mm=WIDTH,
    )


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_board_with_one_sawn_edge_is_laid_by_that_edge(mirrored: bool) -> None:
    """Its back is 6 mm narrower, as bark slopes: laid in the middle it would lie 3 mm off the front."""
    found = made(6.0, mirrored)
    upper, under = both_edges(np.array(found.outline_mm), LENGTH)
    sawn, place = (under, WIDTH) if mirrored else (upper, 0.0)
    assert sawn[:, 1] == pytest.approx(place, abs=1.2)
    assert straight_one(np.array(found.outline_mm), LENGTH) is not None


def test_a_board_that_grew_on_both_sides_has_no_straight_one() -> None:
    x = STATIONS
    ring = np.concatenate([np.stack([x, 8 * np.sin(x / 100)], 1), np.stack([x, lower(x)], 1)[::-1]])
    assert straight_one(ring, LENGTH) is None


def test_widths_seen_along_a_waney_board_tell_of_the_lens() -> None:
    one = shot(4, 0.1, 0.1, -0.08)
    widths = one.widths  # at both ends and in the middle
    corners = replace(
        one.evidence, edges_px=(None,) * 4, readings=replace(one.evidence.readings, widths=widths)
    )
    seen = []
    for x, width in widths:
        (a, b), (c, d) = one.frame.to_px([[x, 0.0], [x, width]])
        seen.append(((float(a), float(b)), (float(c), float(d)), width))
    told = adjusted(replace(corners, across_px=tuple(seen)))
    assert told.spreads["k1"] < 0.7 * adjusted(corners).spreads["k1"]
    assert told.values["k1"] == pytest.approx(-0.08, abs=3 * told.spreads["k1"])


@pytest.mark.parametrize("sawn", [False, True])
def test_both_faces_of_a_tapered_board_lie_along_one_axis(sawn: bool) -> None:
    """Each face's frame follows its own upper edge: laid so, a back would lie 20 mm aslant of its front."""
    x = STATIONS
    top = 0.0 * x if sawn else 20.0 * x / LENGTH + 3.0 * np.sin(x / 40.0)
    bottom = WIDTH - 40.0 * x / LENGTH + 5.0 * np.sin(x / 60.0)

    def framed(upper: np.ndarray, under: np.ndarray) -> np.ndarray:
        slope = (upper[-1] - upper[0]) / LENGTH
        ring = np.concatenate(
            [np.stack([x, upper - slope * x], 1), np.stack([x, under - slope * x], 1)[::-1]]
        )
        return np.asarray(ring - [0.0, upper[0]])

    front, back = framed(top, bottom), framed(WIDTH - bottom, WIDTH - top)
    placed = []
    for ring in (front, back):
        turn = laid_across(ring, LENGTH, WIDTH, WIDTH, None).turn
        placed.append(ring @ turn[:2, :2].T + turn[:2, 2])
    upper, under = both_edges(front, LENGTH)
    mirrored = placed[1][:, 1].copy()
    here = np.interp(x, placed[0][: len(upper), 0], placed[0][: len(upper), 1])
    far = len(back) // 2
    there = WIDTH - np.interp(x, placed[1][far:][::-1, 0], mirrored[far:][::-1])
    assert there == pytest.approx(here, abs=1.5)  # turned, the waves lie up to 4 mm farther along
    assert len(under)
