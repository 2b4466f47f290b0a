"""Between picture pixels and millimetres on the board, either way.

The board as it is seen in one photograph: its datum end left, its datum edge on
top (for a back face, `layout.stock` says how that is mirrored)::

    picture                              board as seen
     . corners_px[0] ---- [1] .          (0, 0) ---- (length, 0)
     |                        |    <->      |              |
     . [3] -------------- [2] .          (0, width) - (length, width)
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.errors import VisionError
from vision.lens import Lens

__all__ = ["Frame", "in_board_order"]


@dataclass(frozen=True, eq=False)
class Frame:
    """A plane in a photograph, with the lens in front of it.

    Parameters
    ----------
    to_board : ndarray, [3, 3]
        Homography from pixels of a distortion-free picture to millimetres.
    lens : Lens or None
        None for a perfect lens.
    """

    to_board: NDArray[np.float64]
    lens: Lens | None = None

    def __post_init__(self) -> None:
        matrix = np.asarray(self.to_board, dtype=np.float64)
        if matrix.shape != (3, 3) or not np.all(np.isfinite(matrix)) or abs(np.linalg.det(matrix)) < 1e-18:
            raise ValueError(f"frame: {matrix.tolist()} is not an invertible 3 x 3 matrix")
        object.__setattr__(self, "to_board", matrix)

    @classmethod
    def from_corners(
        cls, corners_px: ArrayLike, length_mm: float, width_mm: float, lens: Lens | None = None
    ) -> "Frame":
        """The frame in which four corners in board order are a rectangle of length x width.

        Raises
        ------
        VisionError
            Two corners on one spot, or three in a line.
        """
        corners = np.asarray(corners_px, dtype=np.float64)
        if lens is not None:
            corners = lens.straight(corners)
        _check_corners(corners)
        board = np.array([[0, 0], [length_mm, 0], [length_mm, width_mm], [0, width_mm]], dtype=np.float64)
        return cls(_homography(corners, board), lens)

    def to_mm(self, points_px: ArrayLike) -> NDArray[np.float64]:
        """Board millimetres of picture points, [..., 2]."""
        points = np.asarray(points_px, dtype=np.float64)
        return _mapped(self.to_board, points if self.lens is None else self.lens.straight(points))

    def to_px(self, points_mm: ArrayLike) -> NDArray[np.float64]:
        """Picture points of board millimetres, [..., 2]."""
        points = _mapped(
            np.asarray(np.linalg.inv(self.to_board), dtype=np.float64),
            np.asarray(points_mm, dtype=np.float64),
        )
        return points if self.lens is None else self.lens.bent(points)


def in_board_order(quad_px: ArrayLike) -> NDArray[np.float64]:
    """Four corners, given in any order round the board, in board order.

    Returns
    -------
    ndarray, [4, 2]
        Top left first, clockwise; the long sides are the first and the third. A
        board that stands upright in the picture is read from its upper end.
    """
    quad = np.asarray(quad_px, dtype=np.float64)
    middle = quad.mean(axis=0)
    quad = quad[np.argsort(np.arctan2(quad[:, 1] - middle[1], quad[:, 0] - middle[0]))]
    sides = np.linalg.norm(np.roll(quad, -1, axis=0) - quad, axis=1)
    first = 0 if sides[0] + sides[2] >= sides[1] + sides[3] else 1
    run = quad[(first + 1) % 4] - quad[first] + quad[(first + 2) % 4] - quad[(first + 3) % 4]
    forward = run[0] > 0 if abs(run[0]) >= abs(run[1]) else run[1] > 0
    return np.roll(quad, -(first if forward else first + 2), axis=0)


def _mapped(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    whole = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(whole[..., :2] / whole[..., 2:])


def _homography(source: NDArray[np.float64], target: NDArray[np.float64]) -> NDArray[np.float64]:
    """The homography that takes four points to four points, in double precision."""
    rows = []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, v])
    system = np.array(rows)
    scale = 1.0 / np.abs(system[:, :8]).max(axis=0)
    answer = np.linalg.solve(system[:, :8] * scale, system[:, 8]) * scale
    return np.append(answer, 1.0).reshape(3, 3)


def _check_corners(corners: NDArray[np.float64]) -> None:
    if corners.shape != (4, 2) or not np.all(np.isfinite(corners)):
        raise ValueError(f"corners: {corners.shape}; give four (x, y) points in pixels")
    side = np.roll(corners, -1, axis=0) - corners
    turn = side[:, 0] * np.roll(side, -1, axis=0)[:, 1] - side[:, 1] * np.roll(side, -1, axis=0)[:, 0]
    if np.any(turn <= 1e-6):
        raise VisionError(
            "the corners do not go round the board clockwise from its upper left; drag them into that order"
        )
