"""Whether two pictures look the same, and a picture of where they do not."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Difference", "difference"]

# Squares of a few pixels, about as high as a digit on a 1200 px wide picture. Letters drawn
# by another release of the font library differ at their edges by a shade, which the mean of
# a square takes up; a digit that became another one does not drown in it.
SQUARE_PX = 6
SHADE = 16.0  # of 255, mean over a square


@dataclass(frozen=True)
class Difference:
    """How far two pictures differ; falsy when they look the same."""

    why: str
    picture: NDArray[np.uint8] | None = None

    def __bool__(self) -> bool:
        return bool(self.why)


def difference(found: NDArray[np.uint8], wanted: NDArray[np.uint8]) -> Difference:
    """Compare two RGB pictures, [height, width, 3]."""
    if found.shape != wanted.shape:
        return Difference(f"the picture is {found.shape}, the approved one {wanted.shape}")
    apart = np.abs(found.astype(np.float32) - wanted).max(axis=2)
    high, wide = (-(-size // SQUARE_PX) for size in apart.shape)
    whole = np.zeros((high * SQUARE_PX, wide * SQUARE_PX), np.float32)
    whole[: apart.shape[0], : apart.shape[1]] = apart
    means = whole.reshape(high, SQUARE_PX, wide, SQUARE_PX).mean(axis=(1, 3))
    bad = means > SHADE
    if not bad.any():
        return Difference("")
    shown = (255 - (255 - found) * 0.3).astype(np.uint8)
    shown[np.kron(bad, np.ones((SQUARE_PX, SQUARE_PX), bool))[: apart.shape[0], : apart.shape[1]]] = (
        220,
        0,
        0,
    )
    return Difference(f"{int(bad.sum())} squares differ, the worst by {means.max():.0f} of 255", shown)
