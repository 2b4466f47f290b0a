"""Cuts of scanned boards with faults drawn in: what a surface looks like is real, what lies on it is told.

The cracks of the scans are so few that the net comes to know them by heart. Drawn ones, faint and
broken off, in resin-streaked and roughly planed wood as it came off a saw, are never twice the same.
"""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from samples.training.drawn import faults_drawn
from samples.training.made import ALL_KNOWN, BITS, PX_PER_MM, SHAPE, Cut, filled, made_cut

__all__ = ["KNOWN", "cut_of", "load_scanned"]

KNOWN = ALL_KNOWN - BITS["sapwood"] - BITS["wane"]
_TRIES = 5  # windows among which the one with the fewest labelled knots is taken
_BED = 34  # darker than this there is the scanner's bed [grey level]

_scanned: list[tuple[NDArray[np.uint8], NDArray[np.uint8]]] = []
_share = [0.0]


def load_scanned(scans: Path | None, share: float) -> None:
    """Read the pictures that `cut_of` draws on, and which share of its cuts they are to be."""
    cv2.setNumThreads(1)  # threads begun here would be missed in the processes forked from this one
    _scanned.clear()
    _share[0] = share if scans is not None else 0.0
    if scans is None or share <= 0:
        return
    with np.load(scans, allow_pickle=True) as packed:
        for picture, mask in zip(packed["pictures"], packed["masks"], strict=True):
            whole = cv2.cvtColor(cv2.imdecode(picture, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
            _scanned.append((whole, cv2.imdecode(mask, cv2.IMREAD_GRAYSCALE)))


def cut_of(seed: int) -> Cut:
    """A made cut or a scanned one with faults drawn in, the same for the same seed."""
    rng = np.random.default_rng([seed, 20261126])
    if rng.random() >= _share[0]:
        return made_cut(seed)
    cv2.setNumThreads(1)
    windows = [_window(rng) for _ in range(_TRIES)]
    picture, bits = min(windows, key=lambda one: float((one[1] & BITS["knot"] > 0).mean()))
    picture, bits = filled(picture), filled(bits)
    bed = cv2.morphologyEx((picture.max(axis=2) < _BED).astype(np.uint8), cv2.MORPH_OPEN, np.ones((9, 9)))
    off = cv2.dilate(bed, np.ones((7, 7))) > 0
    picture, bits = faults_drawn(picture, bits, off, PX_PER_MM, rng)
    return Cut(picture, bits, KNOWN)


def _window(rng: np.random.Generator) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    picture, bits = _scanned[int(rng.integers(len(_scanned)))]
    top, left = (
        int(rng.integers(max(0, have - want) + 1)) for have, want in zip(bits.shape, SHAPE, strict=True)
    )
    window = np.s_[top : top + SHAPE[0], left : left + SHAPE[1]]
    return picture[window].copy(), bits[window].copy()
