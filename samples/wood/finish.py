"""What happens to a face after the tree: saw and planer, stacking, dust, and the maker's own marks.

All work in place on sRGB floats [h, w, 3] at face coordinates x [1, w] and y [h, 1] in mm.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from samples.wood.noise import Floats, noise, octaves

__all__ = ["chalked", "dusted", "mineral_streaks", "numbered", "pencilled", "planed", "sawn", "stickered"]


def sawn(rgb: Floats, x: Floats, y: Floats, rng: np.random.Generator) -> None:
    """Marks of the band saw, or of the circular saw, on a rough and paler face."""
    seed = int(rng.integers(1, 9999))
    pitch = float(rng.uniform(1.6, 4.5))
    if rng.random() < 0.75:
        along = x + np.float32(rng.uniform(-0.15, 0.15)) * y
    else:
        radius, middle = float(rng.uniform(220, 420)), float(rng.uniform(-150, 150))
        along = x - np.sqrt(np.maximum(np.float32(radius**2) - np.square(y - np.float32(middle)), 1))
    along = along + np.float32(0.25) * noise(x, y, 30.0, 60.0, seed)
    tooth = np.sin(along * np.float32(2 * np.pi / pitch)) + np.float32(0.5) * np.sin(
        along * np.float32(2 * np.pi / pitch / 2.7) + 1
    )
    depth = np.float32(rng.uniform(0.012, 0.05)) * (1 + np.float32(0.6) * noise(x, y, 90.0, 50.0, seed + 1))
    deep = np.clip(noise(along, y, 7.0, 400.0, seed + 2) - np.float32(1.7), 0, 1)
    fuzz = noise(x, y, 5.0, 0.8, seed + 3)
    shade = depth * tooth + np.float32(0.10) * deep + np.float32(0.035) * fuzz
    grey = rgb.mean(axis=2, keepdims=True)
    dull = np.float32(rng.uniform(0.08, 0.45))
    rgb += (grey * np.array((1.02, 1.0, 0.95), np.float32) - rgb) * dull
    rgb += (np.float32(rng.uniform(120, 190)) - rgb) * np.float32(rng.uniform(0.0, 0.22))
    rgb *= np.exp(-shade)[..., None]


def planed(rgb: Floats, x: Floats, y: Floats, rng: np.random.Generator) -> None:
    """The faint waves of the planer's knives."""
    seed = int(rng.integers(1, 9999))
    wave = np.sin(x * np.float32(2 * np.pi / rng.uniform(1.5, 3.0)) + 0.02 * y)
    shade = np.float32(0.008) * wave * (1 + noise(x, y, 200.0, 80.0, seed))
    if rng.random() < 0.15:  # a nick in a knife leaves a line along the board
        line = np.abs(y - np.float32(rng.uniform(float(y.min()), float(y.max())))) < 0.8
        shade = shade - np.float32(0.05) * line
    rgb *= np.exp(-shade)[..., None]


def dusted(rgb: Floats, x: Floats, y: Floats, rng: np.random.Generator) -> None:
    """Sawdust and shavings, in drifts and single specks."""
    seed = int(rng.integers(1, 9999))
    drift = np.clip(octaves(x, y, 160.0, 90.0, seed, 3) - np.float32(rng.uniform(0.6, 1.6)), 0, 1)
    specks = np.clip(noise(x, y, 2.2, 1.8, seed + 1) - np.float32(rng.uniform(2.0, 2.8)), 0, 1)
    share = np.minimum(np.float32(0.35) * drift + np.float32(0.8) * specks, 0.8)
    colour = np.array((214.0, 190.0, 152.0), np.float32) * np.float32(rng.uniform(0.8, 1.1))
    rgb += (colour - rgb) * share[..., None]


def stickered(rgb: Floats, x: Floats, y: Floats, rng: np.random.Generator) -> None:
    """Pale or dark bands across the board where it lay in the stack."""
    middle = np.float32(rng.uniform(float(x.min()), float(x.max())))
    half = np.float32(rng.uniform(9, 16))
    wander = np.float32(1.5) * noise(x, y, 60.0, 60.0, int(rng.integers(1, 9999)))
    band = np.clip(
        (half - np.abs(x + np.float32(rng.uniform(-0.08, 0.08)) * y - middle + wander) + 2) / 4, 0, 1
    )
    rgb *= np.exp(np.float32(rng.uniform(-0.14, 0.10)) * band)[..., None]


def mineral_streaks(rgb: Floats, x: Floats, y: Floats, rng: np.random.Generator) -> None:
    """Dark spindles along the grain that are sound wood."""
    seed = int(rng.integers(1, 9999))
    long, wide = float(rng.uniform(60, 220)), float(rng.uniform(1.5, 6))
    share = np.clip((noise(x, y, long, wide, seed) - np.float32(rng.uniform(1.6, 2.4))) * 2, 0, 1)
    tone = np.array(((0.5, 0.45, 0.4), (0.55, 0.35, 0.5), (0.3, 0.5, 0.6))[int(rng.integers(3))], np.float32)
    rgb *= np.exp(-np.float32(rng.uniform(0.3, 0.8)) * share[..., None] * tone)


def pencilled(rgb: Floats, px_per_mm: float, rng: np.random.Generator) -> None:
    """Lines across and along, a cabinetmaker's triangle, a number."""
    mask = np.zeros(rgb.shape[:2], np.uint8)
    for _ in range(int(rng.integers(1, 4))):
        _stroke(mask, rng, int(rng.integers(4)), px_per_mm)
    soft = np.asarray(cv2.GaussianBlur(mask, (0, 0), 0.45), np.float32) / 255
    soft = soft * np.float32(rng.uniform(0.3, 0.75))
    rgb += (np.float32(rng.uniform(55, 90)) - rgb) * soft[..., None]


def numbered(
    rgb: NDArray[np.uint8], px_per_mm: float, rng: np.random.Generator, text: str, at: tuple[float, float]
) -> NDArray[np.uint8]:
    """The picture of a face with its number chalked on it, lower left corner of the number at (x, y) [mm]."""
    mask = np.zeros((rgb.shape[0], rgb.shape[1]), np.uint8)
    size, thick = 1.9 * px_per_mm, max(round(4.0 * px_per_mm), 1)
    place = (round(at[0] * px_per_mm), round(at[1] * px_per_mm))
    cv2.putText(mask, text, place, cv2.FONT_HERSHEY_SCRIPT_SIMPLEX, size, 255, thick, cv2.LINE_AA)
    colour = rgb.astype(np.float32)
    _rubbed(colour, mask, np.array((236.0, 236.0, 230.0), np.float32), 0.75, rng)
    return np.asarray(np.clip(colour + 0.5, 0, 255), np.uint8)


def chalked(rgb: Floats, px_per_mm: float, rng: np.random.Generator) -> None:
    """A number or a mark in chalk or lumber crayon."""
    high, wide = rgb.shape[0], rgb.shape[1]
    mask = np.zeros((high, wide), np.uint8)
    word = str(int(rng.integers(1, 400)))
    size = float(rng.uniform(1.4, 3.6)) * px_per_mm
    at = (int(rng.uniform(0.02, 0.9) * wide), int(rng.uniform(0.3, 0.95) * high))
    thick = max(int(rng.uniform(3, 7) * px_per_mm), 1)
    cv2.putText(mask, word, at, cv2.FONT_HERSHEY_SIMPLEX, size, 255, thick, cv2.LINE_AA)
    if rng.random() < 0.3:
        _stroke(mask, rng, int(rng.integers(4)), 3 * px_per_mm)
    colours = ((238, 238, 232), (232, 214, 110), (120, 160, 205), (200, 70, 60), (60, 60, 64), (40, 70, 140))
    colour = np.array(colours[int(rng.integers(len(colours)))], np.float32)
    _rubbed(rgb, mask, colour, float(rng.uniform(0.5, 0.9)), rng)


def _rubbed(
    rgb: Floats, mask: NDArray[np.uint8], colour: Floats, strength: float, rng: np.random.Generator
) -> None:
    """Chalk along a stroke: it takes on the high spots of the wood only."""
    rough = rng.random(mask.shape, dtype=np.float32)
    soft = np.asarray(cv2.GaussianBlur(mask, (0, 0), 0.8), np.float32) / 255
    share = soft * np.clip(np.float32(1.35) * rough + np.float32(0.1), 0, 1) * np.float32(strength)
    rgb += (colour - rgb) * share[..., None]


def _stroke(mask: NDArray[np.uint8], rng: np.random.Generator, shape: int, px_per_mm: float) -> None:
    high, wide = mask.shape
    thick = max(round(0.7 * px_per_mm), 1)
    x, y = float(rng.uniform(0, wide)), float(rng.uniform(0, high))
    ends: list[tuple[tuple[float, float], tuple[float, float]]]
    if shape == 0:
        ends = [((x, 0.0), (x + float(rng.uniform(-3, 3)), float(high)))]
    elif shape == 1:
        ends = [((0.0, y), (float(wide), y + float(rng.uniform(-4, 4))))]
    elif shape == 2:
        side = float(rng.uniform(30, 90))
        corners = [(x, y), (x + side, y), (x + side / 2, y - side * 0.8)]
        ends = list(zip(corners, corners[1:] + corners[:1], strict=True))
    else:
        bend = float(rng.uniform(10, 60))
        ends = [((x, y), (x + bend, y - bend)), ((x + bend, y - bend), (x + bend, y + bend / 2))]
    for start, end in ends:
        first = (round(start[0] * 16), round(start[1] * 16))
        second = (round(end[0] * 16), round(end[1] * 16))
        cv2.line(mask, first, second, 255, thick, cv2.LINE_AA, 4)
