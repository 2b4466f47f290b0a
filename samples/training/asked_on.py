"""What the fit of the marks' rules is asked on beside plain boards: writing, and knots unlike those learned.

The net has seen the scanned knots over and over, so what it says of them flatters it. Made fainter, of
another colour, longer or wider, and set into a board that it has not seen, they stand for knots of
other woods.
"""

from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from samples.training.pack_scans import _boards, _frames, _patches, _rare
from samples.training.scribbles import CHALK, PEN, PENCIL, TAPE, scribble

__all__ = ["Knot", "real_knots", "with_knots", "written_on"]

Picture = NDArray[np.uint8]
Knot = tuple[Picture, Picture]  # its colour over that of the clear grain there (128 = alike), and its mask

_KNOT = 1  # its bit in the masks of `pack_scans`
_FIGURE_MM = 256  # one figure, label or strip of tape in so much of a board
_FADE_PX = 6.0  # the grain round a set-in knot goes over into the board's own
_TRIES = 20
# What each pen leaves: its colours, least and most of the wood it covers, how rough it is.
_PENS = {
    PENCIL: (((70, 70, 74), (56, 54, 58), (120, 60, 54)), 0.35, 0.8, 0.5),
    CHALK: (((238, 238, 232), (230, 214, 112), (58, 58, 62), (198, 70, 62), (44, 72, 138)), 0.5, 0.9, 1.0),
    PEN: (((26, 26, 30), (28, 34, 108), (152, 28, 28), (36, 88, 52)), 0.6, 0.95, 0.1),
    TAPE: (((228, 214, 168), (236, 236, 234), (66, 118, 190), (216, 78, 64)), 0.7, 1.0, 0.0),
}


def written_on(picture: Picture, px_per_mm: float, rng: np.random.Generator) -> Picture:
    """The board with about four figures, labels or strips of tape a metre, of the kinds learned from."""
    made = picture.astype(np.float64)
    step = round(_FIGURE_MM * px_per_mm)
    for left in range(0, picture.shape[1], step):
        window = np.s_[:, left : left + step]
        some = scribble(rng, made[window].shape[:2], px_per_mm)
        colours, least, most, rough = _PENS[some.pen]
        share = some.cover / 255 * rng.uniform(least, most)
        share = share * np.clip(1.35 - rough * 1.3 * rng.random(share.shape), 0, 1)
        colour = np.array(colours[int(rng.integers(len(colours)))]) * (some.tone[..., None] / 255)
        made[window] += (colour - made[window]) * cv2.GaussianBlur(share, (0, 0), 0.6)[..., None]
    return np.clip(made, 0, 255).astype(np.uint8)


def real_knots(data: Path) -> list[Knot]:
    """The knots of the scans that are learned from, those with clear grain round them."""
    entries = (entry for some in (_boards, _frames, _rare) for entry in some(data))
    return [
        (ratio, mask)
        for picture, _, marks in entries
        for ratio, mask, bit in _patches(picture, marks)
        if bit == _KNOT
    ]


def with_knots(
    picture: Picture, bits: Picture, knots: list[Knot], count: int, rng: np.random.Generator
) -> tuple[Picture, Picture]:
    """The board and its class bits with knots set in, each changed in look, none touching another."""
    made, bits = picture.astype(np.float32), bits.copy()
    taken = np.zeros(bits.shape, np.bool_)
    for ratio, mask in (_changed(*knots[int(rng.integers(len(knots)))], rng) for _ in range(count)):
        for top, left in _places(mask.shape, bits.shape, rng):
            window = np.s_[top : top + mask.shape[0], left : left + mask.shape[1]]
            if taken[window].any():
                continue
            inside = cv2.distanceTransform(np.pad(np.ones_like(mask), 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
            soft = np.clip(inside / _FADE_PX, 0, 1)[..., None]
            made[window] *= 1 + soft * (ratio / 128 - 1)
            bits[window] = np.where(mask > 0, bits[window] | _KNOT, bits[window])
            taken[window] = True
            break
    return np.clip(made, 0, 255).astype(np.uint8), bits


def _changed(ratio: Picture, mask: Picture, rng: np.random.Generator) -> tuple[NDArray[np.float32], Picture]:
    """A knot turned over, longer or shorter, fainter, and of more or less colour."""
    for axis in (0, 1):
        if rng.random() < 0.5:
            ratio, mask = np.flip(ratio, axis), np.flip(mask, axis)
    high, wide = (max(8, round(side * float(np.exp(rng.uniform(-0.4, 0.4))))) for side in mask.shape)
    look = cv2.resize(np.ascontiguousarray(ratio), (wide, high), interpolation=cv2.INTER_AREA)
    shape = cv2.resize(np.ascontiguousarray(mask), (wide, high), interpolation=cv2.INTER_LINEAR)
    grey = look.astype(np.float32).mean(axis=2, keepdims=True)
    coloured = grey + (look - grey) * rng.uniform(0.3, 1.5)
    power = rng.uniform(0.4, 0.9) * np.exp(rng.uniform(-0.15, 0.15, 3))
    faint = 128 * (np.maximum(coloured, 6) / 128) ** power
    return np.clip(faint, 0, 255).astype(np.float32), np.where(shape > 127, 255, 0).astype(np.uint8)


def _places(
    size: tuple[int, ...], room: tuple[int, ...], rng: np.random.Generator
) -> Iterator[tuple[int, int]]:
    free = room[0] - size[0], room[1] - size[1]
    if min(free) > 0:
        for _ in range(_TRIES):
            yield int(rng.integers(free[0])), int(rng.integers(free[1]))
