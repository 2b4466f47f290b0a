"""The border between heartwood and sapwood: one step of colour across the grain, all along the board.

On every block of board the colour is told by one profile across the grain. The
border is the path along the board that keeps to the greatest step, paler
outside; it must hold most of the way, be a step of colour and not of light
alone, and stand out above the other steps of the same board.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found
from vision.suggest.regions import chance_from
from vision.suggest.surface import Surface

__all__ = ["Profiles", "profiles_of", "sapwood"]

Plane = NDArray[np.float32]

BLOCK_MM = 20
_NEAR_MM, _FAR_MM = 2, 12  # the step is judged over this much wood on either side
_COLOUR_WEIGHT = 2.0  # a step of a* or b* counts for two of L*
_LEAST_STEP = 7.0
_HOLDS, _LEAST_HELD = 0.6, 0.45  # share of that step by which a block counts, and share of blocks that must
_MOST_DRIFT_MM = 3  # the border moves no more than this across from block to block
_MARGIN_MM = 4
_RESERVE = 1.0  # log odds held back: shadows and streaks of colour look like borders more often than not
_WIDEST_BOTH = 0.8  # of the width, on both sides together
_WIDEST_SHARE = 0.6  # of the board's width, on one side
_LONG_ENOUGH_MM = 600.0  # on less board than this, any streak could be a border
_SOME_LIGHTNESS = 80.0  # L* + 16 of pale wood


@dataclass(frozen=True)
class Profiles:
    """Colour across the grain, block by block.

    Parameters
    ----------
    x_mm : float array [blocks]
        Middle of each block along the board.
    lab : float32 array [blocks, rows, 3]
        One row per millimetre of width.
    wood : bool array [blocks, rows]
    chance : float32 array [blocks, rows] or None
        What the net says of sapwood.
    """

    x_mm: NDArray[np.float64]
    lab: Plane
    wood: NDArray[np.bool_]
    chance: Plane | None


def profiles_of(surface: Surface) -> Profiles:
    """The profiles of the blocks whose middle lies in the part that a stretch answers for."""
    start, stop = (bound - surface.start_mm for bound in surface.core_mm)
    count = max(1, round((stop - start) / BLOCK_MM))
    edges = np.linspace(start, stop, count + 1)
    first = edges[:-1].astype(np.intp)
    wide = np.maximum(edges[1:].astype(np.intp), first + 1) - first
    rows = surface.wood.shape[0]
    lab, wood = np.empty((count, rows, 3), np.float32), np.empty((count, rows), np.bool_)
    chance = None if surface.chances is None else np.empty((count, rows), np.float32)
    planes = cv2.split(surface.lab)
    for many in np.unique(wide):  # one width or two: blocks of one width are looked at together
        here = np.flatnonzero(wide == many)
        columns = np.minimum(first[here][:, None] + np.arange(many), surface.wood.shape[1] - 1)
        for channel, plane in enumerate(planes):
            lab[here, :, channel] = _middle(np.asarray(plane, np.float32)[:, columns], -1).T
        wood[here] = (surface.wood[:, columns].mean(axis=-1) > 0.5).T
        if chance is not None and surface.chances is not None:
            chance[here] = surface.chances["sapwood"][:, columns].mean(axis=-1).T
    return Profiles(surface.start_mm + (edges[1:] + edges[:-1]) / 2, lab, wood, chance)


def _middle(values: Plane, axis: int) -> Plane:
    """The median along an axis; sorting a few values is faster than NumPy's search for the middle two."""
    count = values.shape[axis]
    ranked = np.moveaxis(np.sort(values, axis=axis), axis, 0)
    return np.asarray((ranked[(count - 1) // 2] + ranked[count // 2]) / 2, dtype=np.float32)


def sapwood(parts: list[Profiles], length_mm: float) -> list[Found]:
    """The sapwood along either edge of a whole board, from the profiles of its stretches."""
    lab = _smooth(_without_shade(np.concatenate([part.lab for part in parts])))
    wood = np.concatenate([part.wood for part in parts])
    x = np.concatenate([part.x_mm for part in parts])
    chance = (
        None
        if parts[0].chance is None
        else np.concatenate([part.chance for part in parts if part.chance is not None])
    )
    found = []
    for flip in (False, True):
        seen = lab[:, ::-1] if flip else lab
        inside = wood[:, ::-1] if flip else wood
        said = None if chance is None else (chance[:, ::-1] if flip else chance)
        one = _one_side(seen, inside, said, x, length_mm)
        if one is not None:
            width = float(lab.shape[1])
            ring = tuple((px, width - py if flip else py) for px, py in one.ring)
            found.append(Found(one.kind, ring, one.score))
    if len(found) == 2 and _share(found[0], lab.shape[1]) + _share(found[1], lab.shape[1]) > _WIDEST_BOTH:
        found = [max(found, key=lambda one: one.score)]  # some heartwood must be left for a border to be one
    return found


def _share(found: Found, rows: int) -> float:
    """Greatest share of the width it takes."""
    ys = [y for _, y in found.ring]
    return (max(ys) - min(ys)) / rows


def _without_shade(lab: Plane) -> Plane:
    """The colour with a* and b* as they would be at one lightness.

    Less light on the same wood multiplies L* + 16, a* and b* by one factor (all
    three are differences of cube roots), so their ratios tell wood from shadow.
    """
    even = lab.copy()
    even[..., 1:] *= (_SOME_LIGHTNESS / (lab[..., 0] + 16.0))[..., None]
    return even


def _smooth(lab: Plane) -> Plane:
    """Each block with its two neighbours on either side."""
    padded = np.pad(lab, ((2, 2), (0, 0), (0, 0)), mode="edge")
    return np.asarray(sum(padded[i : i + len(lab)] for i in range(5)) / 5, dtype=np.float32)


def _one_side(
    lab: Plane, wood: NDArray[np.bool_], chance: Plane | None, x: NDArray[np.float64], length_mm: float
) -> Found | None:
    """Sapwood that lies towards row 0."""
    rows = lab.shape[1]
    if rows < 4 * _FAR_MM:
        return None
    step, colour = _steps(lab, wood)
    path = _best_path(step)
    blocks = np.arange(len(path))
    along, hue = step[blocks, path], colour[blocks, path]
    if float((along > _HOLDS * _LEAST_STEP).mean()) < _LEAST_HELD:
        return None
    outer, inner, spread = _sides(lab, wood, path)
    whole = (outer - inner) * (1.0, _COLOUR_WEIGHT, _COLOUR_WEIGHT)
    tint = np.hypot(whole[:, 1], whole[:, 2])
    size = np.linalg.norm(whole, axis=1)
    held = (along > _HOLDS * _LEAST_STEP) & (whole[:, 0] > 1.0) & (tint > 3.0) & (size > 1.6 * spread)
    clearness = float(np.median(size / np.maximum(spread, 0.8)))
    evidence = (
        0.25 * (min(float(np.median(along)), 16.0) - _LEAST_STEP)
        + 6.0 * (float(held.mean()) - 0.8)
        + 0.2 * (min(float(np.median(hue)), 8.0) - 3.0)
        + 1.2 * (min(clearness, 5.0) - 3.0)
    )
    evidence -= 4.0 * max(0.0, 1.0 - length_mm / _LONG_ENOUGH_MM)
    if chance is not None:
        below = np.arange(rows)[None, :] < path[:, None]
        agreed = (
            float(chance[below].mean() - chance[~below].mean()) if below.any() and (~below).any() else 0.0
        )
        evidence += 8.0 * (agreed - 0.3)
    if float(held.mean()) < _LEAST_HELD or float(np.median(path)) > _WIDEST_SHARE * rows:
        return None
    first = np.argmax(wood, axis=1)
    ring = [(0.0, float(first[0])), *((float(px), float(f)) for px, f in zip(x, first, strict=True))]
    ring += [(length_mm, float(first[-1])), (length_mm, float(path[-1]))]
    ring += [(float(px), float(p)) for px, p in zip(x[::-1], path[::-1], strict=True)] + [
        (0.0, float(path[0]))
    ]
    return Found(DefectKind.SAPWOOD, tuple(ring), chance_from(0.8 * (evidence - _RESERVE)))


def _steps(lab: Plane, wood: NDArray[np.bool_]) -> tuple[Plane, Plane]:
    """Step of colour at each row, paler above, and its part of hue; -inf where it cannot be judged."""
    rows = lab.shape[1]
    total = np.concatenate([np.zeros((len(lab), 1, 3), np.float32), np.cumsum(lab, axis=1)], axis=1)
    step = np.full(lab.shape[:2], -np.inf, np.float32)
    colour = np.zeros(lab.shape[:2], np.float32)
    row = np.arange(_FAR_MM + 1, rows - _FAR_MM - 1)
    near, far = _NEAR_MM, _FAR_MM
    above = (total[:, row - near] - total[:, row - far]) / (far - near)
    below = (total[:, row + far] - total[:, row + near]) / (far - near)
    change = above - below
    hue = _COLOUR_WEIGHT * np.hypot(change[..., 1], change[..., 2])
    size = np.hypot(np.maximum(change[..., 0], 0), hue)
    edge = far + _MARGIN_MM
    known = wood[:, np.maximum(row - edge, 0)] & wood[:, np.minimum(row + edge, rows - 1)]
    step[:, row] = np.where(known, np.where(change[..., 0] > 0, size, -size), -np.inf)
    colour[:, row] = hue
    return step, colour


def _best_path(step: Plane) -> NDArray[np.intp]:
    """The row in each block that together hold the greatest steps without leaping (dynamic programme)."""
    worth = np.where(np.isfinite(step), step, -30.0)
    best = worth[0].copy()
    came = np.zeros(step.shape, np.intp)
    most = _MOST_DRIFT_MM
    rows = np.arange(step.shape[1])
    toll = 0.5 * np.abs(np.arange(-most, most + 1)).astype(np.float32)
    around = np.full(len(rows) + 2 * most, -np.inf, np.float32)
    near = np.lib.stride_tricks.sliding_window_view(around, 2 * most + 1)
    for block in range(1, len(worth)):
        around[most:-most] = best
        options = near - toll
        choice = options.argmax(axis=1)
        came[block] = rows + choice - most
        best = options[rows, choice] + worth[block]
    path = np.zeros(len(worth), np.intp)
    path[-1] = int(best.argmax())
    for block in range(len(worth) - 1, 0, -1):
        path[block - 1] = came[block, path[block]]
    return path


def _sides(lab: Plane, wood: NDArray[np.bool_], path: NDArray[np.intp]) -> tuple[Plane, Plane, Plane]:
    """Median colour on either side of the border, block by block, and how much the colour varies there."""
    outer, inner = np.zeros((len(path), 3), np.float32), np.zeros((len(path), 3), np.float32)
    spread = np.full(len(path), np.inf, np.float32)
    weight = (1.0, _COLOUR_WEIGHT, _COLOUR_WEIGHT)
    for block, row in enumerate(path):
        out = lab[block, : row - _NEAR_MM][wood[block, : row - _NEAR_MM]]
        into = lab[block, row + _NEAR_MM : row + 80][wood[block, row + _NEAR_MM : row + 80]]
        if len(out) > 3 and len(into) > 3:
            outer[block], inner[block] = _middle(out, 0), _middle(into, 0)
            rests = np.concatenate([(out - outer[block]) * weight, (into - inner[block]) * weight])
            spread[block] = np.sqrt((rests**2).sum(axis=1).mean())
    return outer, inner, spread
