"""Smooth seeded noise, sampled at any scale from a few periodic tiles.

Tiles are made once a process from fixed seeds, so a picture costs only look-ups;
a log differs from another by where in the tiles it reads.
"""

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Floats", "noise", "octaves", "speckle"]

Floats = NDArray[np.float32]

_SIDE_PX = 1024
_SCALE_PX = 4.0  # pixels of a tile per correlation length


@cache
def _tile(number: int) -> Floats:
    """A periodic tile of Gaussian noise, mean 0, standard deviation 1."""
    rng = np.random.default_rng(7919 + number)
    spectrum = np.fft.rfft2(rng.standard_normal((_SIDE_PX, _SIDE_PX)))
    fy = np.fft.fftfreq(_SIDE_PX)[:, None]
    fx = np.fft.rfftfreq(_SIDE_PX)[None, :]
    sigma = _SCALE_PX / 2.5
    spectrum *= np.exp(-2.0 * (np.pi * sigma) ** 2 * (fx**2 + fy**2))
    smooth = np.fft.irfft2(spectrum, s=(_SIDE_PX, _SIDE_PX))
    return np.asarray(smooth / smooth.std(), dtype=np.float32)


def noise(x: Floats, y: Floats, long: float, wide: float, seed: int) -> Floats:
    """Noise of mean 0 and deviation 1 at the points (x, y).

    Parameters
    ----------
    x, y : arrays of one shape, or broadcastable to one
        Coordinates [mm].
    long, wide : float
        Correlation length along x and along y [mm].
    seed : int
        Another seed reads another part of the tiles.
    """
    number, off_x, off_y = seed % 5, (seed * 379) % 991, (seed * 613) % 977
    kx, ky = np.float32(_SCALE_PX / long), np.float32(_SCALE_PX / wide)
    shape = np.broadcast_shapes(x.shape, y.shape)
    map_x = np.empty(shape, np.float32)
    map_y = np.empty(shape, np.float32)
    np.multiply(x, kx, out=map_x)
    np.multiply(y, ky, out=map_y)
    # a slight skew keeps the tile's period from lining up across the grain
    map_x += map_y * np.float32(0.0371)
    map_x += np.float32(off_x)
    map_y += np.float32(off_y)
    _wrap(map_x)
    _wrap(map_y)
    flat = cv2.remap(_tile(number), map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    return np.asarray(flat, dtype=np.float32).reshape(shape)


def _wrap(at: Floats) -> None:
    """Brings coordinates into the tile; `np.mod` would be five times slower."""
    turns = np.floor(at * np.float32(1 / _SIDE_PX))
    turns *= np.float32(_SIDE_PX)
    at -= turns


def octaves(x: Floats, y: Floats, long: float, wide: float, seed: int, count: int = 3) -> Floats:
    """Noise summed over halving scales, deviation about 1."""
    total = noise(x, y, long, wide, seed)
    weight, norm = 0.5, 1.0
    for step in range(1, count):
        total = total + np.float32(weight) * noise(x, y, long / 2**step, wide / 2**step, seed + 31 * step)
        norm += weight**2
        weight *= 0.5
    return np.asarray(total / np.float32(np.sqrt(norm)), dtype=np.float32)


def speckle(shape: tuple[int, int], rng: np.random.Generator) -> Floats:
    """White noise, deviation 1."""
    return np.asarray(rng.standard_normal(shape, dtype=np.float32), dtype=np.float32)
