"""Even light over a true-scale picture, and white where white should be.

A window at one end, a lamp, the falling off of a lens and the shade of the man
who photographs change slowly over a board; wood changes fast across the grain and
knots are small. So what is slow both along and across is taken for light.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["evened", "white_balanced"]

_GRID_MM = 25.0
_SLOW_MM = 260.0
_MOST_GAIN = 1.8


def evened(picture: NDArray[np.uint8], px_per_mm: float, *, strength: float = 0.85) -> NDArray[np.uint8]:
    """The picture as if lit evenly, its mean brightness kept.

    Parameters
    ----------
    picture : ndarray of uint8, [height, width, 3]
        A true-scale picture of a board, nothing but board in it.
    px_per_mm : float
    strength : float
        Part of the unevenness taken out: sapwood along an edge, which is slow too,
        shall not vanish.
    """
    if not (px_per_mm > 0 and 0 <= strength <= 1):
        raise ValueError(f"evened: px_per_mm {px_per_mm}, strength {strength}; give above 0, and 0 to 1")
    light = _light(picture, px_per_mm)
    gain = np.exp(-strength * (light - light.mean()))
    gain = np.clip(gain, 1 / _MOST_GAIN, _MOST_GAIN).astype(np.float32)
    size = (picture.shape[1], picture.shape[0])
    whole = np.asarray(cv2.resize(gain, size, interpolation=cv2.INTER_CUBIC), dtype=np.float32)
    answer = np.empty_like(picture)
    for top in range(0, picture.shape[0], 256):  # in bands, so that no second large picture is held
        part = picture[top : top + 256].astype(np.float32) * whole[top : top + 256, :, None]
        answer[top : top + 256] = np.clip(part + 0.5, 0, 255).astype(np.uint8)
    return answer


def _light(picture: NDArray[np.uint8], px_per_mm: float) -> NDArray[np.float64]:
    """Logarithm of the light on a coarse grid: along the board as found, across it as a slope only."""
    cell = max(1.0, _GRID_MM * px_per_mm)
    size = (max(4, round(picture.shape[1] / cell)), max(3, round(picture.shape[0] / cell)))
    small = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.float32)
    level = np.log(np.maximum(small @ np.array([0.299, 0.587, 0.114], dtype=np.float32), 4.0)).astype(
        np.float32
    )
    if size[0] >= 5:
        level = np.asarray(cv2.medianBlur(level, 5), dtype=np.float32)  # a knot is no shade
    along = np.median(level, axis=0)
    spread = max(0.5, _SLOW_MM / _GRID_MM / 2)
    row = np.ascontiguousarray(along[None, :], dtype=np.float32)
    slow = np.asarray(cv2.GaussianBlur(row, (0, 0), spread, borderType=cv2.BORDER_REPLICATE), np.float64)[0]
    # Across, the mean of many places: a straight slope, so that a band of sapwood stays a band.
    down = np.linspace(-1, 1, size[1])
    rest = np.median(level - slow, axis=1)
    slope = float(np.sum(rest * down) / np.sum(down * down))
    return np.asarray(slow[None, :] + slope * down[:, None], dtype=np.float64)


def white_balanced(picture: NDArray[np.uint8], white_rgb: tuple[float, float, float]) -> NDArray[np.uint8]:
    """The picture with the colour of something known to be white made grey.

    Parameters
    ----------
    picture : ndarray of uint8, [height, width, 3]
    white_rgb : tuple of float
        Mean colour in this light of a sheet of paper or the marker sheet's white.
    """
    white = np.asarray(white_rgb, dtype=np.float64)
    if white.shape != (3,) or white.min() < 20 or white.max() > 255:
        raise ValueError(
            f"white balance: {white_rgb} is not the colour of white paper; give three values 20 to 255"
        )
    gain = white.mean() / white
    table = np.clip(np.arange(256)[:, None] * gain + 0.5, 0, 255).astype(np.uint8)
    return np.stack([table[picture[..., channel], channel] for channel in range(3)], axis=-1)
