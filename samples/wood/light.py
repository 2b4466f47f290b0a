"""Light in the workshop and what a phone makes of it."""

from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image
from PIL.ExifTags import IFD, Base

from samples.wood.noise import Floats, octaves

__all__ = ["Light", "developed", "shadow_on_ground", "with_focal_length"]


@dataclass(frozen=True)
class Light:
    """Light and development.

    Parameters
    ----------
    from_x, from_y : float
        Where the light comes from, as the shadow's length over the height that casts it.
    gradient : tuple of float
        Fall of light over the picture's width and height, as a share.
    vignette : float
        Fall of light in the corners, as a share.
    warm : float
        White balance: above 0 too warm, below 0 too blue.
    gain : float
        Exposure.
    shadow : float
        Strength of a soft shadow across the picture, 0 to 1.
    noise : float
        Standard deviation of the sensor's noise at mid grey, 0 to 255.
    blur : float
        Standard deviation of the blur [px].
    """

    from_x: float = 0.6
    from_y: float = 0.5
    gradient: tuple[float, float] = (0.1, 0.05)
    vignette: float = 0.12
    warm: float = 0.0
    gain: float = 1.0
    shadow: float = 0.0
    noise: float = 2.0
    blur: float = 0.6

    @classmethod
    def some(cls, rng: np.random.Generator) -> "Light":
        """A light such as a workshop has."""
        return cls(
            from_x=float(rng.uniform(-1.2, 1.2)),
            from_y=float(rng.uniform(-1.0, 1.0)),
            gradient=(float(rng.uniform(-0.2, 0.2)), float(rng.uniform(-0.15, 0.15))),
            vignette=float(rng.uniform(0.03, 0.22)),
            warm=float(rng.normal(0, 0.03)),
            gain=float(rng.uniform(0.85, 1.1)),
            shadow=float(rng.uniform(0, 0.35)) if rng.random() < 0.3 else 0.0,
            noise=float(rng.uniform(0.8, 3.5)),
            blur=float(rng.uniform(0.4, 0.9)),
        )

    def on_side(self, axis: int, high: bool) -> float:
        """Share of the light that falls on a side of the board."""
        toward = (self.from_x, self.from_y)[axis] * (1 if high else -1)
        return float(np.clip(0.62 - 0.25 * toward, 0.35, 0.95))


def shadow_on_ground(
    x: Floats, y: Floats, wood: Floats, px_per_mm: float, thickness: float, light: Light
) -> Floats:
    """Share of the light left on the ground at seen (x, y), under a board of this shape.

    `wood` is 1 where the board is, at `px_per_mm` from seen (0, 0); x, y and the
    thickness are mm.
    """
    step, pad = 4.0, 100.0
    size = (max(round(wood.shape[1] / px_per_mm / step), 1), max(round(wood.shape[0] / px_per_mm / step), 1))
    small = np.asarray(cv2.resize(wood, size, interpolation=cv2.INTER_AREA), np.float32)
    edge = int(pad / step)
    shape = np.pad(small, edge)
    soft = np.asarray(cv2.GaussianBlur(shape, (0, 0), (0.3 * thickness + 3) / step), np.float32)
    close = np.asarray(cv2.GaussianBlur(shape, (0, 0), 7 / step), np.float32)

    def at(picture: Floats, dx: float, dy: float) -> Floats:
        map_x = (x - np.float32(dx)) / np.float32(step) + np.float32(edge - 0.5)
        map_y = (y - np.float32(dy)) / np.float32(step) + np.float32(edge - 0.5)
        return np.asarray(cv2.remap(picture, map_x, map_y, cv2.INTER_LINEAR, borderValue=0.0), np.float32)

    cast = at(soft, 0.6 * light.from_x * thickness, 0.6 * light.from_y * thickness)
    return np.asarray((1 - np.float32(0.5) * cast) * (1 - np.float32(0.45) * at(close, 0, 0)), np.float32)


def developed(scene: Floats, light: Light, rng: np.random.Generator, quality: int) -> bytes:
    """The scene as a JPEG of this light."""
    picture = lit(scene, light, rng)
    if light.blur > 0.05:
        picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), light.blur), np.float32)
    picture = picture + grain(picture, light.noise, rng)
    whole = np.asarray(np.clip(picture + 0.5, 0, 255), np.uint8)
    done, data = cv2.imencode(".jpg", whole[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not done:
        raise RuntimeError("the picture could not be written as JPEG")
    return bytes(data)


def with_focal_length(jpeg: bytes, focal_35mm: int) -> bytes:
    """The JPEG with the one EXIF fact that a phone's picture has and these need: focal length, 35 mm film."""
    exif = Image.Exif()
    exif.get_ifd(IFD.Exif)[Base.FocalLengthIn35mmFilm] = focal_35mm
    body = exif.tobytes()
    return jpeg[:2] + b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body + jpeg[2:]


def lit(scene: Floats, light: Light, rng: np.random.Generator) -> Floats:
    """The scene under this light [h, w, 3], 0 to 255."""
    high, wide = scene.shape[:2]
    x = np.linspace(-1, 1, wide, dtype=np.float32)[None, :]
    y = np.linspace(-1, 1, high, dtype=np.float32)[:, None] * np.float32(min(high / wide, 1.0))
    field = 1 + np.float32(light.gradient[0]) * x + np.float32(light.gradient[1]) * y
    field = field * (1 - np.float32(light.vignette) * (x**2 + y**2))
    if light.shadow > 0:
        number = int(rng.integers(1, 9999))
        cloud = octaves(x * 10 + y * 4, y * 10, 9.0, 7.0, number, 2)
        edge = np.float32(rng.uniform(4, 14))
        field = field * (1 - np.float32(light.shadow) / (1 + np.exp(-edge * (cloud - np.float32(0.5)))))
    cast = np.array((1 + light.warm, 1.0, 1 - 1.2 * light.warm), np.float32) * np.float32(light.gain)
    return np.asarray(scene * field[..., None] * cast, np.float32)


def glare(picture: Floats, rng: np.random.Generator) -> None:
    """A window's or a lamp's soft reflection on a planed face, in place."""
    high, wide = picture.shape[:2]
    x = np.arange(wide, dtype=np.float32)[None, :] - np.float32(rng.uniform(0, wide))
    y = np.arange(high, dtype=np.float32)[:, None] - np.float32(rng.uniform(0, high))
    turn = float(rng.uniform(0, np.pi))
    along = x * np.float32(np.cos(turn)) + y * np.float32(np.sin(turn))
    aside = y * np.float32(np.cos(turn)) - x * np.float32(np.sin(turn))
    long, short = float(rng.uniform(60, 400)), float(rng.uniform(20, 120))
    spot = np.exp(-np.square(along / np.float32(long)) - np.square(aside / np.float32(short)))
    picture += np.float32(rng.uniform(15, 90)) * spot[..., None]


def grain(picture: Floats, noise: float, rng: np.random.Generator) -> Floats:
    """Sensor noise: of each pixel, and coarser of colour."""
    high, wide = picture.shape[:2]
    fine = rng.standard_normal((high, wide, 1), dtype=np.float32) * np.float32(noise)
    small = rng.standard_normal((high // 3 + 1, wide // 3 + 1, 3), dtype=np.float32) * np.float32(noise * 0.6)
    colour = cv2.resize(small, (wide, high), interpolation=cv2.INTER_LINEAR)
    level = np.sqrt(np.maximum(picture.mean(axis=2, keepdims=True), 8) / 128)
    return np.asarray((fine + colour) * level, np.float32)
