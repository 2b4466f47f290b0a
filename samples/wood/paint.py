"""How faults look on a face: painted over the colour of clear wood, in place."""

import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from samples.wood.faults import Branch, Fault, Pocket, Points, Stain, hash_of
from samples.wood.knots import Around, Knot, around
from samples.wood.noise import Floats, noise, octaves
from samples.wood.species import Species

__all__ = ["bark_colour", "paint_fault"]

_GAP = np.array((40.0, 29.0, 22.0), np.float32)
_BARK = np.array((74.0, 56.0, 43.0), np.float32)


def paint_fault(colour: Floats, points: Points, across: Floats, fault: Fault, step_mm: float) -> Floats:
    """Paints one fault over the colours of a window [h, w, 3]; its signed distances come back [mm].

    `across` is the fibre coordinate of the points, `step_mm` their spacing.
    """
    inside = fault.inside(points)
    wood = points.log.species
    if isinstance(fault, Branch):
        _paint_knot(colour, points, fault.knot, wood, step_mm)
    elif isinstance(fault, Stain):
        depth = np.clip(inside / np.float32(0.35 * fault.wide) + 0.2, 0, 1) * (inside > 0)
        tone = np.array((0.62, 0.5, 0.3) if fault.blue else (0.3, 0.42, 0.5), np.float32)
        colour *= np.exp(-depth[..., None] * tone * np.float32(0.9))
    elif isinstance(fault, Pocket):
        _paint_pocket(colour, points, across, fault, inside)
    elif fault.kind is DefectKind.PITH:
        dark = np.exp(-np.square(np.maximum(np.float32(2.2) - inside, 0) / np.float32(1.6)))
        colour *= np.exp(-np.float32(0.75) * dark[..., None] * np.asarray(wood.tone, np.float32))
    elif fault.kind is not DefectKind.SAPWOOD:
        _paint_gap(colour, inside, step_mm)
    return inside


def _blend(colour: Floats, other: Floats, share: Floats) -> None:
    colour += (other - colour) * share[..., None]


def _paint_gap(colour: Floats, inside: Floats, step_mm: float) -> None:
    """A dark gap; narrower than a pixel it only darkens it, beside it the wood has greyed a little."""
    _blend(colour, _GAP, np.clip(inside / np.float32(step_mm) + np.float32(0.5), 0, 1))
    beside = np.exp(-np.maximum(-inside, 0) / np.float32(0.5)) * (inside > -3)
    colour *= 1 - np.float32(0.16) * beside[..., None]


def _paint_pocket(colour: Floats, points: Points, across: Floats, fault: Pocket, inside: Floats) -> None:
    alpha = np.clip(inside / np.float32(0.4) + 0.5, 0, 1)
    rough = octaves(points.x, across, 7.0, 1.2, hash_of(fault.id), 2)
    if fault.kind is DefectKind.RESIN_POCKET:
        body = np.array((150.0, 88.0, 36.0), np.float32) * (1 + np.float32(0.13) * rough[..., None])
    else:
        body = np.array((66.0, 48.0, 37.0), np.float32) * (1 + np.float32(0.28) * rough[..., None])
    rim = np.exp(-np.abs(inside) / np.float32(0.9))
    colour *= 1 - np.float32(0.3) * rim[..., None]
    _blend(colour, np.asarray(body, np.float32), alpha)


def _paint_knot(colour: Floats, points: Points, knot: Knot, wood: Species, step_mm: float) -> None:
    seen = around(knot, points.x, points.u, points.v)
    inside = seen.inside(knot)
    tone = np.asarray(wood.tone, np.float32)
    beside = np.maximum(-inside, 0) / (np.float32(0.35) * seen.radius + np.float32(1.0))
    halo = (np.float32(0.26) + np.float32(0.1) * np.float32(knot.pin)) * np.exp(-beside) * seen.closing(knot)
    colour *= np.exp(-halo[..., None] * tone)
    if knot.weep > 0:
        far = np.square(seen.lift / (np.float32(5.5) * seen.stem + 4)) + np.square(
            seen.side / (np.float32(1.1) * seen.stem + 1)
        )
        colour *= np.exp(
            -np.float32(knot.weep)
            * (np.square(np.maximum(1 - far / 4, 0)) * seen.closing(knot))[..., None]
            * tone
        )
    if not (inside > -1).any():
        return
    dead = (seen.along > np.float32(knot.alive)) & np.bool_(not knot.pin)
    plain = np.asarray(wood.heart, np.float32)
    own = np.asarray(wood.knot, np.float32) * np.float32(1 - knot.pale) + plain * np.float32(0.9 * knot.pale)
    body = own * np.exp(-_knot_shade(seen, knot, inside, dead)[..., None] * tone)
    soft = np.float32(step_mm) + np.where(dead, np.float32(0.4), np.float32(1.1))  # grown together
    _blend(colour, np.asarray(body, np.float32), np.clip(inside / soft + 0.5, 0, 1))
    if dead.any():
        _paint_bark_ring(colour, seen, knot, inside, dead, step_mm)


def _paint_bark_ring(
    colour: Floats, seen: Around, knot: Knot, inside: Floats, dead: NDArray[np.bool_], step_mm: float
) -> None:
    """The bark that wraps a dead knot, and the hole where one has fallen out."""
    width = np.float32(0.09) * seen.radius + np.float32(0.5)
    ragged = 1 + np.float32(0.7) * octaves(seen.lift, seen.side, 9.0, 7.0, hash_of(knot.id) + 3, 3)
    bark = np.clip((width * np.maximum(ragged, 0.12) - inside) / np.float32(0.7), 0, 1)
    bark *= np.clip(inside / np.float32(step_mm) + 0.5, 0, 1) * dead
    rough = 1 + np.float32(0.2) * noise(seen.lift, seen.side, 1.5, 1.5, hash_of(knot.id) + 4)
    if knot.hole:
        _blend(colour, _GAP * np.float32(0.6), np.clip(inside - width, 0, 1) * dead)
    _blend(colour, np.asarray(np.float32(0.62) * _BARK * rough[..., None], np.float32), bark)


def _knot_shade(seen: Around, knot: Knot, inside: Floats, dead: NDArray[np.bool_]) -> Floats:
    """Darkness inside a knot: its own years, its pith, its rim and the cracks of its drying."""
    number = hash_of(knot.id) + int(knot.x)
    size = np.float32(max(knot.radius, 1.5))
    # the branch's own pith lies off its middle, and its years are no circles
    lift = seen.lift - size * np.float32(0.22 * np.sin(number))
    side = seen.side - size * np.float32(0.18 * np.cos(number))
    off = np.sqrt(lift**2 + side**2)
    warp = octaves(seen.lift, seen.side, 0.9 * float(size), 0.7 * float(size), number, 3)
    years = np.sin((off + np.float32(0.10) * size * warp) * np.float32(4.4)) * (1 + np.float32(0.5) * warp)
    rays = noise(np.arctan2(side, lift) * np.float32(5.0), off, 0.5, 18.0, number + 1)
    heart = np.exp(-np.square(off / (np.float32(0.22) * size + np.float32(0.5))))
    core = np.exp(-np.square(off / (np.float32(0.75) * size)))
    rim = np.exp(-np.square(inside / (np.float32(0.07) * size + np.float32(0.35))))
    rim *= np.clip(np.float32(0.75) + np.float32(0.5) * noise(lift, side, 5.0, 4.0, number + 6), 0.15, 1.4)
    shade = np.float32(0.05) * years + np.float32(0.03) * rays + np.float32(0.3) * heart
    shade += np.float32(0.16) * core + np.float32(0.45) * rim + np.float32(0.3) * dead
    shade += np.float32(knot.tone - 0.16) + np.float32(0.14) * warp
    fine = noise(seen.lift, seen.side, 1.1, 0.8, number + 2)
    shade += np.float32(0.06) * fine
    if knot.radius > 4.5:
        shade += _stars(lift, side, off, size, number)
    return np.asarray(shade, np.float32)


def _stars(lift: Floats, side: Floats, off: Floats, size: np.float32, number: int) -> Floats:
    """The cracks that open from a knot's heart when it dries."""
    shade = np.zeros_like(off)
    angle = np.arctan2(side, lift)
    stray = np.float32(0.13) * noise(lift, side, 0.5 * float(size), 0.5 * float(size), number + 7)
    for ray in range((0, 1, 2, 2, 3)[number % 5]):
        turn = angle + stray - np.float32(number * 0.37 + ray * (1.7 + number % 3))
        reach = np.float32(0.45 + 0.4 * ((number + 3 * ray) % 5) / 5) * size
        close = np.abs(np.sin(turn)) * off + np.where(np.cos(turn) < 0, 9.0, 0.0)
        wide = np.float32(0.2 + 0.03 * float(size)) * (1 - off / reach)
        shade += np.float32(1.2) * np.clip((wide - close) / np.float32(0.35) + 0.5, 0, 1) * (wide > 0)
    return np.asarray(shade, np.float32)


def bark_colour(points: Points) -> Floats:
    """Colours of the bark on a waney edge, sRGB [h, w, 3]."""
    round_log = points.grown.theta * np.float32(points.log.radius)
    seed = points.log.seed + 81
    warp = np.float32(4) * noise(points.x, round_log, 60.0, 25.0, seed + 2)
    ridges = octaves(points.x, round_log + warp, 70.0, 6.5, seed, 3)
    crack = np.exp(-np.square(noise(points.x, round_log + warp, 90.0, 8.0, seed + 1) / np.float32(0.28)))
    lichen = np.clip(octaves(points.x, round_log, 60.0, 40.0, seed + 3, 3) - np.float32(0.5), 0, 1)
    light = np.float32(1.0) + np.float32(0.2) * ridges - np.float32(0.6) * crack
    body = np.float32(1.3) * _BARK * np.maximum(light, 0.2)[..., None]
    grey = np.array((126.0, 122.0, 108.0), np.float32) * np.maximum(light, 0.2)[..., None]
    return np.asarray(body + (grey - body) * (np.float32(0.55) * lichen)[..., None], np.float32)
