"""Tiny boards painted for the suggesters' tests: straight grain, and what the test puts on it."""

import cv2
import numpy as np
from numpy.typing import NDArray

PX_PER_MM = 2.0


def clear_board(length_mm: float = 500, width_mm: float = 120, seed: int = 1) -> NDArray[np.float32]:
    """Straight-grained brown wood with rings of 4 mm, a slow shadow and some noise; RGB 0 to 255."""
    rng = np.random.default_rng(seed)
    rows, columns = round(width_mm * PX_PER_MM), round(length_mm * PX_PER_MM)
    across = np.arange(rows)[:, None] / PX_PER_MM + rng.normal(0, 0.1, (rows, 1))
    rings = 6 * np.sin(2 * np.pi * across / 4.0)
    shade = np.linspace(-10, 10, columns)[None, :]
    grain = rng.normal(0, 3, (rows, columns))
    grain = cv2.blur(grain, (15, 1)) * 3
    light = 170 + rings + shade + grain + rng.normal(0, 2, (rows, columns))
    return (light[..., None] * np.array([1.0, 0.78, 0.55])).astype(np.float32)


def with_knot(
    board: NDArray[np.float32], x_mm: float, y_mm: float, size_mm: float, dark: float = 0.5
) -> NDArray[np.float32]:
    """The board with a round dark knot."""
    ys, xs = np.mgrid[: board.shape[0], : board.shape[1]] / PX_PER_MM
    edge = np.clip((size_mm / 2 - np.hypot(xs - x_mm, ys - y_mm)) / 0.7 + 0.5, 0, 1)[..., None]
    return (board * (1 - edge * (1 - dark * np.array([1.0, 0.9, 0.8])))).astype(np.float32)


def with_crack(
    board: NDArray[np.float32], x_mm: float, y_mm: float, length_mm: float, rise: float = 0.03
) -> NDArray[np.float32]:
    """The board with a thin black line along the grain."""
    made = board.copy()
    start = (round(x_mm * PX_PER_MM), round(y_mm * PX_PER_MM))
    end = (round((x_mm + length_mm) * PX_PER_MM), round((y_mm + rise * length_mm) * PX_PER_MM))
    cv2.line(made, start, end, (60, 45, 30), 2)
    return made


def photographed(board: NDArray[np.float32]) -> NDArray[np.uint8]:
    """As eight-bit pixels."""
    return np.clip(board, 0, 255).astype(np.uint8)
