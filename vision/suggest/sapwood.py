"""The border between heartwood and sapwood: one step of colour across the grain, all along the board.

On every block of board the colour is told by one profile across the grain. The
border is the path along the board that keeps to the greatest step, paler
outside; it must hold most of the way, be a step of colour and not of light
alone, and stand out above the other steps of the same board. Where there is
bark the wood beside it is taken to go on: sapwood lies next to the bark.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found, Ring
from vision.suggest.regions import chance_from
from vision.suggest.surface import Surface

__all__ = ["Profiles", "profiles_of", "sapwood"]

Plane = NDArray[np.float32]
Rows = NDArray[np.intp]

BLOCK_MM = 20
_NEAR_MM, _FAR_MM = 2, 12  # the step is judged over this much wood on either side
_COLOUR_WEIGHT = 2.0  # a step of a* or b* counts for two of L*
_LEAST_STEP = 7.0
_HOLDS = 0.6  # share of that step by which a block counts,
_LEAST_HELD = 0.45  # and share of blocks that must
_MOST_DRIFT_MM = 3  # the border moves no more than this across from block to block
_MARGIN_MM = 4
_RESERVE = 1.0  # log odds held back: shadows and streaks of colour look like borders more often than not
_WIDEST_BOTH = 0.8  # of the width, on both sides together
_WIDEST_SHARE = 0.6  # of the width without bark, on one side
_PALER = 1.0  # by so much the outside must be [L*]
_SURE = 0.5  # where the net sees so much more sapwood outside than inside, sapwood may be wide or no paler:
_WIDEST_IF_SURE, _PALER_IF_SURE = 0.75, 0.0
_LED = 3.0  # worth of what the net sees in finding the border, as a step of colour
_BARK = 0.5  # chance of wane from which there is no wood to be judged
_AGREED = 0.3  # so much more sapwood the net sees outside, on average,
_HEART_MM = 60  # than so far inside
_NET_WEIGHT = 14.0  # of what it sees more or less than that
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
    bark : float32 array [blocks, rows] or None
        What it says of wane.
    """

    x_mm: NDArray[np.float64]
    lab: Plane
    wood: NDArray[np.bool_]
    chance: Plane | None
    bark: Plane | None


def profiles_of(surface: Surface) -> Profiles:
    """The profiles of the blocks whose middle lies in the part that a stretch answers for."""
    start, stop = (bound - surface.start_mm for bound in surface.core_mm)
    count = max(1, round((stop - start) / BLOCK_MM))
    edges = np.linspace(start, stop, count + 1)
    first = edges[:-1].astype(np.intp)
    wide = np.maximum(edges[1:].astype(np.intp), first + 1) - first
    rows = surface.wood.shape[0]
    lab, wood = np.empty((count, rows, 3), np.float32), np.empty((count, rows), np.bool_)
    said = [] if surface.chances is None else [surface.chances[name] for name in ("sapwood", "wane")]
    means = [np.empty((count, rows), np.float32) for _ in said]
    planes = cv2.split(surface.lab)
    for many in np.unique(wide):  # one width or two: blocks of one width are looked at together
        here = np.flatnonzero(wide == many)
        columns = np.minimum(first[here][:, None] + np.arange(many), surface.wood.shape[1] - 1)
        for channel, plane in enumerate(planes):
            lab[here, :, channel] = _middle(np.asarray(plane, np.float32)[:, columns], -1).T
        wood[here] = (surface.wood[:, columns].mean(axis=-1) > 0.5).T
        for mean, plane in zip(means, said, strict=True):
            mean[here] = plane[:, columns].mean(axis=-1).T
    chance, bark = means if means else (None, None)
    return Profiles(surface.start_mm + (edges[1:] + edges[:-1]) / 2, lab, wood, chance, bark)


def _middle(values: Plane, axis: int) -> Plane:
    """The median along an axis; sorting a few values is faster than NumPy's search for the middle two."""
    count = values.shape[axis]
    ranked = np.moveaxis(np.sort(values, axis=axis), axis, 0)
    return np.asarray((ranked[(count - 1) // 2] + ranked[count // 2]) / 2, dtype=np.float32)


def sapwood(parts: list[Profiles], length_mm: float) -> list[Found]:
    """The sapwood along either edge of a whole board, from the profiles of its stretches."""
    wood = np.concatenate([part.wood for part in parts])
    x = np.concatenate([part.x_mm for part in parts])
    chance, bark = (
        None if getattr(parts[0], name) is None else np.concatenate([getattr(part, name) for part in parts])
        for name in ("chance", "bark")
    )
    sound = wood if bark is None else wood & (bark < _BARK)
    lab = _smooth(_continued(_without_shade(np.concatenate([part.lab for part in parts])), sound))
    found: list[Found] = []
    deep = np.zeros(len(x), np.intp)
    for way in (1, -1):
        said = None if chance is None else chance[:, ::way]
        side = _one_side(lab[:, ::way], wood[:, ::way], sound[:, ::way], said, length_mm)
        if side is not None:
            out, into, score = side
            deep += into
            if way == -1:
                out, into = lab.shape[1] - out, lab.shape[1] - into
            found.append(Found(DefectKind.SAPWOOD, _ring(x, length_mm, out, into), score))
    if len(found) == 2 and float(np.median(deep)) > _WIDEST_BOTH * lab.shape[1]:
        found = [max(found, key=lambda one: one.score)]  # some heartwood must be left for a border to be one
    return found


def _ring(x: NDArray[np.float64], length_mm: float, out: Rows, into: Rows) -> Ring:
    """What lies between two rows of each block, from end to end."""
    along = [0.0, *x.tolist(), length_mm]
    upper, lower = (np.concatenate([side[:1], side, side[-1:]]).astype(np.float64) for side in (out, into))
    there, back = zip(along, upper.tolist(), strict=True), zip(along, lower.tolist(), strict=True)
    return (*there, *reversed(list(back)))


def _continued(lab: Plane, sound: NDArray[np.bool_]) -> Plane:
    """The colour with what lies beside sound wood, bark or bed, as if the wood went on there."""
    rows = sound.shape[1]
    first = np.argmax(sound, axis=1)
    last = rows - 1 - np.argmax(sound[:, ::-1], axis=1)
    first = np.where(first > 0, np.minimum(first + 2, last), 0)
    last = np.where(last < rows - 1, np.maximum(last - 2, first), rows - 1)
    inside = np.clip(np.arange(rows), first[:, None], last[:, None])
    return np.take_along_axis(lab, inside[..., None], axis=1)


def _without_shade(lab: Plane) -> Plane:
    """The colour with a* and b* as they would be at one lightness.

    Less light on the same wood multiplies L* + 16, a* and b* by one factor (all
    three are differences of cube roots), so their ratios tell wood from shadow.
    """
    even = lab.copy()
    even[..., 1:] *= (_SOME_LIGHTNESS / (lab[..., 0] + 16.0))[..., None]
    return even


def _smooth(values: Plane) -> Plane:
    """Each block [blocks, rows, ...] with its two neighbours on either side."""
    padded = np.pad(values, ((2, 2), *((0, 0),) * (values.ndim - 1)), mode="edge")
    return np.asarray(sum(padded[i : i + len(values)] for i in range(5)) / 5, dtype=np.float32)


def _one_side(
    lab: Plane, wood: NDArray[np.bool_], sound: NDArray[np.bool_], chance: Plane | None, length_mm: float
) -> tuple[Rows, Rows, float] | None:
    """Sapwood that lies towards row 0: where it begins and ends in each block [rows], and its chance."""
    rows = lab.shape[1]
    if rows < 4 * _FAR_MM:
        return None
    step, colour = _steps(lab, wood)
    path = _best_path(step if chance is None else step + _LED * _fall(chance))
    agreed = None if chance is None else _agreed(chance, sound, path)
    sure = agreed is not None and agreed > _SURE
    blocks = np.arange(len(path))
    along, hue = step[blocks, path], colour[blocks, path]
    if float((along > _HOLDS * _LEAST_STEP).mean()) < _LEAST_HELD:
        return None
    outer, inner, spread = _sides(lab, sound, path)
    whole = (outer - inner) * (1.0, _COLOUR_WEIGHT, _COLOUR_WEIGHT)
    tint = np.hypot(whole[:, 1], whole[:, 2])
    size = np.linalg.norm(whole, axis=1)
    paler = whole[:, 0] > (_PALER_IF_SURE if sure else _PALER)
    held = (along > _HOLDS * _LEAST_STEP) & paler & (tint > 3.0) & (size > 1.6 * spread)
    clearness = float(np.median(size / np.maximum(spread, 0.8)))
    evidence = (
        0.25 * (min(float(np.median(along)), 16.0) - _LEAST_STEP)
        + 6.0 * (float(held.mean()) - 0.8)
        + 0.2 * (min(float(np.median(hue)), 8.0) - 3.0)
        + 1.2 * (min(clearness, 5.0) - 3.0)
    )
    evidence -= 4.0 * max(0.0, 1.0 - length_mm / _LONG_ENOUGH_MM)
    if agreed is not None:
        evidence += _NET_WEIGHT * (agreed - _AGREED)
    first, wide = np.argmax(sound, axis=1), np.maximum(sound.sum(axis=1), 1)
    widest = _WIDEST_IF_SURE if sure else _WIDEST_SHARE
    if float(held.mean()) < _LEAST_HELD or float(np.median((path - first) / wide)) > widest:
        return None
    return np.minimum(first, path), path, chance_from(0.8 * (evidence - _RESERVE))


def _steps(lab: Plane, wood: NDArray[np.bool_]) -> tuple[Plane, Plane]:
    """Step of colour at each row, paler above, and its part of hue; -inf where it cannot be judged."""
    rows = lab.shape[1]
    step = np.full(lab.shape[:2], -np.inf, np.float32)
    colour = np.zeros(lab.shape[:2], np.float32)
    row, change = _change(lab)
    hue = _COLOUR_WEIGHT * np.hypot(change[..., 1], change[..., 2])
    size = np.hypot(np.maximum(change[..., 0], 0), hue)
    edge = _FAR_MM + _MARGIN_MM
    known = wood[:, np.maximum(row - edge, 0)] & wood[:, np.minimum(row + edge, rows - 1)]
    step[:, row] = np.where(known, np.where(change[..., 0] > 0, size, -size), -np.inf)
    colour[:, row] = hue
    return step, colour


def _change(values: Plane) -> tuple[Rows, Plane]:
    """The rows at which a step can be told, and how much higher values [blocks, rows, ...] are above each."""
    total = np.concatenate([np.zeros_like(values[:, :1]), np.cumsum(values, axis=1)], axis=1)
    near, far = _NEAR_MM, _FAR_MM
    row = np.arange(far + 1, values.shape[1] - far - 1)
    above = (total[:, row - near] - total[:, row - far]) / (far - near)
    below = (total[:, row + far] - total[:, row + near]) / (far - near)
    return row, above - below


def _fall(chance: Plane) -> Plane:
    """How much more sapwood the net sees above each row than below it, nought where that cannot be told."""
    fall = np.zeros_like(chance)
    row, change = _change(_smooth(chance))
    fall[:, row] = change
    return fall


def _agreed(chance: Plane, sound: NDArray[np.bool_], path: Rows) -> float:
    """How much more sapwood the net sees outside a border than in the wood next to it inside, on average."""
    inwards = np.arange(chance.shape[1])[None, :] - path[:, None]
    out, into = sound & (inwards < 0), sound & (inwards >= 0) & (inwards < _HEART_MM)
    return float(chance[out].mean() - chance[into].mean()) if out.any() and into.any() else 0.0


def _best_path(step: Plane) -> Rows:
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


def _sides(lab: Plane, wood: NDArray[np.bool_], path: Rows) -> tuple[Plane, Plane, Plane]:
    """Median colour on either side of the border, block by block, and how much the colour varies there."""
    outer, inner = (
        np.zeros((len(path), 3), np.float32),
        np.zeros((len(path), 3), np.float32),
    )
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
