"""A board drawn on a bench with numpy, quick and exactly known, for tests of finding and measuring it."""

from dataclasses import dataclass

import cv2
import numpy as np

from vision.frame import Frame
from vision.lens import Lens


@dataclass(frozen=True)
class Drawn:
    rgb: np.ndarray
    frame: Frame
    corners_px: np.ndarray


def drawn_board(
    corners_px: object,
    length: float,
    width: float,
    *,
    size: tuple[int, int] = (1200, 800),
    lens: Lens | None = None,
    dots: tuple[tuple[float, float], ...] = (),
    wood: tuple[int, int, int] = (196, 158, 108),
    ground: tuple[int, int, int] = (92, 96, 101),
    noise: float = 3.0,
    seed: int = 0,
) -> Drawn:
    """The board under a frame whose corners (before the lens) are `corners_px`; dots are black, 6 mm wide."""
    flat = Frame.from_corners(corners_px, length, width)
    frame = Frame(flat.to_board, lens)
    fine = 3  # oversampling, so that edges are soft as a camera's are
    xs = (np.arange(size[0] * fine) + 0.5) / fine - 0.5
    ys = (np.arange(size[1] * fine) + 0.5) / fine - 0.5
    at = frame.to_mm(np.stack(np.meshgrid(xs, ys), axis=-1))
    on = (at[..., 0] > 0) & (at[..., 0] < length) & (at[..., 1] > 0) & (at[..., 1] < width)
    rng = np.random.default_rng(seed)
    grain = np.interp(at[..., 1], np.linspace(0, width, 60), rng.normal(0, 7, 60))
    picture = np.where(on[..., None], np.array(wood) + grain[..., None], np.array(ground)).astype(np.float32)
    for x, y in dots:
        picture[np.hypot(at[..., 0] - x, at[..., 1] - y) < 3.0] = 15
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    small += rng.normal(0, noise, small.shape)
    corners = frame.to_px([[0, 0], [length, 0], [length, width], [0, width]])
    return Drawn(np.clip(small, 0, 255).astype(np.uint8), frame, corners)
