"""How good the suggested marks are, domain by domain, and how fast.

``pytest tests/bench/test_suggest_bench.py -m bench -s`` prints, for each domain, the
false marks per metre, the share of hand-made marks hit (and hit with an overlap of 0.3) by
kind and by size, what the false ones were taken for, and seconds per metre of one core.
Scans are split by board: boards B, D and E and every second run of five hundred rare
frames were never learned from. Made boards come from seeds that were never trained on.
"""

import time
from collections import Counter
from collections.abc import Iterator

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import Point, Polygon

from layout.outline import bounds_of
from layout.stock import Face
from samples.training.pack_scans import for_testing
from samples.wood.log import grow_log
from samples.wood.picture import WoodClass
from samples.wood.species import SPECIES
from samples.wood.stock import board_at, grow_knots
from samples.wood.training import training_picture
from samples.wood.truth import known_faults
from tests.vision.suggest.scans import Truth, rare_frames, scanned_boards
from vision.marks import Mark, Where
from vision.pairs import paired
from vision.score import score_marks, summed
from vision.suggest.every import suggest_marks

pytestmark = pytest.mark.bench

SCALE = 2.0
_GROUPS = {
    "knot": ("SOUND_KNOT", "DEAD_KNOT", "PIN_KNOT"),
    "crack": ("CHECK", "SPLIT", "SHAKE"),
    "pocket": ("BARK_POCKET", "RESIN_POCKET"),
    "stain": ("STAIN",),
    "pith": ("PITH",),
    "sapwood": ("SAPWOOD",),
    "wane": ("WANE",),
}
Entry = tuple[str, NDArray[np.uint8], Truth]


def truth_of(classes: NDArray[np.uint8]) -> Truth:
    """Outlines of what a made picture shows, by group; specks are no truth."""
    truth = []
    for group, names in _GROUPS.items():
        mask = np.isin(classes, [WoodClass[name] for name in names]).astype(np.uint8)
        if group == "crack":
            mask = cv2.dilate(mask, np.ones((3, 3), np.uint8))
        rings = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)[0]
        large = [ring[:, 0] / SCALE for ring in rings if len(ring) > 2 and cv2.contourArea(ring) > 10]
        truth.extend((group, tuple((float(x), float(y)) for x, y in ring)) for ring in large)
    return truth


def made(clear: bool) -> Iterator[Entry]:
    for number in range(36):
        species = list(SPECIES)[number % len(SPECIES)]
        seen = training_picture(
            500 + number, 300 + 20 * (number % 7), 1800, SCALE, species=species, clear=clear
        )
        yield species, seen.rgb, truth_of(seen.classes)


def held_out_scans(shared) -> Iterator[Entry]:
    return (
        entry for entry in scanned_boards(shared) if entry[0].startswith(("board_B", "board_D", "board_E"))
    )


def held_out_rare(shared) -> Iterator[Entry]:
    return (entry for entry in rare_frames(shared) if for_testing(entry[0]))


def cubes(shared) -> Iterator[Entry]:
    """The faces of the clear ring-porous cube that were not learned from, at a guessed four pixels per mm."""
    for face in "BDF":
        picture = cv2.imread(str(shared / "data" / "wood_cubes" / f"CN03_{face}.png"))
        whole = cv2.cvtColor(picture, cv2.COLOR_BGR2RGB)[8:-8, 8:-8]
        half = cv2.resize(whole, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        for turns in (0, 1):
            yield f"CN03_{face}", np.ascontiguousarray(np.rot90(half, turns)), []


def table(name: str, entries: Iterator[Entry]) -> None:
    scores, seconds, wrong = [], 0.0, Counter()
    for _, picture, truth in entries:
        started = time.process_time()
        marks = suggest_marks(picture, SCALE)
        seconds += time.process_time() - started
        scores.append(score_marks(marks, truth, picture.shape[1] / SCALE))
        wrong.update(str(mark.kind) for mark in marks if not on_any(mark, truth))
    score = summed(scores)
    print(f"\n{name}: {score.metres:.1f} m, {seconds / score.metres:.2f} s/m, ", end="")
    print(f"false {score.false_per_metre:.2f}/m {dict(wrong.most_common())}")
    rows = [
        *sorted(score.by_kind.items()),
        *((f"from {mm:.0f} mm", t) for mm, t in sorted(score.by_size.items())),
    ]
    for label, tally in rows:
        print(
            f"  {label:12s} {tally.total:4d}  hit {tally.recall:.2f}  overlap {tally.recall_overlapped:.2f}"
        )
    assert score.metres > 0


def on_any(mark: Mark, truth: Truth) -> bool:
    x0, y0, x1, y1 = bounds_of(mark.outline)
    centre = Point((x0 + x1) / 2, (y0 + y1) / 2)
    return any(Polygon(ring).buffer(0).distance(centre) <= 1.0 for _, ring in truth)


@pytest.mark.data
def test_scanned_boards_kept_out_of_training(shared_data):
    table("scanned boards B, D, E", held_out_scans(shared_data))


@pytest.mark.data
def test_rare_frames_kept_out_of_training(shared_data):
    table("rare frames", held_out_rare(shared_data))


@pytest.mark.data
def test_clear_ring_porous_cube(shared_data):
    table("clear cube", cubes(shared_data))


def test_made_hardwood_with_faults():
    table("made, with faults", made(clear=False))


def test_made_hardwood_without_faults():
    table("made, clear", made(clear=True))


def test_knots_of_both_faces_are_paired_as_the_log_has_them():
    """Pairs made from the true outlines of either face, against which branch each belongs to."""
    right = wrong = missed = 0
    for seed in range(6):
        log = grow_knots(grow_log("European oak", 7000 + seed, 210.0), seed, 1700, 9, 3)
        board = board_at(log, "1", (900, 150, 27), 400, 40 + 20 * seed)
        faces: dict[Face, list[Mark]] = {Face.FRONT: [], Face.BACK: []}
        both = 0
        for fault in known_faults(board):
            if "knot" in fault.id or "pin" in fault.id:
                both += len(fault.shows) == 2
                for face, outlines in fault.shows.items():
                    faces[face].append(Mark(fault.id, fault.kind[face], outlines[0], Where(face.value)))
        pairs = paired(faces[Face.FRONT], faces[Face.BACK], board.thickness).pairs
        good = sum(pair.front.id == pair.back.id for pair in pairs)
        right, wrong, missed = right + good, wrong + len(pairs) - good, missed + both - good
    print(f"\nknots that show on both faces: {right} paired rightly, {missed} missed, {wrong} paired wrongly")
    assert right + missed > 0
