"""How far the two faces of a waney board lie apart across once laid over one another, and what is said.

``pytest tests/bench/test_waney_faces_bench.py -m bench -s``: true outlines of made boards laid by the
middles of both faces all along, by readings with a square and a rule to +-1 mm, by holes tapped to 1.5 px.
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
from vision.waney_faces import OtherFace, Same, laid_over, narrower
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


def edges_of(ring: Floats, x: float) -> tuple[float, float]:
    half = len(ring) // 2
    return float(np.interp(x, STATIONS, ring[:half, 1])), float(np.interp(x, STATIONS, ring[half:][::-1, 1]))


def apart_by(rings: dict[Face, Floats], readings: int, holes: int, rng: np.random.Generator) -> Floats:
    """How far the faces lie apart, and what is said, with so many readings of the back beyond the front."""
    first = Face.BACK if narrower(rings[Face.FRONT], rings[Face.BACK], LENGTH) else Face.FRONT
    wider, ring = rings[first], rings[first.other]
    wide = laid_across(wider, LENGTH, greatest(wider), greatest(wider), None)
    below = wider @ wide.turn[:2, :2].T + wide.turn[:2, 2]
    one = middle(below) - middle(wider)
    read = []
    for x in (2.0, LENGTH - 2.0)[:readings]:  # at the front's upper edge, the back's lower one as it is seen
        out = edges_of(rings[Face.FRONT], x)[0] - (ROOM - edges_of(rings[Face.BACK], x)[1])
        read.append((x, round(out + rng.normal(0, 0.5)) * (1 if first is Face.FRONT else -1)))
    places = np.array([[300.0, ROOM - 150.0], [1200.0, ROOM - 180.0]])[:holes]  # on the wider, as it is seen
    there = places @ wide.turn[:2, :2].T + wide.turn[:2, 2] + rng.normal(0, 1.1, (holes, 2))
    seen = np.column_stack([places[:, 0], ROOM - places[:, 1]]) + rng.normal(0, 1.1, (holes, 2))
    same = tuple(Same("hole", (0, 0), (x, wide.width_mm - y)) for x, y in there)
    below[:, 1] = wide.width_mm - below[:, 1]
    other = OtherFace(below, tuple(read), on_lower=first is Face.FRONT, same=same)
    laid = laid_across(ring, LENGTH, greatest(ring), wide.width_mm, None)
    laid = laid_over(ring, laid, other, wide.width_mm, THICK, seen)
    mine = middle(ring @ laid.turn[:2, :2].T + laid.turn[:2, 2]) - middle(ring)
    mirrored = (laid.width_mm - ROOM) - one - (laid.width_mm - wide.width_mm) / 2
    return np.array([np.abs(mirrored - mine).max(), laid.apart_mm])


def test_true_outlines_laid_over_one_another() -> None:
    ways = {"their middles": (0, 0), "one reading": (1, 0), "two readings": (2, 0), "two holes": (0, 2)}
    ways |= {"two readings, two holes": (2, 2)}
    found: dict[str, list[Floats]] = {way: [] for way in ways}
    for seed in SEEDS:
        if (board := grown(seed)) is not None:
            rings = {face: ring_of(board, face) for face in Face}
            for way, (readings, holes) in ways.items():
                found[way].append(apart_by(rings, readings, holes, np.random.default_rng(seed)))
    print()
    for way, each in found.items():
        apart, said = np.array(each).T
        print(
            f"{len(apart)} outlines by {way:24s} apart {np.median(apart):.1f} ({max(apart):.1f}) mm, "
            f"said {np.median(said):.1f}, held {np.mean(apart <= said):.2f}"
        )
        assert np.mean(apart <= said) >= 0.95
