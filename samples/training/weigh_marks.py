"""Fit what each witness for a mark is worth, so that a score is a chance of being right.

    python -m samples.training.weigh_marks ../shared/data

Logistic regression of "its middle lies on a hand-made mark" on what `witness` of
the knots and of the cracks says, over made boards of seeds of their own and the
training half of the scans; every metre of board counts alike within its origin,
and every origin alike. Prints the weights to be written into the two modules.
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
from samples.wood.training import training_picture
from vision.suggest import cracks, knots
from vision.suggest.regions import Region
from vision.suggest.surface import Surface, surfaces_along

__all__ = ["fitted", "main"]

Rows = list[tuple[NDArray[np.float64], bool, float]]  # what the witness says, right or not, weight


@dataclass(frozen=True)
class Face:
    """A picture, where anything is wrong in it, and its scale."""

    picture: NDArray[np.uint8]
    wrong: NDArray[np.bool_]
    px_per_mm: float


def main(arguments: list[str] | None = None) -> None:
    """Fit and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data", type=Path)
    parser.add_argument("--made", type=int, default=80, help="made boards of each kind")
    given = parser.parse_args(arguments)
    origins: dict[str, Callable[[], Iterator[Face]]] = {
        "made, clear": lambda: _made(given.made, clear=True),
        "made, faulty": lambda: _made(given.made, clear=False),
        "boards": lambda: _scans(_boards(given.data)),
        "rare": lambda: _scans(_rare(given.data)),
    }
    of_knots: Rows = []
    of_cracks: Rows = []
    for name, faces in origins.items():
        these_knots, these_cracks, metres = _asked(faces())
        of_knots += [(said, right, 1 / metres) for said, right, _ in these_knots]
        of_cracks += [(said, right, 1 / metres) for said, right, _ in these_cracks]
        print(f"{name}: {metres:.0f} m, {len(these_knots)} knots, {len(these_cracks)} cracks seen by the net")
    print("knots ", np.round(fitted(of_knots), 2).tolist())
    print("cracks", np.round(fitted(of_cracks), 2).tolist())


def _made(count: int, clear: bool) -> Iterator[Face]:
    for number in range(count):
        seen = training_picture(4_000_000 + number, 320, 1600, PX_PER_MM, clear=clear)
        wrong = (_BIT_OF[seen.classes] & ~np.uint8(BITS["sapwood"])) > 0
        yield Face(seen.rgb, wrong, PX_PER_MM)


def _scans(entries: Iterator[tuple[NDArray[np.uint8], NDArray[np.uint8], object]]) -> Iterator[Face]:
    for picture, bits, _ in entries:
        yield Face(picture, bits > 0, SCAN_PX_PER_MM)


def _asked(faces: Iterator[Face]) -> tuple[Rows, Rows, float]:
    of_knots: Rows = []
    of_cracks: Rows = []
    metres = 0.0
    for face in faces:
        metres += face.picture.shape[1] / face.px_per_mm / 1000
        for surface in surfaces_along(face.picture, face.px_per_mm):
            chances = surface.chances
            if chances is None:
                raise SystemExit("weigh_marks needs the net's weights in vision/suggest/weights")
            dark, strength = knots.knotty_darkness(surface), cracks.line_strength(surface)
            for region in knots.said_knots(chances["knot"]):
                said = knots.witness(surface, region, dark, chances["knot"])
                of_knots.append((said, _right(surface, region, face), 1.0))
            for region in cracks.said_cracks(chances["crack"]):
                said = cracks.witness(region, chances["crack"], strength)
                of_cracks.append((said, _right(surface, region, face), 1.0))
    return of_knots, of_cracks, metres


def _right(surface: Surface, region: Region, face: Face) -> bool:
    """Whether its middle lies on a hand-made mark, or within a millimetre."""
    x = (surface.start_mm + region.left + region.wide / 2) * face.px_per_mm
    y = (region.top + region.high / 2) * face.px_per_mm
    reach = round(face.px_per_mm)
    near = face.wrong[
        max(0, int(y) - reach) : int(y) + reach + 1, max(0, int(x) - reach) : int(x) + reach + 1
    ]
    return bool(near.any())


def fitted(rows: Rows, ridge: float = 0.02) -> NDArray[np.float64]:
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
