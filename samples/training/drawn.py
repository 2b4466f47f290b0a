"""Faults drawn on any cut: spike knots, clusters, ringed and rotten knots, fissures, streaks, resin.

What the wood model grows is one model's idea of a fault. These are drawn on the picture itself, with the
grain pushed aside round a knot, in more shapes and colours than any wood has, over made boards of every
wood, so that no look of a fault goes with a look of wood. All lengths in pixels of the cut.
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["faults_drawn"]

Picture = NDArray[np.uint8]
Floats = NDArray[np.float32]
Rng = np.random.Generator

_KNOT, _CRACK, _POCKET, _STAIN = 1, 2, 4, 8
_LONG = 2.2  # the grain is pushed aside so much further along itself than across


@dataclass
class _Sheet:
    """A cut that is drawn on: colours 0 to 255, class bits, pixels per millimetre, where there is wood."""

    colour: Floats
    bits: Picture
    scale: float
    wood: NDArray[np.bool_]

    @property
    def usual(self) -> Floats:
        """The wood's median colour."""
        return np.asarray(np.median(self.colour[::5, ::5].reshape(-1, 3), axis=0), np.float32)

    def covered(self, share: Floats, colour: Floats, bit: int, top: int, left: int, least: float) -> None:
        """Lay a colour over a window by shares 0 to 1, and set the bit where there is enough of it."""
        window = np.s_[top : top + share.shape[0], left : left + share.shape[1]]
        share = share * self.wood[window]
        self.colour[window] += (colour - self.colour[window]) * share[..., None]
        self.bits[window] |= np.where(share > least, np.uint8(bit), np.uint8(0))


def faults_drawn(
    picture: Picture, bits: Picture, off: NDArray[np.bool_], px_per_mm: float, rng: Rng
) -> tuple[Picture, Picture]:
    """The cut with one to four faults more.

    Parameters
    ----------
    picture : uint8 array [rows, columns, 3]
    bits : uint8 array [rows, columns]
        Class bits of what is there already.
    off : bool array [rows, columns]
        Where there is no wood.
    px_per_mm : float
    rng : numpy Generator
    """
    sheet = _Sheet(picture.astype(np.float32), bits.copy(), px_per_mm, ~off)
    kinds: list[tuple[float, Callable[[_Sheet, Rng], None]]] = [
        (0.22, _spike), (0.13, _cluster), (0.2, _knot), (0.22, _fissure), (0.12, _streak), (0.11, _resin),
    ]  # fmt: skip
    odds = np.array([odd for odd, _ in kinds])
    for _ in range(int(rng.integers(1, 5))):
        kinds[int(rng.choice(len(kinds), p=odds / odds.sum()))][1](sheet, rng)
    return np.clip(sheet.colour + 0.5, 0, 255).astype(np.uint8), sheet.bits


def _spot(sheet: _Sheet, rng: Rng) -> tuple[float, float]:
    rows, columns = np.nonzero(sheet.wood[::9, ::9])
    if len(rows) == 0:
        return 0.5 * sheet.bits.shape[1], 0.5 * sheet.bits.shape[0]
    pick = int(rng.integers(len(rows)))
    return 9.0 * float(columns[pick]) + 4, 9.0 * float(rows[pick]) + 4


def _wander(n: int, rough: float, rng: Rng) -> Floats:
    """A walk of n steps whose slope wanders: where something that follows the grain goes [px]."""
    knots = max(3, n // 24)
    slope = np.interp(np.linspace(0, knots, n), np.arange(knots + 1), rng.normal(0, rough, knots + 1))
    return np.asarray(np.cumsum(slope), np.float32)


def _rough(shape: tuple[int, int], long: float, wide: float, rng: Rng) -> Floats:
    """Smooth noise, deviation about 1, lumps so long and so wide [px]."""
    cells = max(2, int(shape[0] / wide) + 2), max(2, int(shape[1] / long) + 2)
    coarse = rng.normal(0, 1.2, cells).astype(np.float32)
    return np.asarray(cv2.resize(coarse, shape[::-1], interpolation=cv2.INTER_CUBIC), np.float32)


# -- knots


def _knot(sheet: _Sheet, rng: Rng) -> None:
    x, y = _spot(sheet, rng)
    radius = float(np.clip(np.exp(rng.normal(1.6, 0.7)), 1.2, 24)) * sheet.scale
    stretch = float(np.exp(np.abs(rng.normal(0, 0.35))))
    _round(sheet, rng, (x, y), radius, stretch, float(rng.normal(0, 0.4)))


def _cluster(sheet: _Sheet, rng: Rng) -> None:
    """Pin knots side by side: cat's paws, burl eyes, shoots; some touch."""
    x, y = _spot(sheet, rng)
    size = float(rng.uniform(0.7, 3.0)) * sheet.scale
    reach = size * float(rng.uniform(1.6, 7.0))
    look = int(rng.integers(1 << 30))
    for _ in range(int(rng.integers(2, 11))):
        at = x + rng.normal(0, reach) * 1.3, y + rng.normal(0, reach)
        own = np.random.default_rng(look) if rng.random() < 0.8 else rng
        _round(sheet, own, at, size * float(np.exp(rng.normal(0, 0.3))), 1.0 + float(rng.random()) * 0.4, 0.0)


def _spike(sheet: _Sheet, rng: Rng) -> None:
    """A branch cut lengthwise: it runs across the face, widening to an edge or ending amid the board."""
    x, y = _spot(sheet, rng)
    rows = sheet.bits.shape[0]
    wide = float(np.clip(np.exp(rng.normal(1.9, 0.5)), 3.5, 24)) * sheet.scale  # finer ones are pencil lines
    long = min(wide * float(rng.uniform(2.5, 9.0)), 120 * sheet.scale)
    turn = 0.5 * np.pi + float(rng.normal(0, 0.35))
    at_edge = rng.random() < 0.65
    if at_edge:
        edge = np.flatnonzero(sheet.wood[:, int(np.clip(x, 0, sheet.bits.shape[1] - 1))])
        if len(edge):
            y = float(edge[0] if rng.random() < 0.5 else edge[-1])
            turn = abs(turn) if y < rows / 2 else -abs(turn)
    _branch(sheet, rng, (x, y), long, wide, turn, at_edge)


def _branch(
    sheet: _Sheet, rng: Rng, at: tuple[float, float], long: float, wide: float, turn: float, open_end: bool
) -> None:
    window, u, v = _local(sheet, at, 1.1 * long, turn)
    if u.size == 0:
        return
    bend = float(rng.normal(0, 0.12)) / max(long, 1.0)
    v = v - bend * u * u
    along = np.clip(u / long, -0.2, 1.2)
    taper = float(rng.uniform(0.25, 1.1))
    half = 0.5 * wide * np.power(np.clip(1 - along, 0.0, 1.0), taper)
    if not open_end:
        half = half * np.sqrt(np.clip(along / 0.15 + (along > 0.15), 0, 1))
    edges = 0.06 * wide * _rough(u.shape, 30, 12, rng)
    inside = np.minimum(half + edges * (half > 0) - np.abs(v), u + 1.0)
    inside = np.minimum(inside, long - u)
    _pushed(sheet, window, u, v, wide)
    stripes = _rough((64, 8), 8, 3, rng)
    cross = np.clip((v / (wide + 1) + 0.5) * 63, 0, 63).astype(np.float32)
    lines = cv2.remap(stripes, np.clip(u / (long + 1) * 7, 0, 7).astype(np.float32), cross, cv2.INTER_LINEAR)
    _wooded(sheet, rng, window, inside, 0.35 * lines, 0.12 * wide)
    if rng.random() < 0.5:  # the heart of the branch, or a crack along it
        core = np.exp(-np.square(v / (0.08 * wide + 0.8))) * (inside > 0) * float(rng.uniform(0.1, 0.75))
        sheet.colour[window] *= (1 - core * _rough(u.shape, 20, 20, rng).clip(0, 1))[..., None]


def _round(
    sheet: _Sheet, rng: Rng, at: tuple[float, float], radius: float, stretch: float, turn: float
) -> None:
    window, u, v = _local(sheet, at, 3.2 * radius * stretch + 4, turn)
    if u.size == 0:
        return
    off = np.sqrt(np.square(u / stretch) + np.square(v))
    angle = np.arctan2(v, u / stretch)
    form = sum(
        h * np.cos(k * angle + float(rng.uniform(0, 6.28)))
        for k, h in ((2, 0.09), (3, 0.06), (5, 0.04), (8, 0.02))
    )
    inside = np.asarray(radius * (1 + form) - off, np.float32)
    _pushed(sheet, window, u, v, 2 * radius)
    rings = np.cos((off + 0.3 * form * radius) * 2 * np.pi / max(radius * float(rng.uniform(0.12, 0.5)), 1.6))
    checks = np.cos(angle * int(rng.integers(2, 5)) + float(rng.uniform(0, 6.28)))
    star = np.clip((checks - 0.985) * 90, 0, 1) * (off < 0.85 * radius) * (radius > 6) * (rng.random() < 0.3)
    _wooded(sheet, rng, window, inside, 0.3 * rings.astype(np.float32), 0.14 * radius)
    sheet.colour[window] *= (1 - star * float(rng.uniform(0.3, 0.9)))[..., None].astype(np.float32)


def _wooded(
    sheet: _Sheet, rng: Rng, window: tuple[slice, slice], inside: Floats, figure: Floats, rim: float
) -> None:
    """Fill a knot with its wood, dark or hardly so, its own figure, perhaps a ring of bark."""
    usual = sheet.usual
    soft = np.clip(inside / (1.2 + 0.25 * float(rng.random()) * rim) + 0.5, 0, 1)
    shade = float(rng.choice([rng.uniform(0.2, 0.5), rng.uniform(0.45, 0.8), rng.uniform(0.75, 0.95)]))
    warm = np.array([1.12, 1.0, 0.82]) if rng.random() < 0.65 else np.exp(rng.normal(0, 0.1, 3))
    colour = usual * shade * (warm / warm.mean()) ** float(rng.uniform(0, 1.3))
    wood = colour * (1 + float(rng.uniform(0.2, 1.0)) * (1 - shade * 0.5) * figure)[..., None]
    wood = wood * np.exp(0.1 * _rough(inside.shape, 6, 6, rng))[..., None]
    if shade > 0.7 or rng.random() < 0.5:  # a ring of bark or of darker wood round it
        dark = np.exp(-np.square((inside - 0.6 * rim) / (0.7 * rim + 0.9)))
        dark = dark * np.clip(0.75 + 0.5 * _rough(inside.shape, 14, 14, rng), 0, 1)
        wood = wood * (1 - (dark * float(rng.uniform(0.35, 0.95)))[..., None])
    strength = float(rng.uniform(0.75, 1.0))
    top, left = window[0].start, window[1].start
    share = np.asarray(soft * strength, np.float32)
    sheet.covered(share, np.asarray(wood, np.float32), _KNOT, top, left, 0.5 * strength)
    halo = np.exp(-np.square(np.minimum(inside, 0) / (1.5 * rim + 3))) * (inside < 0)
    if rng.random() < 0.5:  # the wood round it is darker, or paler where the grain stands up
        tone = 1 + float(rng.normal(-0.05, 0.12)) * halo
        sheet.colour[window] *= tone[..., None].astype(np.float32)


def _local(
    sheet: _Sheet, at: tuple[float, float], reach: float, turn: float
) -> tuple[tuple[slice, slice], Floats, Floats]:
    """A window round a place, and each of its points along and across a direction from there [px]."""
    rows, columns = sheet.bits.shape
    y0, y1 = max(0, int(at[1] - reach)), min(rows, int(at[1] + reach) + 1)
    x0, x1 = max(0, int(at[0] - reach)), min(columns, int(at[0] + reach) + 1)
    y, x = np.mgrid[y0 : max(y0, y1), x0 : max(x0, x1)].astype(np.float32)
    x, y = x - np.float32(at[0]), y - np.float32(at[1])
    cos, sin = np.float32(np.cos(turn)), np.float32(np.sin(turn))
    return (slice(y0, y1), slice(x0, x1)), x * cos + y * sin, y * cos - x * sin


def _pushed(sheet: _Sheet, window: tuple[slice, slice], u: Floats, v: Floats, wide: float) -> None:
    """Push the grain aside round a knot, as flow goes round a pillar."""
    y, x = np.mgrid[: u.shape[0], : u.shape[1]].astype(np.float32)
    row, column = np.unravel_index(int((np.abs(u) + np.abs(v)).argmin()), u.shape)
    dx, dy = x - np.float32(column), y - np.float32(row)
    reach = np.square(dx / _LONG) + np.square(dy)
    room = np.clip(1 - np.sqrt(reach) / (1.5 * wide + 1), 0, 1)
    shift = 0.8 * dy * (0.5 * wide) ** 2 / np.maximum(reach, (0.5 * wide) ** 2) * room
    sheet.colour[window] = cv2.remap(
        np.ascontiguousarray(sheet.colour[window]), x, np.asarray(y - shift, np.float32), cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip


# -- fissures, streaks and resin


def _fissure(sheet: _Sheet, rng: Rng) -> None:
    """A crack along the grain: it opens and closes, breaks off and goes on, hair-fine to gaping."""
    x, y = _spot(sheet, rng)
    columns = sheet.bits.shape[1]
    long = int(np.exp(rng.uniform(np.log(14), np.log(300))) * sheet.scale)
    if rng.random() < 0.25:  # along the rim of the board, where it is easily overlooked
        column = np.flatnonzero(sheet.wood[:, int(np.clip(x, 0, columns - 1))])
        if len(column):
            inwards = float(rng.uniform(1, 8)) * sheet.scale
            y = float(column[0] + inwards if rng.random() < 0.5 else column[-1] - inwards)
    if rng.random() < 0.3:
        x = 0.0 if rng.random() < 0.5 else columns - long
    step = np.arange(long)
    path = y + float(rng.normal(0, 0.03)) * step + _wander(long, float(rng.uniform(0.005, 0.09)), rng)
    gape = float(np.exp(rng.uniform(np.log(0.25), np.log(2.2)))) * sheet.scale
    shape = np.sqrt(np.clip(np.minimum(step, step[::-1]) / (0.15 * long + 1), 0, 1))
    breath = np.interp(step, np.linspace(0, long, long // 16 + 2), rng.uniform(0.35, 1.25, long // 16 + 2))
    open_at = gape * shape * breath
    if rng.random() < 0.4:
        open_at = open_at * (np.interp(step, np.linspace(0, long, 9), rng.normal(0.6, 0.7, 9)) > 0.1)
    dark = float(rng.choice([rng.uniform(0.2, 0.5), rng.uniform(0.5, 0.95)], p=[0.45, 0.55]))
    _line(sheet, rng, x + step, path, open_at, dark)


def _line(sheet: _Sheet, rng: Rng, x: Floats, y: Floats, wide: Floats, dark: float) -> None:
    rows, columns = sheet.bits.shape
    kept = (x >= 0) & (x < columns) & (y > 1) & (y < rows - 2)
    if kept.sum() < 6:
        return
    columns_at, y, wide = x[kept].astype(np.intp), y[kept], wide[kept]
    top, bottom = max(0, int(y.min()) - 8), min(rows, int(y.max()) + 9)
    far = np.abs(np.arange(top, bottom, dtype=np.float32)[:, None] - y[None, :])
    share = np.clip(0.5 * wide[None, :] + 0.5 - far, 0, 1)
    share = share * np.minimum(wide[None, :] + 0.15 * (wide[None, :] > 0), 1)  # finer than a pixel: fainter
    wood = sheet.wood[top:bottom, columns_at]
    ink = np.asarray(dark * share * wood, np.float32)
    here = sheet.colour[top:bottom, columns_at]
    if rng.random() < 0.3:  # lips that catch the light
        lip = np.clip(0.5 * wide[None, :] + 2.0 - far, 0, 1) - share
        here = here * (1 + float(rng.uniform(0.03, 0.2)) * lip[..., None] * wood[..., None])
    tint = np.exp(rng.normal(0, 0.08, 3)).astype(np.float32)
    sheet.colour[top:bottom, columns_at] = here * (1 - ink[..., None] * tint.clip(0.7, 1.05))
    seen = (far <= np.maximum(0.5 * wide, 0.8)[None, :]) & (wide[None, :] > 0.12) & wood
    sheet.bits[top:bottom, columns_at] |= np.where(seen, np.uint8(_CRACK), np.uint8(0))


def _streak(sheet: _Sheet, rng: Rng) -> None:
    """A mineral or blue streak, or a cloud of it: another colour that follows the grain and frays out."""
    at = _spot(sheet, rng)
    half = float(np.exp(rng.uniform(np.log(12), np.log(160)))) * sheet.scale
    high = float(np.exp(rng.uniform(np.log(1.6), np.log(22)))) * sheet.scale
    if half < 2.5 * high:
        half = 2.5 * high
    window, u, v = _local(sheet, at, 1.3 * half, float(rng.normal(0, 0.02)))
    rows = slice(max(window[0].start, int(at[1] - 3 * high)), min(window[0].stop, int(at[1] + 3 * high) + 1))
    cut = np.s_[rows.start - window[0].start : rows.stop - window[0].start]
    window, u, v = (rows, window[1]), u[cut], v[cut]
    if u.size == 0:
        return
    v = v + _wander(u.shape[1], 0.02, rng)[None, :]
    body = 1 - np.square(u / half) - np.square(v / high)
    fray = 0.6 * _rough(u.shape, 0.6 * half, 0.12 * high + 2, rng) + 0.25 * _rough(u.shape, 24, 3, rng)
    share = np.clip((body + fray) / float(rng.uniform(0.5, 1.6)), 0, 1) * (body > -1.2)
    hue = [(0.8, 0.95, 1.1), (0.85, 1.05, 0.9), (0.9, 0.92, 0.95), (0.95, 0.9, 0.98), (1.05, 0.92, 0.75)]
    tone = np.array(hue[int(rng.integers(len(hue)))]) * np.exp(rng.normal(0, 0.05, 3))
    colour = sheet.colour[window] * (tone / tone.max() * float(rng.uniform(0.35, 0.85))).astype(np.float32)
    strength = float(rng.uniform(0.5, 1.0))
    sheet.covered(
        np.asarray(share * strength, np.float32), colour, _STAIN, rows.start, window[1].start, 0.4 * strength
    )


def _resin(sheet: _Sheet, rng: Rng) -> None:
    """A pocket or streak of resin or gum, or ingrown bark: a lens along the grain, amber, brown or black."""
    at = _spot(sheet, rng)
    half = float(np.exp(rng.uniform(np.log(4), np.log(45)))) * sheet.scale
    high = float(np.exp(rng.uniform(np.log(0.6), np.log(4)))) * sheet.scale
    high = min(high, 0.35 * half)
    window, u, v = _local(sheet, at, 1.2 * half + 3, float(rng.normal(0, 0.03)))
    if u.size == 0:
        return
    v = v + _wander(u.shape[1], 0.02, rng)[None, :] + float(rng.normal(0, 0.3)) * high * np.square(u / half)
    inside = high * (1 - np.square(np.clip(u / half, -1, 1))) - np.abs(v)
    inside = inside + 0.15 * high * _rough(u.shape, 18, 5, rng) - 2 * np.maximum(np.abs(u) - half, 0)
    share = np.clip(inside / 1.3 + 0.5, 0, 1) * float(rng.uniform(0.6, 1.0))
    amber = [(0.78, 0.5, 0.2), (0.55, 0.36, 0.2), (0.32, 0.22, 0.16), (0.15, 0.12, 0.1), (0.85, 0.62, 0.35)]
    tone = np.array(amber[int(rng.integers(len(amber)))]) * np.exp(rng.normal(0, 0.12, 3))
    colour = sheet.usual * tone.astype(np.float32) * np.exp(0.2 * _rough(u.shape, 10, 4, rng))[..., None]
    if rng.random() < 0.4:
        rim = np.exp(-np.square(inside / 1.2))
        colour = colour * (1 - 0.5 * rim[..., None])
    if rng.random() < 0.15:  # resin shines
        colour = colour + 90 * np.exp(-np.square((v + 0.3 * high) / (0.25 * high + 0.6)))[..., None]
    sheet.covered(
        np.asarray(share, np.float32),
        np.asarray(colour, np.float32),
        _POCKET,
        window[0].start,
        window[1].start,
        0.35,
    )
