"""Connected regions of a mask, and what the planes of a stretch say within them."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import exp, log
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.suggest.found import Ring, outline_of

__all__ = [
    "Region", "chance_from", "log_odds", "median_of", "parts_of", "peaks_in", "regions_of", "sureness",
    "within_share",
]  # fmt: skip

_MOST_SMALL_LABELS = 65_000  # that 16 bits hold


@dataclass(frozen=True)
class Region:
    """Connected pixels of a stretch.

    Parameters
    ----------
    patch : bool array [rows, columns]
        True inside; the smallest window round the region.
    left, top : int
        Place of the window [px].
    """

    patch: NDArray[np.bool_]
    left: int
    top: int

    @property
    def wide(self) -> int:
        """Columns it spans, along the grain [px]."""
        return int(self.patch.shape[1])

    @property
    def high(self) -> int:
        """Rows it spans, across the grain [px]."""
        return int(self.patch.shape[0])

    @property
    def area(self) -> int:
        """Pixels inside."""
        return int(self.patch.sum())

    @property
    def window(self) -> tuple[slice, slice]:
        """Where its patch lies in the stretch."""
        return np.s_[self.top : self.top + self.high, self.left : self.left + self.wide]

    def of(self, plane: NDArray[Any]) -> NDArray[Any]:
        """The plane's values inside, as a flat array."""
        return plane[self.window][self.patch]

    def ring(self, px_per_mm: float = 1.0) -> Ring | None:
        """Its outer outline [mm]."""
        return outline_of(self.patch.astype(np.uint8), px_per_mm, self.left, self.top)


def regions_of(mask: NDArray[np.bool_], least_area: int = 1, connectivity: int = 8) -> Iterator[Region]:
    """The connected regions of a mask that are large enough [px]."""
    labels, boxes, (x0, y0) = parts_of(mask, connectivity)
    for index in np.flatnonzero(boxes[:, cv2.CC_STAT_AREA] >= least_area):
        left, top, wide, high, _area = (int(value) for value in boxes[index])
        if index:
            yield Region(labels[top : top + high, left : left + wide] == index, x0 + left, y0 + top)


def parts_of(
    mask: NDArray[np.bool_], connectivity: int
) -> tuple[NDArray[Any], NDArray[np.int32], tuple[int, int]]:
    """The connected parts of a mask, within the smallest window that holds them all.

    Returns
    -------
    labels : int array [rows, columns]
        Of the window: nought beside the parts, then one number for each.
    boxes : int32 array [labels, 5]
        Left, top, columns, rows, area of each label within the window, its rest first [px].
    corner : tuple of int
        Column and row of the mask at which the window begins.
    """
    some = mask.view(np.uint8)
    x0, y0, wide, high = cv2.boundingRect(some)
    if wide == 0:
        return np.zeros((0, 0), np.int32), np.zeros((1, 5), np.int32), (0, 0)
    window = some[y0 : y0 + high, x0 : x0 + wide]
    # With labels of 16 bits this takes a third of the time; no two parts share a cell of two by two pixels.
    few = ((wide + 1) // 2) * ((high + 1) // 2) < _MOST_SMALL_LABELS and connectivity == 8
    _, labels, boxes, _ = cv2.connectedComponentsWithStats(
        window, connectivity=connectivity, ltype=cv2.CV_16U if few else cv2.CV_32S
    )
    return labels, np.asarray(boxes, dtype=np.int32), (x0, y0)


def peaks_in(
    whole: Region,
    plane: NDArray[np.float32],
    *,
    share: float,
    least: float,
    seed: NDArray[np.float32] | float,
    second: float = 0.0,
    most: int = 4,
) -> Iterator[Region]:
    """The peaks of a plane within a region, each as far as a share of its own height reaches.

    Parameters
    ----------
    whole : Region
    plane : float32 array
        Of the stretch.
    share : float
        A peak reaches down to this share of its height ...
    least : float
        ... but never below this.
    seed : float, or float32 array of the stretch
        Lowest height of a peak.
    second : float
        Lowest height of the further peaks, as a share of the first.
    most : int
        Peaks taken at most.
    """
    rest = np.where(whole.patch, plane[whole.window], np.float32(0.0))
    floor = np.broadcast_to(np.asarray(seed, dtype=np.float32), plane.shape)[whole.window]
    first = 0.0
    for _ in range(most):
        row, column = np.unravel_index(int(rest.argmax()), rest.shape)
        peak = float(rest[row, column])
        if peak < max(float(floor[row, column]), second * first):
            return
        first = first or peak
        _, labels = cv2.connectedComponents((rest > max(share * peak, least)).astype(np.uint8))
        blob = labels == labels[row, column]
        rest[cv2.dilate(blob.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0] = 0
        if labels[row, column]:
            yield _trimmed(blob, whole.left, whole.top)


def within_share(said: NDArray[np.float32], clouds: Iterable[Region], share: float) -> NDArray[np.bool_]:
    """What of some regions lies above a share of each one's own height, as a mask.

    The net's doubt reaches beyond what it is sure of, along the grain above all: an outline round all of it
    is too long. A region's height is what 95 % of its pixels lie below.
    """
    inside = np.zeros(said.shape, np.bool_)
    for cloud in clouds:
        rim = share * float(np.percentile(cloud.of(said), 95))
        inside[cloud.window] |= cloud.patch & (said[cloud.window] > rim)
    return inside


def _trimmed(blob: NDArray[np.bool_], left: int, top: int) -> Region:
    rows, columns = np.flatnonzero(blob.any(axis=1)), np.flatnonzero(blob.any(axis=0))
    inside = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return Region(blob[inside], left + int(columns[0]), top + int(rows[0]))


def median_of(values: NDArray[Any]) -> float:
    """The median; looked for between two bounds that a sample gives, thrice as fast as among all values."""
    flat = values.ravel()
    sample = np.sort(flat[:: max(1, flat.size // 1000)])
    low, high = sample[int(0.45 * len(sample))], sample[int(0.55 * len(sample))]
    between = flat[(flat >= low) & (flat <= high)]
    below = int(np.count_nonzero(flat < low))
    first, second = (flat.size - 1) // 2 - below, flat.size // 2 - below
    if first < 0 or second >= len(between):
        return float(np.median(flat))
    ranked = np.partition(between, (first, second))
    return float((ranked[first] + ranked[second]) / 2)


def chance_from(evidence: float) -> float:
    """Evidence as log odds, turned into a chance from 0 to 1."""
    return 1 / (1 + exp(-min(max(evidence, -50.0), 50.0)))


def log_odds(chance: float) -> float:
    """Log odds of a chance of the net, which is never quite sure (3 % held back either way)."""
    return log((chance + 0.03) / (1.03 - chance))


def sureness(region: Region, said: NDArray[np.float32]) -> NDArray[np.float64]:
    """One, log odds of a region's 75 % and of its greatest chance, log2 mm long, mean mm high.

    For a plane at one pixel per millimetre; what the suggesters of pockets and stain weigh.
    """
    inside = region.of(said)
    sure = log_odds(float(np.percentile(inside, 75)))
    return np.array(
        [1.0, sure, log_odds(float(inside.max())), np.log2(region.wide), region.area / region.wide]
    )
