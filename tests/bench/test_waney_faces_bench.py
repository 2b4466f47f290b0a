"""How far the two faces of a waney board lie apart across once laid over one another, and what is said.

``pytest tests/bench/test_waney_faces_bench.py -m bench -s``: true outlines of made boards laid by the
middles of both faces all along, as nothing else in their photographs tells.
"""

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

from layout.stock import Face
from samples.wood.log import grow_log
from samples.wood.sawn import SawnBoard
from samples.wood.species import SPECIES
from samples.wood.stock import board_at
from samples.wood.truth import face_outline
from vision.waney_faces import APART, OtherFace, laid_over, narrower
from vision.waney_scale import laid_across

pytestmark = pytest.mark.bench

LENGTH, ROOM, THICK = 1500.0, 330.0, 34.0
SEEDS = range(1, 120)
STATIONS = np.append(np.arange(2.0, LENGTH - 1, 10.0), LENGTH - 2)
Floats = NDArray[np.float64]


def grown(seed: int) -> SawnBoard | None:
    """A board cut beside the bark; None where none shows."""
    rng, species = np.random.default_rng(seed), sorted(SPECIES)[seed % len(SPECIES)]
    log = grow_log(species, seed + 3, radius=190.0)
    heart, aside = float(rng.uniform(90, 130)), float(rng.uniform(-20, 20))
    board = board_at(log, str(seed), (LENGTH, ROOM, THICK), 300.0, heart, aside=aside)
    return board if board.waney else None


def ring_of(board: SawnBoard, face: Face) -> Floats:
    """The true outline of a face as seen, the board rolled over."""
    outline = Polygon(face_outline(board, face))
    spans = np.array([outline.intersection(box(x - 1, -500, x + 1, 900)).bounds for x in STATIONS])
    upper, lower = spans[:, 1], spans[:, 3]
    if face is Face.BACK:
        upper, lower = ROOM - lower, ROOM - upper
    x = STATIONS.copy()
    x[[0, -1]] = 0.0, LENGTH
    return np.concatenate([np.column_stack([x, upper]), np.column_stack([x, lower])[::-1]])


def middle(ring: Floats) -> Floats:
    half = len(ring) // 2
    return np.asarray((ring[:half, 1] + ring[half:][::-1, 1]) / 2)


def greatest(ring: Floats) -> float:
    half = len(ring) // 2
    return float((ring[half:][::-1, 1] - ring[:half, 1]).max())


def test_true_outlines_laid_by_their_middles() -> None:
    apart, said = [], APART * THICK
    for seed in SEEDS:
        if (board := grown(seed)) is None:
            continue
        rings = {face: ring_of(board, face) for face in Face}
        first = Face.BACK if narrower(rings[Face.FRONT], rings[Face.BACK], LENGTH) else Face.FRONT
        wider, ring = rings[first], rings[first.other]
        wide = laid_across(wider, LENGTH, greatest(wider), greatest(wider), None)
        below = wider @ wide.turn[:2, :2].T + wide.turn[:2, 2]
        one = middle(below) - middle(wider)
        below[:, 1] = wide.width_mm - below[:, 1]
        laid = laid_across(ring, LENGTH, greatest(ring), wide.width_mm, None)
        laid = laid_over(ring, laid, OtherFace(below), wide.width_mm, THICK)
        other = middle(ring @ laid.turn[:2, :2].T + laid.turn[:2, 2]) - middle(ring)
        mirrored = (laid.width_mm - ROOM) - one - (laid.width_mm - wide.width_mm) / 2
        apart.append(float(np.abs(mirrored - other).max()))
    print(
        f"\n{len(apart)} outlines by their middles: apart {np.median(apart):.1f} ({max(apart):.1f}) mm, "
        f"said {said:.1f}, held {np.mean(np.array(apart) <= said):.2f}"
    )
    assert np.mean(np.array(apart) <= said) >= 0.95
