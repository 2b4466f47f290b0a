"""End splits: lines along the grain that run out of an end of the board, where wood dries first."""

import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind
from vision.suggest.found import Found, outline_of
from vision.suggest.lines import Line, lines_over
from vision.suggest.regions import chance_from
from vision.suggest.surface import Surface

__all__ = ["splits"]

_AT_END_MM = 6.0
_SEED, _RIM = 4.2, 2.4  # weaker than amid the board: an end is where splits are
_SHORTEST_MM = 12.0
_RESERVE = 1.2  # log odds held back: rings run out of an end as well
_SAID, _UNSAID = 0.35, -1.5  # the net's chance that neither helps nor harms, and what it is worth unasked


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
        if not (at_near or at_far) or float((line.along > _SEED).sum()) < 0.7 * _SHORTEST_MM * scale:
            continue
        evidence = (
            0.8 * (float(np.percentile(line.along, 60)) - 5.5)
            + 1.2 * float(np.log2((stop - start) / 35.0))
            + 0.35 * (line.depth - 9.0)
        )
        evidence += _UNSAID if surface.chances is None else _witness(line, surface.chances["crack"], scale)
        ring = outline_of(line.patch.astype(np.uint8), scale, line.left, line.top)
        if ring is not None:
            found.append(Found(DefectKind.SPLIT, ring, chance_from(0.8 * (evidence - _RESERVE))))
    return found


def _ends(surface: Surface) -> tuple[float | None, float | None]:
    """Where the board's ends lie on this stretch [mm from its first column], None if not on it."""
    columns = np.flatnonzero(surface.wood.mean(axis=0) > 0.5)
    if len(columns) == 0:
        return None, None
    holds_near = surface.core_mm[0] <= 0.0
    holds_far = surface.core_mm[1] >= surface.length_mm - 0.5
    return float(columns[0]) if holds_near else None, float(columns[-1] + 1) if holds_far else None


def _witness(line: Line, said: NDArray[np.float32], scale: float) -> float:
    """What the net's word is worth along a line, as log odds."""
    rows, columns = np.nonzero(line.patch)
    y = np.minimum(((rows + line.top) / scale).astype(int), said.shape[0] - 1)
    x = np.minimum(((columns + line.left) / scale).astype(int), said.shape[1] - 1)
    return 9.0 * (float(np.percentile(said[y, x], 70)) - _SAID)
