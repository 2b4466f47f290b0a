"""Fissures: where wood may gape along the grain, seen by the net or as a line darker than its sides.

A place that either witness points at is followed column by column along the
darkest line in it, so that the outline is the fissure's own and not the cloud
of the net's doubt. What is measured along that line is weighed by one logistic
rule for checks, shakes and splits alike; whether it runs out of an end says
which name it gets, and is one of the things weighed.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.suggest.found import Ring
from vision.suggest.lines import Lines, lines_over
from vision.suggest.regions import Region, chance_from, log_odds, regions_of

__all__ = ["AT_END", "Fissure", "Ground", "fissures_on", "weighed"]

Plane = NDArray[np.float32]

_SAID_RIM, _SAID_SEED = 0.25, 0.3  # chance from which the net's regions are drawn, and taken up
_SAID_SHORTEST_MM = 10
_SEED, _RIM = 4.2, 2.4  # hysteresis of lines, in usual sizes of such lines nearby
_SHORTEST_MM = 12.0
_AT_END_MM = 6.0
_TALL_MM, _BLOCK, _DRIFT = 4.0, 4, 2.0  # in a taller patch one line is held to: columns a step, cost of a row
_STEADY_MM = 7  # the line's place across is the median over this much of its length
_SIDES_MM = (2.0, 4.0)  # what lies so far to either side of a line is its neighbourhood
_NEAR_MM = (1.0, 1.5)  # what lies so far from it is beside a crack, but still in a streak
_FADED, _FADED_MM = 0.3, 6.0  # a line as faint as this share of its dark parts, for so long, is a crack's end
_PIECE_MM = 16.0  # shorter pieces between faint ones are none
_BEYOND_MM, _BETWEEN = 4.0, 0.3  # a crack runs on unseen: so far, or so much of the way to the next piece
_BED = 0.35  # of the board's lightness: what is darker to both sides of a line is no wood
_EDGE_MM = 2.0  # the shadow along an edge of the board fades over about this much
AT_END = 6  # place in `Fissure.witness` of whether it runs out of an end
# Worth of what `Fissure.witness` says, with the net and without it: logistic fits, rounded; another run of
# samples.training.weigh_marks comes near them.
_WEIGHTS = np.array([-0.44, 1.02, 1.12, 0.09, -0.07, -0.45, -0.43, 0.41, -2.87, 0.88, -1.89])
_PLAIN = np.array([-2.4, 0.0, 0.0, 0.64, -1.16, -0.65, -0.18, 0.74, -1.33, 1.83, -2.94])


@dataclass(frozen=True)
class Ground:
    """What is known of the stretch that fissures are looked for on.

    Parameters
    ----------
    lines : Lines
    fine : float32 array [rows, columns]
        Lightness, at the scale of `lines`.
    said : float32 array [rows, columns] or None
        The net's chance of a crack at one pixel per millimetre.
    ends : tuple of (float or None)
        Where the board's near and far ends lie on the stretch, None if not on it [mm].
    """

    lines: Lines
    fine: Plane
    said: Plane | None
    ends: tuple[float | None, float | None]

    @cached_property
    def lightness(self) -> float:
        """The board's own."""
        return float(np.median(self.fine[::4, ::4]))


@dataclass(frozen=True)
class Fissure:
    """One place that may have come apart.

    Parameters
    ----------
    ring : tuple of (x, y)
        Outline on the stretch [mm].
    at_end : bool
        It runs out of an end of the board.
    witness : float array
        What speaks for it, half as a piece and half as the whole line: one, log odds of the
        net's 75 % and greatest chance there, strength, mm thick, nearness to an edge of the
        board, whether it runs out of an end, log2 of how much darker than both sides [L*],
        lightness as a share of the board's, share of its darkness that is there within a
        millimetre, share of its length that is dark.
    """

    ring: Ring
    at_end: bool
    witness: NDArray[np.float64]


def weighed(fissure: Fissure, with_net: bool) -> float:
    """The chance that a maker would agree."""
    return chance_from(float((_WEIGHTS if with_net else _PLAIN) @ fissure.witness))


def fissures_on(ground: Ground) -> list[Fissure]:
    """Every place on a stretch that either witness points at."""
    taken = np.zeros(ground.lines.strength.shape, np.bool_)
    found: list[Fissure] = []
    for patch, left, top in _places(ground, taken):
        columns, rows = _followed(patch, ground.lines, left, top)
        if len(columns) >= 3 * ground.lines.px_per_mm and _on_wood(ground, columns, rows):
            found.extend(_gaping(ground, columns, rows))
    return found


def _on_wood(ground: Ground, columns: NDArray[np.intp], rows: NDArray[np.intp]) -> bool:
    """Whether a line has wood to its sides; a scratch on the bed or bench beyond the edge has not."""
    scale = ground.lines.px_per_mm
    sides = np.maximum(*_beside(ground.fine, columns, rows, scale * _SIDES_MM[0], scale * _SIDES_MM[1]))
    return float(np.median(sides)) > _BED * ground.lightness


def _gaping(ground: Ground, columns: NDArray[np.intp], rows: NDArray[np.intp]) -> Iterator[Fissure]:
    """The pieces of a line that are dark, each of them weighed half by itself and half as part of the line.

    A line is followed as far as anything points at it, which may be from one crack to the next, or on
    along a ring: where it fades, a crack has ended.
    """
    whole = _fissure(ground, columns, rows)
    for piece in _pieces(ground, columns, rows):
        if piece == slice(0, len(columns)):
            yield whole
            return
        one = _fissure(ground, columns[piece], rows[piece])
        both = 0.5 * (one.witness + whole.witness)
        both[AT_END] = one.at_end
        yield replace(one, witness=both)


def _pieces(ground: Ground, columns: NDArray[np.intp], rows: NDArray[np.intp]) -> list[slice]:
    """Where along a line it is dark; all of it, if no piece is long enough."""
    scale = ground.lines.px_per_mm
    depth = np.minimum(*_beside(ground.fine, columns, rows, scale * _SIDES_MM[0], scale * _SIDES_MM[1]))
    depth = depth + _highest(-ground.fine, rows, columns)
    steady = cv2.blur(depth[None], (round(3 * scale) | 1, 1), borderType=cv2.BORDER_REPLICATE)[0]
    dark = np.flatnonzero(steady > _FADED * max(float(np.percentile(steady, 80)), 1.0))
    cut = np.flatnonzero(np.diff(dark) > _FADED_MM * scale)
    starts, stops = np.append(dark[:1], dark[cut + 1]), np.append(dark[cut], dark[-1:]) + 1
    long = stops - starts >= _PIECE_MM * scale
    starts, stops = starts[long], stops[long]
    if len(starts) == 0:
        return [slice(0, len(columns))]
    between = (_BETWEEN * (starts[1:] - stops[:-1])).astype(np.intp)
    most = round(_BEYOND_MM * scale)
    starts = starts - np.minimum(np.append(starts[:1], between), most)
    stops = stops + np.minimum(np.append(between, len(columns) - stops[-1:]), most)
    return [slice(int(a), int(b)) for a, b in zip(starts, stops, strict=True)]


def _places(ground: Ground, taken: NDArray[np.bool_]) -> Iterator[tuple[NDArray[np.bool_], int, int]]:
    """Patch, left and top [px of the lines]; what the net saw comes first."""
    scale = ground.lines.px_per_mm
    for region in _said_regions(ground.said):
        patch, left, top = _enlarged(region, ground.lines)
        taken[top : top + patch.shape[0], left : left + patch.shape[1]] |= patch
        yield patch, left, top
    for line in lines_over(ground.lines, _RIM, _SHORTEST_MM):
        if float((line.along > _SEED).sum()) < 0.7 * _SHORTEST_MM * scale:
            continue
        window = np.s_[line.top : line.top + line.patch.shape[0], line.left : line.left + line.patch.shape[1]]
        if not (taken[window] & line.patch).any():  # else the net's place stands for it
            yield line.patch, line.left, line.top


def _said_regions(said: Plane | None) -> Iterator[Region]:
    if said is None:
        return
    for region in regions_of(said > _SAID_RIM, _SAID_SHORTEST_MM):
        if region.wide >= _SAID_SHORTEST_MM and float(region.of(said).max()) >= _SAID_SEED:
            yield region


def _enlarged(region: Region, lines: Lines) -> tuple[NDArray[np.bool_], int, int]:
    """The region's patch at the scale of the lines, cut off at their border."""
    scale = round(lines.px_per_mm)
    patch = np.repeat(np.repeat(region.patch, scale, axis=0), scale, axis=1)
    left, top = region.left * scale, region.top * scale
    rows, columns = lines.strength.shape
    return patch[: rows - top, : columns - left], left, top


def _followed(
    patch: NDArray[np.bool_], lines: Lines, left: int, top: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Columns that a patch covers, and the row of the strongest line in each, steadied along the grain."""
    inside = lines.strength[top : top + patch.shape[0], left : left + patch.shape[1]]
    within = np.where(patch, inside, np.float32(-1.0))
    columns = np.flatnonzero(patch.any(axis=0))
    rows = _one_line(within) if patch.shape[0] > _TALL_MM * lines.px_per_mm else within.argmax(axis=0)
    half = min(round(_STEADY_MM * lines.px_per_mm / 2), (len(columns) - 1) // 2)
    padded = np.pad(rows[columns], half, mode="edge")
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    return left + columns, top + np.partition(around, half, axis=1)[:, half]


def _one_line(within: Plane) -> NDArray[np.intp]:
    """The row in each column of the one line that is strongest all along; it never jumps to a neighbour."""
    blocks = -(-within.shape[1] // _BLOCK)
    padded = np.pad(within, ((0, 0), (0, blocks * _BLOCK - within.shape[1])), mode="edge")
    strength = padded.reshape(len(within), blocks, _BLOCK).max(axis=2)
    apart = np.abs(np.subtract.outer(np.arange(len(within)), np.arange(len(within))))
    cost = _DRIFT * np.maximum(apart - 1, 0).astype(np.float32)
    total, came = strength[:, 0].copy(), np.zeros((len(within), blocks), np.intp)
    for block in range(1, blocks):
        reached = total[None, :] - cost
        came[:, block] = reached.argmax(axis=1)
        total = strength[:, block] + reached.max(axis=1)
    path = np.empty(blocks, np.intp)
    path[-1] = int(total.argmax())
    for block in range(blocks - 1, 0, -1):
        path[block - 1] = came[path[block], block]
    return np.repeat(path, _BLOCK)[: within.shape[1]]


def _fissure(ground: Ground, columns: NDArray[np.intp], rows: NDArray[np.intp]) -> Fissure:
    scale = ground.lines.px_per_mm
    near, far = ground.ends
    start, stop = columns[0] / scale, (columns[-1] + 1) / scale
    at_end = (near is not None and start - near < _AT_END_MM) or (far is not None and far - stop < _AT_END_MM)
    thick = _thickness(ground.lines, columns, rows)
    said = np.zeros(len(columns)) if ground.said is None else _said_along(ground.said, columns, rows, scale)
    strength = float(np.percentile(_highest(ground.lines.strength, rows, columns), 60))
    side, black = _darkness(ground, columns, rows)
    edge = float(np.percentile(np.minimum(rows, ground.fine.shape[0] - 1 - rows) / scale, 70))
    witness = [
        1.0,
        log_odds(float(np.percentile(said, 75))),
        log_odds(float(said.max())),
        min(strength, 9.0),
        min(thick, 6.0),
        float(np.exp(-edge / _EDGE_MM)),
        float(at_end),
        float(np.log2(max(side, 1.0))),
        min(black, 1.2),
        *_look(ground, columns, rows),
    ]
    return Fissure(_ring(columns, rows, thick, scale), at_end, np.array(witness))


def _thickness(lines: Lines, columns: NDArray[np.intp], rows: NDArray[np.intp]) -> float:
    """Median width across of what is at least half as dark as the line's middle [mm]."""
    reach = round(3 * lines.px_per_mm)
    around = np.clip(rows + np.arange(-reach, reach + 1)[:, None], 0, lines.depth.shape[0] - 1)
    depth = lines.depth[around, columns]
    middle = depth[reach - 1 : reach + 2].max(axis=0)
    return float(np.median((depth > 0.5 * np.maximum(middle, 0.5)).sum(axis=0))) / lines.px_per_mm


def _said_along(said: Plane, columns: NDArray[np.intp], rows: NDArray[np.intp], scale: float) -> Plane:
    x = np.minimum((columns / scale).astype(np.intp), said.shape[1] - 1)
    y = np.minimum((rows / scale).astype(np.intp), said.shape[0] - 1)
    return _highest(said, y, x)


def _highest(plane: Plane, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> Plane:
    """The greatest of each place and its neighbours across the grain."""
    above, below = np.maximum(rows - 1, 0), np.minimum(rows + 1, plane.shape[0] - 1)
    best = np.maximum(plane[rows, columns], np.maximum(plane[above, columns], plane[below, columns]))
    return np.asarray(best, dtype=np.float32)


def _darkness(ground: Ground, columns: NDArray[np.intp], rows: NDArray[np.intp]) -> tuple[float, float]:
    """How much darker than both its sides a line is [L*], and its lightness as a share of the board's."""
    fine, scale = ground.fine, ground.lines.px_per_mm
    above, below = _beside(fine, columns, rows, scale * _SIDES_MM[0], scale * _SIDES_MM[1])
    here = -_highest(-fine, rows, columns)
    side = float(np.median(np.minimum(above, below) - here))
    return min(side, 30.0), float(np.percentile(here, 30)) / max(ground.lightness, 1.0)


def _look(ground: Ground, columns: NDArray[np.intp], rows: NDArray[np.intp]) -> tuple[float, float]:
    """How much of its darkness is there within a millimetre, and along how much of it it is dark.

    A crack has sharp sides, a streak of colour soft ones; a crack opens and closes, a ring or a
    drawn line is as dark all along.
    """
    fine, scale = ground.fine, ground.lines.px_per_mm
    here = -_highest(-fine, rows, columns)
    near, depth = (
        np.minimum(*_beside(fine, columns, rows, scale * start, scale * stop)) - here
        for start, stop in (_NEAR_MM, _SIDES_MM)
    )
    usual = max(float(np.median(depth)), 1.0)
    sharp = float(np.median(near)) / usual
    return float(np.clip(sharp, 0.0, 1.5)), float((depth > 0.5 * usual).mean())


def _beside(
    fine: Plane, columns: NDArray[np.intp], rows: NDArray[np.intp], near: float, far: float
) -> tuple[Plane, Plane]:
    """Mean lightness so far above and below a line [px]."""
    away = np.arange(round(near), max(round(near), round(far)) + 1)[:, None]
    return (
        np.asarray(fine[np.maximum(rows - away, 0), columns].mean(axis=0), np.float32),
        np.asarray(fine[np.minimum(rows + away, len(fine) - 1), columns].mean(axis=0), np.float32),
    )


def _ring(columns: NDArray[np.intp], rows: NDArray[np.intp], thick: float, scale: float) -> Ring:
    """The line made as wide as it is, at least a millimetre."""
    half = float(np.clip(0.5 * thick, 0.5, 2.0))
    step = max(1, round(4 * scale))
    picked = np.unique(np.append(np.arange(0, len(columns), step), len(columns) - 1))
    x, y = (columns[picked] + 0.5) / scale, (rows[picked] + 0.5) / scale
    x[0], x[-1] = columns[0] / scale, (columns[-1] + 1) / scale
    upper = [(float(a), float(b - half)) for a, b in zip(x, y, strict=True)]
    lower = [(float(a), float(b + half)) for a, b in zip(x[::-1], y[::-1], strict=True)]
    return (*upper, *lower)
