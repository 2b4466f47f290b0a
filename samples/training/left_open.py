"""Leave open, in the packed scans, what the net takes for a knot where nobody labelled one.

    python -m samples.training.left_open out/scans.npz out/scans_open.npz

The scans' labels leave out small knots: of 43 false marks of knots on the training half of the
rare frames 32, looked at one by one, are knots. Learning that they are none teaches the net what
is wrong; so they are not asked for either way. Bit `OPEN` is set there in the masks.
"""

import argparse
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from samples.training.made import BITS, OPEN, PX_PER_MM
from vision.suggest.surface import surfaces_along

__all__ = ["left_open", "main"]

_SURE = 0.5  # chance of a knot from which a place is left open
_BESIDE_MM = 3  # and nothing labelled is so near
_ROUND_MM = 1.5  # what is left open reaches so much further


def main(arguments: list[str] | None = None) -> None:
    """Write the file anew."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scans", type=Path)
    parser.add_argument("out", type=Path)
    given = parser.parse_args(arguments)
    with np.load(given.scans, allow_pickle=True) as packed:
        held = {name: packed[name] for name in packed.files}
    count = 0
    for index, (picture, mask) in enumerate(zip(held["pictures"], held["masks"], strict=True)):
        seen = cv2.cvtColor(cv2.imdecode(picture, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
        bits = left_open(seen, cv2.imdecode(mask, cv2.IMREAD_GRAYSCALE))
        count += cv2.connectedComponents((bits & OPEN > 0).astype(np.uint8))[0] - 1
        held["masks"][index] = np.asarray(cv2.imencode(".png", bits)[1], np.uint8)
    np.savez(given.out, **held)
    print(f"{count} places left open on {len(held['masks'])} pictures")


def left_open(picture: NDArray[np.uint8], bits: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The class bits with `OPEN` where the net is sure of a knot and none was labelled."""
    said = np.zeros(bits.shape, np.uint8)
    for surface in surfaces_along(picture, PX_PER_MM):
        if surface.chances is None:
            raise SystemExit("left_open needs the net's weights in vision/suggest/weights")
        sure = (surface.chances["knot"] > _SURE).astype(np.uint8)
        sure = cv2.resize(sure, None, fx=PX_PER_MM, fy=PX_PER_MM, interpolation=cv2.INTER_NEAREST)
        left = round(surface.start_mm * PX_PER_MM)
        part = said[: sure.shape[0], left : left + sure.shape[1]]
        part |= sure[: part.shape[0], : part.shape[1]]
    labelled = cv2.dilate(bits & ~np.uint8(BITS["sapwood"] | BITS["wane"]), _disc(_BESIDE_MM))
    _, pieces = cv2.connectedComponents(said)
    beside = np.unique(pieces[(labelled > 0) & (said > 0)])
    alone = (said > 0) & ~np.isin(pieces, beside)
    wide = cv2.dilate(alone.astype(np.uint8), _disc(_ROUND_MM)) > 0
    return np.where(wide, bits | OPEN, bits).astype(np.uint8)


def _disc(radius_mm: float) -> NDArray[np.uint8]:
    side = 2 * round(radius_mm * PX_PER_MM) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)), np.uint8)


if __name__ == "__main__":
    main()
