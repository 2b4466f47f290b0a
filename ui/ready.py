"""A job's pictures made ready for a screen, the last ones kept at hand."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ui.files import JobFolder
from ui.pictures import jpeg, picture_from, screen_copy

__all__ = ["SCREEN_PX", "picture_part", "ready_picture"]

SCREEN_PX = 2400
"""Longer side of a photo as the page shows it; the magnifier asks for parts at full size."""
_MOST_PX = 12_000
_MOST_PART = 4_000_000


@lru_cache(maxsize=32)
def ready_picture(folder: JobFolder, name: str, size: int) -> bytes:
    """A JPEG of one of the job's pictures, its longer side at most `size` [px]; 0 for as it is.

    Raises
    ------
    JobError, VisionError
        There is no such file, or it is no picture.
    """
    data = folder.read(name)
    if name.startswith("pictures/") and not size:
        return data  # ours already: a JPEG without any word about place or time
    return screen_copy(data, min(max(size, 64), _MOST_PX) if size else _MOST_PX)


def picture_part(folder: JobFolder, name: str, box: tuple[int, int, int, int]) -> bytes:
    """A JPEG of a part of a picture, (x0, y0, x1, y1), at full size [px].

    Raises
    ------
    ValueError
        The part is empty or too big.
    """
    x0, y0, x1, y1 = box
    if not (x1 > x0 and y1 > y0 and (x1 - x0) * (y1 - y0) <= _MOST_PART):
        raise ValueError(f"a part of {x1 - x0} x {y1 - y0} pixels")
    part = _decoded(folder, name)[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)]
    if not part.size:
        raise ValueError("this part lies outside the picture")
    return jpeg(np.ascontiguousarray(part), 90)


@lru_cache(maxsize=2)
def _decoded(folder: JobFolder, name: str) -> NDArray[np.uint8]:
    return picture_from(folder.read(name))
