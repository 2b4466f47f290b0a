"""What an adjustment starts from: a first guess of where the camera stood and where a sheet lies."""

import numpy as np
from numpy.typing import NDArray

from vision.evidence import Readings, Sheet
from vision.frame import Frame
from vision.lens import Lens

__all__ = ["averaged", "placed", "pose_of", "scale_across"]


def pose_of(frame: Frame, lens: Lens) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where a camera of this lens stands to see the board as the frame says: rotation, shift [mm]."""
    to_picture = np.linalg.inv(frame.to_board)
    cx, cy = lens.centre_px
    ray = np.array([[1, 0, -cx], [0, 1, -cy], [0, 0, lens.focal_px]]) / lens.focal_px @ to_picture
    ray = ray / np.sqrt(np.linalg.norm(ray[:, 0]) * np.linalg.norm(ray[:, 1]))
    if ray[2, 2] < 0:
        ray = -ray
    u, _, v = np.linalg.svd(np.column_stack([ray[:, 0], ray[:, 1], np.cross(ray[:, 0], ray[:, 1])]))
    turn = u @ np.diag([1.0, 1.0, np.linalg.det(u @ v)]) @ v
    return turn, ray[:, 2]


def scale_across(frame: Frame, readings: Readings) -> float:
    """Pixels per millimetre across the board's middle."""
    middle = [[readings.length / 2, 0.0], [readings.length / 2, readings.width]]
    ends = frame.to_px(np.array(middle))
    return float(np.hypot(*(ends[1] - ends[0]))) / readings.width


def averaged(points: NDArray[np.float64], most: int) -> NDArray[np.float64]:
    """Edge points in order, averaged in groups."""
    groups = np.array_split(points, min(most, len(points)))
    return np.stack([group.mean(axis=0) for group in groups])


def placed(sheet: Sheet, distance: float, frame: Frame) -> tuple[Sheet, NDArray[np.float64]]:
    """The sheet with a first guess of its place in board millimetres: x, y, angle."""
    lift = 1.0 + sheet.below_mm / distance
    on_board = frame.to_mm(sheet.points_px) * lift
    away, home = on_board - on_board.mean(axis=0), sheet.points_mm - sheet.points_mm.mean(axis=0)
    cross = np.sum(home[:, 0] * away[:, 1] - home[:, 1] * away[:, 0])
    angle = float(np.arctan2(cross, np.sum(home * away)))
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    x, y = on_board.mean(axis=0) - spin @ sheet.points_mm.mean(axis=0)
    return sheet, np.array([x, y, angle, 0.0])
