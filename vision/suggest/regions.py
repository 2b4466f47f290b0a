"""Connected regions of a mask, and what the planes of a stretch say within them."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import exp
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.suggest.found import Ring, outline_of

__all__ = ["Region", "chance_from", "regions_of"]


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
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        mask.astype(np.uint8), connectivity=connectivity
    )
    for index in range(1, count):
        left, top, wide, high, area = (int(value) for value in stats[index])
        if area >= least_area:
            yield Region(labels[top : top + high, left : left + wide] == index, left, top)


def chance_from(evidence: float) -> float:
    """Evidence as log odds, turned into a chance from 0 to 1."""
    return 1 / (1 + exp(-min(max(evidence, -50.0), 50.0)))
