"""Fit what each witness for a mark is worth, so that a score is a chance of being right.

    python -m samples.training.weigh_marks ../shared/data

Logistic regression of "it lies on a hand-made mark" on what `witness` of the knots
and of the fissures says, over made boards of seeds of their own and the training
half of the scans; every metre of board counts alike within its origin, and every
origin by `_WORTH`. A fissure is asked for a crack: one on a fault of another kind counts
neither way. Prints the weights to be written into the two modules.
"""

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from samples.training.made import _BIT_OF, BITS, PX_PER_MM
from samples.training.pack_scans import PX_PER_MM as SCAN_PX_PER_MM
from samples.training.pack_scans import _boards, _rare
from samples.wood.picture import WoodClass
from samples.wood.training import training_picture
from vision.suggest import knots
from vision.suggest.fissures import Ground, fissures_on
from vision.suggest.found import Ring
from vision.suggest.surface import Surface, surfaces_along

__all__ = ["fitted", "main"]

Rows = list[tuple[NDArray[np.float64], bool, float]]  # what the witness says, right or not, weight
# How much an origin counts: real knots are plenty, so made ones must not be outvoted; real cracks are few.
_WORTH = {
    "made, clear": (1.0, 1.0),
    "made, faulty": (1.0, 1.0),
    "boards": (0.35, 1.0),
    "rare": (0.35, 4.0),
}
_ALONG_EDGES = np.uint8(BITS["sapwood"] | BITS["wane"])  # what lies there is not what a knot or a crack is


@dataclass(frozen=True)
class Face:
    """A picture, the class bits of its hand-made marks, and its scale."""

    picture: NDArray[np.uint8]
    bits: NDArray[np.uint8]
    px_per_mm: float


@dataclass
class Asked:
    """What was found on the faces of one origin."""

    knots: Rows
    fissures: Rows
    plain: Rows
    metres: float = 0.0


def main(arguments: list[str] | None = None) -> None:
    """Fit and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data", type=Path)
    parser.add_argument("--made", type=int, default=60, help="made boards of each kind")
    given = parser.parse_args(arguments)
    origins: dict[str, Callable[[], Iterator[Face]]] = {
        "made, clear": lambda: _made(given.made, clear=True),
        "made, faulty": lambda: _made(given.made, clear=False),
        "boards": lambda: _scans(_boards(given.data)),
        "rare": lambda: _scans(_rare(given.data)),
    }
    every = Asked([], [], [])
    for name, faces in origins.items():
        one = _asked(faces())
        of_knots, of_fissures = (worth / one.metres for worth in _WORTH[name])
        every.knots += [(said, right, of_knots) for said, right, _ in one.knots]
        every.fissures += [(said, right, of_fissures) for said, right, _ in one.fissures]
        every.plain += [(said, right, of_fissures) for said, right, _ in one.plain]
        print(f"{name}: {one.metres:.0f} m, {len(one.knots)} knots, {len(one.fissures)} fissures", flush=True)
    print("knots                ", np.round(fitted(every.knots), 2).tolist())
    print("fissures             ", np.round(fitted(every.fissures, 0.01), 2).tolist())
    print("fissures, without net", np.round(fitted(every.plain, 0.01), 2).tolist())


def _made(count: int, clear: bool) -> Iterator[Face]:
    for number in range(count):
        seen = training_picture(4_000_000 + 2 * number + clear, 320, 1600, PX_PER_MM, clear=clear)
        rows = np.flatnonzero((seen.classes != WoodClass.NO_WOOD).mean(axis=1) > 0.5)
        off = np.round(np.random.default_rng(number).normal(0, PX_PER_MM, 2)).astype(int)
        board = slice(max(0, rows[0] + off[0]), rows[-1] + 1 + off[1])  # the board, as its corners were set
        yield Face(np.ascontiguousarray(seen.rgb[board]), _BIT_OF[seen.classes[board]], PX_PER_MM)


def _scans(entries: Iterator[tuple[NDArray[np.uint8], NDArray[np.uint8], object]]) -> Iterator[Face]:
    for picture, bits, _ in entries:
        yield Face(picture, bits, SCAN_PX_PER_MM)


def _asked(faces: Iterator[Face]) -> Asked:
    told = Asked([], [], [])
    for face in faces:
        told.metres += face.picture.shape[1] / face.px_per_mm / 1000
        for surface in surfaces_along(face.picture, face.px_per_mm):
            _ask(surface, face, told)
    return told


def _ask(surface: Surface, face: Face, told: Asked) -> None:
    if surface.chances is None:
        raise SystemExit("weigh_marks needs the net's weights in vision/suggest/weights")
    dark = knots.knotty_darkness(surface)
    for region in knots.said_knots(surface.chances["knot"]):
        said = knots.witness(surface, region, dark, surface.chances["knot"])
        ring = region.ring()
        if ring is not None:
            right = bool((_under(surface, ring, face)[0] & ~_ALONG_EDGES).any())
            told.knots.append((said, right, 1.0))
    plain = fissures_on(Ground(surface.lines, surface.fine, None, surface.ends))
    for rows, fissures in ((told.fissures, surface.fissures), (told.plain, plain)):
        for fissure in fissures:
            near, inside = _under(surface, fissure.ring, face)
            crack = bool((near & BITS["crack"]).any()) or float((inside & BITS["crack"] > 0).mean()) > 0.5
            if crack or not (near & ~_ALONG_EDGES).any():
                rows.append((fissure.witness, crack, 1.0))


def _under(surface: Surface, ring: Ring, face: Face) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Class bits within a millimetre of the middle of an outline's box, and all inside the outline."""
    points = np.add(ring, (surface.start_mm, 0.0)) * face.px_per_mm
    x, y = (points.min(axis=0) + points.max(axis=0)) / 2
    reach = round(face.px_per_mm)
    near = face.bits[max(0, int(y) - reach) : int(y) + reach + 1, max(0, int(x) - reach) : int(x) + reach + 1]
    left, top, wide, high = cv2.boundingRect(points.astype(np.int32))
    window = np.s_[max(top, 0) : top + high, max(left, 0) : left + wide]
    mask = np.zeros(face.bits[window].shape, np.uint8)
    cv2.fillPoly(mask, [np.round(points - (max(left, 0), max(top, 0))).astype(np.int32)], 1)
    inside = face.bits[window][mask > 0]
    return near, inside if inside.size else np.zeros(1, np.uint8)


def fitted(rows: Rows, ridge: float = 0.001) -> NDArray[np.float64]:
    """Weights of a logistic regression (Newton's method), the first for the constant 1."""
    said = np.array([row[0] for row in rows])
    right = np.array([row[1] for row in rows], np.float64)
    weight = np.array([row[2] for row in rows])
    weight = weight / weight.mean()
    middle, spread = said[:, 1:].mean(axis=0), said[:, 1:].std(axis=0) + 1e-9
    design = np.column_stack([said[:, 0], (said[:, 1:] - middle) / spread])
    damping = ridge * len(rows) * np.diag([0.0] + [1.0] * (design.shape[1] - 1))
    found = np.zeros(design.shape[1])
    for _ in range(50):
        chance = 1 / (1 + np.exp(-design @ found))
        slope = design.T @ (weight * (right - chance)) - damping @ found
        curve = (design * (weight * chance * (1 - chance) + 1e-6)[:, None]).T @ design + damping
        found = found + np.linalg.solve(curve, slope)
    real = found[1:] / spread
    return np.concatenate([[found[0] - real @ middle], real])


if __name__ == "__main__":
    cv2.setNumThreads(1)
    main()
