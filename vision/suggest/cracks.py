"""Shakes and checks: thin dark lines along the grain, darker than the pores and rings round them."""

import numpy as np

from layout.stock import DefectKind
from vision.suggest.found import Found, outline_of
from vision.suggest.lines import Line, lines_over
from vision.suggest.surface import Surface

__all__ = ["cracks"]

_SEED, _RIM = 5.0, 2.6  # hysteresis, in usual sizes of such lines nearby
_SHORTEST_MM = 14.0


def cracks(surface: Surface) -> list[Found]:
    """Candidates for shakes and checks on one stretch of board."""
    scale = surface.lines.px_per_mm
    found: list[Found] = []
    for line in lines_over(surface.lines, _RIM, _SHORTEST_MM):
        if float((line.along > _SEED).sum()) < _SHORTEST_MM * scale:
            continue
        ring = outline_of(line.patch.astype(np.uint8), scale, line.left, line.top)
        if ring is not None:
            found.append(Found(DefectKind.CHECK, ring, _trust(line, scale)))
    return found


def _trust(line: Line, scale: float) -> float:
    evidence = (
        0.9 * (float(np.percentile(line.along, 60)) - 6.5)
        + 1.3 * np.log2(line.patch.shape[1] / scale / 40.0)
        + 0.25 * (line.depth - 8.0)
    )
    return float(1 / (1 + np.exp(-evidence)))
