"""The colour of wood at any point of a log, seen on a cut in any direction."""

import numpy as np

from samples.wood.faults import Points
from samples.wood.noise import Floats, noise, octaves

__all__ = ["Cut", "wood_colour"]


class Cut:
    """The plane of a cut: directions in (u, v) of its width and of its normal."""

    def __init__(self, across: tuple[float, float], normal: tuple[float, float]) -> None:
        self.across = across
        self.normal = normal

    def across_of(self, points: Points) -> Floats:
        """Coordinate across the face that fibres keep to, bent round knots [mm]."""
        du, dv = (np.float32(value) for value in self.across)
        return np.asarray(points.grown.u * du + points.grown.v * dv, np.float32)

    def flatness(self, points: Points) -> Floats:
        """1 where the cut is flat-sawn, 0 where it is quartered."""
        nu, nv = (np.float32(value) for value in self.normal)
        r = np.sqrt(points.u**2 + points.v**2) + np.float32(1e-3)
        return np.asarray(np.abs((points.u * nu + points.v * nv) / r), np.float32)


def wood_colour(points: Points, cut: Cut) -> Floats:
    """sRGB, 0 to 255, of clear wood; float array [h, w, 3]."""
    log = points.log
    wood = log.species
    across = cut.across_of(points)
    dark = _rings(points, across) + _streaks(points, across)
    if wood.pore > 0:
        dark += _pores(points, across)
    if wood.ray > 0 or wood.ray_dark > 0:
        dark += _rays(points, cut.flatness(points))
    if log.curl > 0:
        dark += _curl(points, across)
    sap = np.clip(log.sap_edge(points.grown) / np.float32(3.0) + 0.5, 0, 1)[..., None]
    rng = np.random.default_rng(log.seed + 5)
    cast = np.asarray(np.exp(rng.normal(0, (0.012, 0.012, 0.025))), np.float32)
    heart = np.asarray(wood.heart, np.float32) * cast * np.float32(np.exp(rng.normal(0, 0.05)))
    base = heart + (np.asarray(wood.sap, np.float32) * cast - heart) * sap
    tone = np.asarray(wood.tone, np.float32)
    return np.asarray(base * np.exp(-dark[..., None] * tone), np.float32)


def _rings(points: Points, across: Floats) -> Floats:
    log, wood = points.log, points.log.species
    jag = log.fibre_jag(points.x, across)
    year, part = log.year(points.grown, jag)
    number = np.clip(year, 0, len(log.ring_tints) - 2).astype(np.int32)
    blend = part * part * (3 - 2 * part)  # one year's shade passes into the next
    tint = log.ring_tints[number] * (1 - blend) + log.ring_tints[number + 1] * blend
    late = np.square(part) if wood.porous > 0 else np.power(part, np.float32(3.5))
    dark = np.float32(wood.tint) * tint + np.float32(wood.band) * late
    if wood.line:
        dark = dark + np.float32(wood.line) * np.exp(-np.square((part - 1) / np.float32(0.07)))
    return np.asarray(dark, np.float32)


def _streaks(points: Points, across: Floats) -> Floats:
    log, wood = points.log, points.log.species
    rho = points.grown.rho
    seed = log.seed
    # colour that follows the years, colour that follows the fibres, and the fibres themselves
    broad = noise(points.x + across, rho, 900.0, 14.0, seed + 51)
    cloud = noise(points.x, across, 260.0, 40.0, seed + 52)
    fibre = noise(points.x, across, 60.0, 1.6, seed + 53)
    fine = noise(points.x, across, 14.0, 0.5, seed + 54)
    strength = np.float32(wood.streak)
    return np.asarray(
        strength * (np.float32(0.7) * broad + np.float32(0.35) * cloud)
        + np.float32(0.022) * fibre
        + np.float32(0.028) * fine,
        np.float32,
    )


def _pores(points: Points, across: Floats) -> Floats:
    log, wood = points.log, points.log.species
    jag = log.fibre_jag(points.x, across)
    _, part = log.year(points.grown, jag)
    early = np.clip((np.float32(wood.porous) * 1.25 - part) / np.float32(0.5 * wood.porous + 0.02), 0, 1)
    level = np.float32(wood.late_crowd) + np.float32(wood.crowd - wood.late_crowd) * early
    cells = noise(points.x, across, wood.pore_long, wood.pore_wide, log.seed + 61)
    open_pore = np.clip((cells + level) * np.float32(1.6), 0, 1)
    return np.asarray(
        np.float32(wood.pore) * open_pore * (np.float32(0.5) + np.float32(0.5) * early), np.float32
    )


def _curl(points: Points, across: Floats) -> Floats:
    """Light and dark bands across the grain, where the fibres wave towards the eye and away."""
    log = points.log
    shift = octaves(points.x, across, 130.0, 22.0, log.seed + 91, 2)
    length = np.float32(7 + log.seed % 11)
    wave = np.sin(points.x * np.float32(2 * np.pi) / length + np.float32(2.6) * shift)
    patch = np.clip(
        np.float32(0.6) + np.float32(0.6) * noise(points.x, across, 300.0, 70.0, log.seed + 92), 0, 1
    )
    return np.asarray(np.float32(log.curl) * wave * patch, np.float32)


def _rays(points: Points, flatness: Floats) -> Floats:
    log, wood = points.log, points.log.species
    r = np.sqrt(points.grown.u**2 + points.grown.v**2)
    arc = points.grown.theta * np.float32(150.0)
    waver = octaves(points.x, r, 34.0, 15.0, log.seed + 71, 2)
    ragged = noise(points.x, r, 7.0, 0.9, log.seed + 73)
    shift = np.float32(wood.ray_thick) * (np.float32(1.2) * waver + np.float32(0.16) * ragged)
    around = np.asarray(arc + shift, np.float32)
    cells = noise(points.x, around, wood.ray_high, wood.ray_thick, log.seed + 72)
    ray = np.clip((cells + np.float32(wood.ray_crowd)) * np.float32(3.0), 0, 1)
    quartered = np.clip((np.float32(0.42) - flatness) / np.float32(0.3), 0, 1)
    return np.asarray(
        ray * (np.float32(wood.ray_dark) * (1 - quartered) - np.float32(wood.ray) * quartered), np.float32
    )
