"""End splits: lines along the grain that run out of an end of the board, where wood dries first."""

import numpy as np

from layout.stock import DefectKind
from vision.suggest.found import Found, outline_of
from vision.suggest.lines import lines_over
from vision.suggest.surface import Surface

__all__ = ["splits"]

_AT_END_MM = 8.0
_SEED, _RIM = 3.6, 2.3  # weaker than amid the board: an end is where splits are
_SHORTEST_MM = 12.0


def splits(surface: Surface) -> list[Found]:
    """Candidates for end splits; none on a stretch that holds no end."""
    lines = surface.lines
    scale = lines.px_per_mm
    near, far = _ends(surface)
    found: list[Found] = []
    for line in lines_over(lines, _RIM, _SHORTEST_MM):
        start, stop = line.left / scale, (line.left + line.patch.shape[1]) / scale
        at_near = near is not None and start - near < _AT_END_MM
        at_far = far is not None and far - stop < _AT_END_MM
        if not (at_near or at_far) or float((line.along > _SEED).sum()) < 0.6 * _SHORTEST_MM * scale:
            continue
        length = stop - start
        evidence = (
            0.8 * (float(np.percentile(line.along, 60)) - 5.0)
            + 1.2 * np.log2(length / 30.0)
            + 0.3 * (line.depth - 7.0)
        )
        chances = surface.chances
        if chances is not None:
            evidence += 4.0 * (_mean_chance(chances["crack"], line.patch, line.left, line.top, scale) - 0.3)
        ring = outline_of(line.patch.astype(np.uint8), scale, line.left, line.top)
        if ring is not None:
            found.append(Found(DefectKind.SPLIT, ring, float(1 / (1 + np.exp(-evidence)))))
    return found


def _ends(surface: Surface) -> tuple[float | None, float | None]:
    """Where the board's ends lie on this stretch [mm from its first column], None if not on it."""
    columns = np.flatnonzero(surface.wood.mean(axis=0) > 0.5)
    if len(columns) == 0:
        return None, None
    holds_near = surface.core_mm[0] <= 0.0
    holds_far = surface.core_mm[1] >= surface.length_mm - 0.5
    return float(columns[0]) if holds_near else None, float(columns[-1] + 1) if holds_far else None


def _mean_chance(chance: np.ndarray, patch: np.ndarray, left: int, top: int, scale: float) -> float:
    rows, columns = np.nonzero(patch)
    y = np.minimum(((rows + top) / scale).astype(int), chance.shape[0] - 1)
    x = np.minimum(((columns + left) / scale).astype(int), chance.shape[1] - 1)
    return float(np.percentile(chance[y, x], 60))
