"""Fit what each witness for a mark is worth, so that a score is a chance of being right.

    python -m samples.training.weigh_marks ../shared/data

Logistic regression of "it lies on a hand-made mark" on what `witness` of the knots,
of the fissures, of pockets and of the pith, and `sureness` of stain say, over made
boards of seeds of their own and the training half of the scans; every metre of board
counts alike within its origin, and every origin by `_WORTH`. Knots alone are asked on
boards that were written on, and on real knots of altered look set into made boards. A
fissure is asked for a crack: one on a fault of another kind counts neither way. Prints
the weights to be written into the modules.
"""

import argparse
import multiprocessing
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from samples.training.asked_on import Knot, real_knots, with_knots, written_on
from samples.training.made import _BIT_OF, BITS, PX_PER_MM
from samples.training.pack_scans import PX_PER_MM as SCAN_PX_PER_MM
from samples.training.pack_scans import _boards, _rare
from samples.wood.picture import WoodClass
from samples.wood.training import training_picture
from vision.suggest import knots, pith, pockets, stain
from vision.suggest.fissures import AT_END, Ground, fissures_on
from vision.suggest.found import Ring
from vision.suggest.regions import sureness
from vision.suggest.surface import Surface, surfaces_along

__all__ = ["fitted", "main"]

Rows = list[tuple[NDArray[np.float64], bool, float]]  # what the witness says, right or not, weight
KINDS = ("knots", "fissures", "fissures without net", "pockets", "stain", "pith")
# How much an origin counts for knots, for fissures, for all else: real knots are plenty, and the net knows
# them by heart, so made ones must not be outvoted; real cracks are few.
_WORTH = {
    "made, clear": (2.0, 1.0, 1.0),
    "made, faulty": (3.0, 1.0, 1.0),
    "made, written on": (2.0, 0.0, 0.0),
    "made, knots set in": (1.0, 0.0, 0.0),
    "boards": (0.15, 1.0, 0.35),
    "rare": (0.15, 4.0, 0.35),
}
_SET_IN = 8  # knots to a board
_RIDGE = {"knots": 0.001, "fissures": 0.01, "fissures without net": 0.01}  # else 0.003
_ALONG_EDGES = np.uint8(BITS["sapwood"] | BITS["wane"])  # what lies there is not what a knot or a crack is


@dataclass(frozen=True)
class Face:
    """A picture, the class bits of its hand-made marks, its scale, whether its ends are the board's."""

    picture: NDArray[np.uint8]
    bits: NDArray[np.uint8]
    px_per_mm: float
    whole: bool = True


@dataclass
class Asked:
    """What was found on faces, by kind."""

    rows: dict[str, Rows] = field(default_factory=lambda: {kind: [] for kind in KINDS})
    metres: float = 0.0


def main(arguments: list[str] | None = None) -> None:
    """Fit and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data", type=Path)
    parser.add_argument("--made", type=int, default=60, help="made boards of each kind")
    parser.add_argument("--cores", type=int, default=1)
    given = parser.parse_args(arguments)
    for kind, weights in weights_of(given.data, given.made, given.cores).items():
        print(f"{kind:22s}", np.round(weights, 2).tolist())


def weights_of(data: Path, made: int, cores: int) -> dict[str, NDArray[np.float64]]:
    """The weights of each kind of mark, for the modules' own order of what they weigh."""
    origins: dict[str, Callable[[], Iterator[Face | int]]] = {
        "made, clear": lambda: iter(range(1, 2 * made, 2)),
        "made, faulty": lambda: iter(range(0, 2 * made, 2)),
        "made, written on": lambda: _written_on(made),
        "made, knots set in": lambda: _set_in(made, real_knots(data)),
        "boards": lambda: _scans(_boards(data), True),
        "rare": lambda: _scans(_rare(data), False),
    }
    every: dict[str, Rows] = {kind: [] for kind in KINDS}
    with multiprocessing.get_context("fork").Pool(cores) as pool:
        for origin, faces in origins.items():
            told = list(pool.imap(_asked, faces()))
            metres = sum(one.metres for one in told)
            for kind in KINDS:
                worth = _WORTH[origin][0 if kind == "knots" else 1 if kind.startswith("fiss") else 2] / metres
                if worth > 0:
                    every[kind] += [(said, right, worth) for one in told for said, right, _ in one.rows[kind]]
            print(f"{origin}: {metres:.0f} m", flush=True)
    return {kind: fitted(rows, _RIDGE.get(kind, 0.003)) for kind, rows in every.items()}


def _made(number: int) -> Face:
    """A made board; those of odd numbers are clear."""
    seen = training_picture(4_000_000 + number, 320, 1600, PX_PER_MM, clear=number % 2 == 1)
    rows = np.flatnonzero((seen.classes != WoodClass.NO_WOOD).mean(axis=1) > 0.5)
    off = np.round(np.random.default_rng(number // 2).normal(0, PX_PER_MM, 2)).astype(int)
    board = slice(max(0, rows[0] + off[0]), rows[-1] + 1 + off[1])  # the board, as its corners were set
    return Face(np.ascontiguousarray(seen.rgb[board]), _BIT_OF[seen.classes[board]], PX_PER_MM)


def _written_on(count: int) -> Iterator[Face]:
    for number in range(count):
        clear = _made(2 * (count + number) + 1)
        picture = written_on(clear.picture, PX_PER_MM, np.random.default_rng([number, 1]))
        yield replace(clear, picture=picture)


def _set_in(count: int, real: list[Knot]) -> Iterator[Face]:
    for number in range(count):
        clear = _made(2 * (2 * count + number) + 1)
        rng = np.random.default_rng([number, 2])
        picture, bits = with_knots(clear.picture, clear.bits, real, _SET_IN, rng)
        yield replace(clear, picture=picture, bits=bits)


def _scans(
    entries: Iterator[tuple[NDArray[np.uint8], NDArray[np.uint8], object]], whole: bool
) -> Iterator[Face]:
    for picture, bits, _ in entries:
        yield Face(picture, bits, SCAN_PX_PER_MM, whole)


def _asked(face: Face | int) -> Asked:
    cv2.setNumThreads(1)
    if isinstance(face, int):
        face = _made(face)
    told = Asked(metres=face.picture.shape[1] / face.px_per_mm / 1000)
    for surface in surfaces_along(face.picture, face.px_per_mm):
        _ask(surface, face, told.rows)
    return told


def _ask(surface: Surface, face: Face, rows: dict[str, Rows]) -> None:
    chances = surface.chances
    if chances is None:
        raise SystemExit("weigh_marks needs the net's weights in vision/suggest/weights")
    dark = knots.knotty_darkness(surface)
    regions = [
        ("knots", knots.witness(surface, region, dark, chances["knot"]), region)
        for region in knots.said_knots(chances["knot"])
    ]
    regions += [
        ("pockets", pockets.witness(one, chances["pocket"], dark), one)
        for one in pockets.said_pockets(surface)
    ]
    regions += [("stain", sureness(one, chances["stain"]), one) for one in stain.said_stain(surface)]
    for kind, said, region in regions:
        ring = region.ring()
        if ring is not None:
            rows[kind].append((said, bool((_under(surface, ring, face)[0] & ~_ALONG_EDGES).any()), 1.0))
    for region, said in pith.said_pith(surface):
        ring = region.ring()
        if ring is not None:
            inside = _under(surface, ring, face)[1]
            rows["pith"].append((said, float((inside & BITS["pith"] > 0).mean()) > 0.15, 1.0))
    plain = fissures_on(Ground(surface.lines, surface.fine, None, surface.ends))
    for kind, fissures in (("fissures", surface.fissures), ("fissures without net", plain)):
        for fissure in fissures:
            near, inside = _under(surface, fissure.ring, face)
            crack = bool((near & BITS["crack"]).any()) or float((inside & BITS["crack"] > 0).mean()) > 0.5
            said = fissure.witness.copy()
            said[AT_END] *= face.whole
            if crack or not (near & ~_ALONG_EDGES).any():
                rows[kind].append((said, crack, 1.0))


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
