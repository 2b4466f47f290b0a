from dataclasses import replace

import cv2
import numpy as np
import pytest

from vision.arris import on_the_arris
from vision.edges import fit_edge

GROUND, EDGE, FACE = (70, 72, 75), (140, 112, 78), (196, 158, 108)
TOP = 60.0  # row of the arris


def strip(shows: float, *, blur: float = 1.1, seed: int = 0) -> np.ndarray:
    """A board below row TOP, whose edge shows above it over so many pixels, blurred and noisy."""
    fine = 8
    rows = (np.arange(120 * fine) + 0.5) / fine - 0.5
    column = np.where(rows[:, None] < TOP - shows, GROUND, np.where(rows[:, None] < TOP, EDGE, FACE))
    column = column.reshape(120, fine, 3).mean(axis=1)
    column = cv2.GaussianBlur(column, (1, 0), sigmaX=0.01, sigmaY=blur)
    picture = np.repeat(column[:, None], 800, axis=1)
    noisy = picture + np.random.default_rng(seed).normal(0, 3, picture.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("shows", [1.5, 2.0, 3.0, 4.0])
def test_a_narrow_edge_beside_the_face_is_taken_off(shows: float) -> None:
    picture = strip(shows)
    edge = fit_edge(picture, (10, TOP - 2), (790, TOP - 2))
    assert edge is not None
    moved = on_the_arris(picture, edge, np.array([0.0, 1.0]), (shows + 0.3, shows - 0.3))
    before = abs(float(edge.points_px[:, 1].mean()) - TOP)
    after = abs(float(moved.points_px[:, 1].mean()) - TOP)
    assert after < 0.45
    assert after < max(0.3, 0.5 * before)
    assert np.ptp(moved.points_px[:, 1] - edge.points_px[:, 1]) < 0.7


def test_parts_that_contradict_one_another_move_nothing() -> None:
    picture = strip(3.0)
    edge = fit_edge(picture, (10, TOP - 2), (790, TOP - 2), most_bow_px=0.0)
    assert edge is not None
    bent = edge.points_px.copy()
    bent[:, 1] = np.where(bent[:, 0] < 400, TOP - 3, TOP)
    moved = on_the_arris(picture, replace(edge, points_px=bent), np.array([0.0, 1.0]), (3.0, 3.0))
    assert np.array_equal(moved.points_px, bent)
