"""A board on a bench, drawn with numpy as a camera would see it: quick, and exactly known."""

from dataclasses import dataclass

import cv2
import numpy as np

from vision.frame import Frame
from vision.lens import Lens

SIZE = (1200, 800)  # pixels
FOCAL_35MM = 26.0
_FACE = 4.0  # pixels per mm of the drawn face


@dataclass(frozen=True)
class Drawn:
    rgb: np.ndarray
    frame: Frame
    corners_px: np.ndarray


def camera_frame(
    length: float,
    width: float,
    *,
    k1: float = 0.0,
    tilt: tuple[float, float, float] = (6.0, -8.0, 3.0),
    fill: float = 0.82,
    offset: tuple[float, float] = (0.0, 0.0),
    size: tuple[int, int] = SIZE,
) -> Frame:
    """A phone at FOCAL_35MM over the board, turned by `tilt` degrees about x, y and its own axis.

    `fill` is the part of the picture's width the board takes, `offset` its shift in pixels.
    """
    focal = float(np.hypot(*size)) * FOCAL_35MM / float(np.hypot(36, 24))
    centre = ((size[0] - 1) / 2, (size[1] - 1) / 2)
    away = focal * length / (fill * size[0])
    turn = (
        cv2.Rodrigues(np.deg2rad([tilt[0], tilt[1], 0.0]))[0]
        @ cv2.Rodrigues(np.deg2rad([0.0, 0.0, tilt[2]]))[0]
    )
    shift = np.array([offset[0] * away / focal, offset[1] * away / focal, away])
    shift = shift - turn @ np.array([length / 2, width / 2, 0.0])
    matrix = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1]])
    to_picture = matrix @ np.stack([turn[:, 0], turn[:, 1], shift], axis=1)
    return Frame(np.linalg.inv(to_picture / to_picture[2, 2]), Lens(centre, focal, k1) if k1 else None)


def drawn_board(
    length: float,
    width: float,
    *,
    frame: Frame | None = None,
    size: tuple[int, int] = SIZE,
    dots: tuple[tuple[float, float], ...] = (),
    wood: tuple[int, int, int] = (196, 158, 108),
    ground: tuple[int, int, int] = (92, 96, 101),
    crook: float = 0.0,
    streak: float = 7.0,
    face_seed: int | None = None,
    noise: float = 3.0,
    seed: int = 0,
) -> Drawn:
    """The board seen through a frame; dots are black, 6 mm across; edges bow by `crook` mm."""
    frame = frame or camera_frame(length, width, size=size)
    fine = 2  # oversampling, so that edges are soft as a camera's are
    xs = (np.arange(size[0] * fine) + 0.5) / fine - 0.5
    ys = (np.arange(size[1] * fine) + 0.5) / fine - 0.5
    at = frame.to_mm(np.stack(np.meshgrid(xs, ys), axis=-1))
    across = at[..., 1] - crook * 4 * at[..., 0] / length * (1 - at[..., 0] / length)
    on = (at[..., 0] > 0) & (at[..., 0] < length) & (across > 0) & (across < width)
    rng = np.random.default_rng(seed)
    face = _face(length, width, dots, streak, np.random.default_rng(seed if face_seed is None else face_seed))
    maps = [np.clip(v * _FACE - 0.5, -1, 32000).astype(np.float32) for v in (at[..., 0], across)]
    shade = cv2.remap(face, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    wooden = np.where(shade[..., None] < -500, 15.0, np.array(wood) + shade[..., None])
    picture = np.where(on[..., None], wooden, np.array(ground)).astype(np.float32)
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    small += rng.normal(0, noise, small.shape)
    corners = frame.to_px([[0, 0], [length, 0], [length, width], [0, width]])
    return Drawn(np.clip(small, 0, 255).astype(np.uint8), frame, corners)


def pencilled(
    rgb: np.ndarray,
    frame: Frame,
    x: float,
    width: float,
    *,
    askew: float = 0.0,
    dark: float = 0.4,
    wide: float = 0.6,
) -> np.ndarray:
    """The photograph with a pencil line across the board at x, or x + askew y [mm].

    `dark` is the share of the light it takes, `wide` its own width [mm]; a `dark` below 0 makes chalk.
    """
    ends = frame.to_px([[x, 0.0], [x + askew * width, width]])
    low = np.maximum(np.floor(ends.min(axis=0)).astype(int) - 6, 0)
    high = np.minimum(np.ceil(ends.max(axis=0)).astype(int) + 7, [rgb.shape[1], rgb.shape[0]])
    fine = 4
    grid = [(np.arange((b - a) * fine) + 0.5) / fine - 0.5 + a for a, b in zip(low, high, strict=True)]
    at = frame.to_mm(np.stack(np.meshgrid(*grid), axis=-1))
    on = (np.abs(at[..., 0] - x - askew * at[..., 1]) < wide / 2) & (at[..., 1] > 0) & (at[..., 1] < width)
    share = cv2.resize(on.astype(np.float32), tuple(int(v) for v in high - low), interpolation=cv2.INTER_AREA)
    share = cv2.GaussianBlur(share, (0, 0), 0.6)[..., None]
    answer = rgb.astype(np.float32)
    answer[low[1] : high[1], low[0] : high[0]] *= 1.0 - dark * share
    return np.clip(answer, 0, 255).astype(np.uint8)


def _face(
    length: float,
    width: float,
    dots: tuple[tuple[float, float], ...],
    streak: float,
    rng: np.random.Generator,
) -> np.ndarray:
    """Shade of the wood at _FACE px per mm: streaks that come and go; far below 0 on a dot."""
    rough = rng.normal(0, 1, (round(width / 2.5) + 2, round(length / 20) + 2)).astype(np.float32)
    size = (round(length * _FACE), round(width * _FACE))
    face = streak * np.asarray(cv2.resize(rough, size, interpolation=cv2.INTER_CUBIC))
    for x, y in dots:
        cv2.circle(
            face,
            (round((x * _FACE - 0.5) * 16), round((y * _FACE - 0.5) * 16)),
            round(3 * _FACE * 16),
            -1000,
            -1,
            shift=4,
        )
    return face
