"""Shakes and checks: thin dark lines along the grain, darker than the pores and rings round them."""

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found, outline_of
from vision.suggest.lines import Line, lines_over
from vision.suggest.regions import Region, chance_from, regions_of
from vision.suggest.surface import Surface

__all__ = ["cracks", "line_strength", "said_cracks", "witness"]

Plane = NDArray[np.float32]

_SEED, _RIM = 5.0, 2.6  # hysteresis, in usual sizes of such lines nearby
_SHORTEST_MM = 14.0
_SAID_RIM, _SAID_SEED = 0.25, 0.35  # chance from which the net's regions are drawn, and taken up
_SAID_SHORTEST_MM = 10
# What it counts that the net saw no crack at a line, and less so where it nearly did:
_UNSAID, _UNSAID_SLOPE = -5.0, 8.0
# Worth of what `witness` says: a logistic fit, rounded; samples.training.weigh_marks makes one like it:
_WEIGHTS = np.array([-3.4, 2.7, -0.32, 0.5, 0.55])


def cracks(surface: Surface) -> list[Found]:
    """Candidates for shakes and checks on one stretch of board."""
    scale = surface.lines.px_per_mm
    said = None if surface.chances is None else surface.chances["crack"]
    found = [] if said is None else _said(surface, said)
    for line in lines_over(surface.lines, _RIM, _SHORTEST_MM):
        if float((line.along > _SEED).sum()) < _SHORTEST_MM * scale:
            continue
        evidence = _plain_evidence(line, scale)
        if said is not None:
            there = _said_along(line, said, scale)
            if float(there.max()) > _SAID_RIM:
                continue  # the net's region stands for it
            evidence += _UNSAID + _UNSAID_SLOPE * float(np.percentile(there, 90))
        ring = outline_of(line.patch.astype(np.uint8), scale, line.left, line.top)
        if ring is not None:
            found.append(Found(DefectKind.CHECK, ring, chance_from(evidence)))
    return found


def _plain_evidence(line: Line, scale: float) -> float:
    return float(
        0.9 * (np.percentile(line.along, 60) - 6.5)
        + 1.3 * np.log2(line.patch.shape[1] / scale / 40.0)
        + 0.25 * (line.depth - 8.0)
    )


def _said(surface: Surface, said: Plane) -> list[Found]:
    """Cracks that the net sees, judged by how sure it is and how dark a line runs there."""
    strength = line_strength(surface)
    found: list[Found] = []
    for region in said_cracks(said):
        ring = region.ring()
        if ring is not None:
            evidence = float(_WEIGHTS @ witness(region, said, strength))
            found.append(Found(DefectKind.CHECK, ring, chance_from(evidence)))
    return found


def said_cracks(said: Plane) -> list[Region]:
    """Where the net sees cracks."""
    regions = regions_of(said > _SAID_RIM, _SAID_SHORTEST_MM)
    return [r for r in regions if r.wide >= _SAID_SHORTEST_MM and float(r.of(said).max()) >= _SAID_SEED]


def line_strength(surface: Surface) -> Plane:
    """Strength of dark lines at one pixel per millimetre."""
    widened = cv2.dilate(surface.lines.strength, np.ones((3, 3)))
    size = surface.wood.shape[1], surface.wood.shape[0]
    return np.asarray(cv2.resize(widened, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def witness(region: Region, said: Plane, strength: Plane) -> NDArray[np.float64]:
    """What speaks for a crack where the net saw one: one, its 75 % chance, log2 mm, darkness, mm thick."""
    dark = min(float(np.percentile(region.of(strength), 60)), 8.0)
    sure = np.percentile(region.of(said), 75)
    return np.array([1.0, sure, np.log2(region.wide), dark, region.area / region.wide])


def _said_along(line: Line, said: Plane, scale: float) -> Plane:
    rows, columns = np.nonzero(line.patch)
    y = np.minimum(((rows + line.top) / scale).astype(int), said.shape[0] - 1)
    x = np.minimum(((columns + line.left) / scale).astype(int), said.shape[1] - 1)
    return np.asarray(said[y, x], dtype=np.float32)
