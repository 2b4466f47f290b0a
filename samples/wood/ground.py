"""What boards lie on: a bench top, concrete, a floor, trestles over cloth."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np

from samples.wood.faults import Points
from samples.wood.log import grow_log
from samples.wood.noise import Floats, noise, octaves
from samples.wood.sawn import SawnBoard
from samples.wood.surface import Cut, wood_colour

__all__ = ["GROUNDS", "ground_colour"]

GROUNDS = ("bench", "concrete", "floor", "trestles")


def ground_colour(name: str, x: Floats, y: Floats, board: SawnBoard, seed: int) -> Floats:
    """SRGB of the ground at seen (x, y) [h, w, 3]."""
    if name == "bench":
        return _planks(x, y, seed, 85.0, 0.74)
    if name == "floor":
        return _painted(x, y, seed)
    if name == "trestles":
        return _trestles(x, y, board, seed)
    return _concrete(x, y, seed)


def _shade(base: tuple[float, float, float], shade: Floats) -> Floats:
    return np.asarray(np.array(base, np.float32) * np.exp(-shade[..., None]), np.float32)


def _concrete(x: Floats, y: Floats, seed: int) -> Floats:
    cloud = octaves(x, y, 420.0, 420.0, seed, 4)
    sand = noise(x, y, 2.6, 2.6, seed + 1)
    pits = np.clip(noise(x, y, 6.0, 6.0, seed + 2) - np.float32(2.1), 0, 1)
    damp = np.clip(octaves(x, y, 700.0, 500.0, seed + 3, 2) - np.float32(0.9), 0, 1)
    shade = (
        np.float32(0.07) * cloud + np.float32(0.045) * sand + np.float32(0.5) * pits + np.float32(0.2) * damp
    )
    return _shade((158.0, 154.0, 147.0), shade)


def _painted(x: Floats, y: Floats, seed: int) -> Floats:
    cloud = octaves(x, y, 600.0, 600.0, seed, 3)
    scuff = np.clip(noise(x + y, y - x, 160.0, 5.0, seed + 1) - np.float32(1.9), 0, 1)
    dust = np.clip(octaves(x, y, 60.0, 60.0, seed + 2, 3) - np.float32(0.7), 0, 1)
    shade = np.float32(0.06) * cloud - np.float32(0.35) * scuff - np.float32(0.16) * dust
    return _shade((92.0, 97.0, 100.0), np.asarray(shade, np.float32))


def _trestles(x: Floats, y: Floats, board: SawnBoard, seed: int) -> Floats:
    weave = np.sin(x * np.float32(1.1)) * np.sin(y * np.float32(1.1))
    fold = octaves(x, y, 500.0, 160.0, seed, 3)
    cloth = _shade((66.0, 76.0, 92.0), np.float32(0.16) * fold + np.float32(0.05) * weave)
    for share in (0.18, 0.8):
        middle = np.float32(share * board.length)
        beam = np.abs(x - middle) < 35
        close = np.exp(-np.square(np.maximum(np.abs(x - middle) - 35, 0) / np.float32(25)))
        cloth *= 1 - np.float32(0.5) * close[..., None]
        if beam.any():
            cloth[beam] = _tile_planks(seed + 3)[
                np.floor(x[beam]).astype(np.int32) % 1024, np.floor(y[beam]).astype(np.int32) % 2048
            ] * np.float32(0.85)
    return cloth


def _planks(x: Floats, y: Floats, seed: int, wide: float, tone: float) -> Floats:
    """A bench top of birch staves along x, used and dusty."""
    tile = _tile_planks(seed % 3)
    stave = np.floor(y / np.float32(wide))
    shift = np.mod(stave * 613 + seed, 1024)
    map_x = np.mod(x + shift, 2047).astype(np.float32)
    map_y = np.mod(y + stave * 57, 1023).astype(np.float32)
    colour = np.asarray(
        cv2.remap(tile, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP), np.float32
    )
    joint = np.abs(np.mod(y, np.float32(wide)) - np.float32(wide / 2)) > np.float32(wide / 2 - 0.7)
    shade = np.float32(0.10) * np.sin(stave * 2.3 + seed) + np.float32(0.6) * joint
    grime = octaves(x, y, 300.0, 200.0, seed + 9, 4)
    shade = shade + np.float32(0.10) * grime - np.float32(np.log(tone))
    scratch = np.clip(noise(x + 2 * y, y, 90.0, 1.4, seed + 10) - np.float32(2.2), 0, 1)
    return np.asarray(colour * np.exp(-(shade + np.float32(0.5) * scratch))[..., None], np.float32)


@cache
def _tile_planks(number: int) -> Floats:
    """Plain birch, 2048 x 1024 mm at 1 px/mm, rows across the grain."""
    log = replace(grow_log("birch", 900 + number, radius=900.0), curl=0.0)
    x = np.arange(2048, dtype=np.float32)[None, :]
    y = np.arange(1024, dtype=np.float32)[:, None]
    along = np.array(np.broadcast_to(x, (1024, 2048)))
    u = np.array(np.broadcast_to(y - 512, (1024, 2048)))
    v = np.full((1024, 2048), 300.0, np.float32)
    grown = log.grown(along, u, v)
    return wood_colour(Points(along, u, v, grown, log), Cut((1.0, 0.0), (0.0, 1.0)))
