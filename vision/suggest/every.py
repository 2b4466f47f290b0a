"""All suggesters asked, stretch by stretch, and their answers made marks in the board's own frame."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout.outline import Point, normal_outline
from layout.stock import Face, Turn, Where
from vision.errors import VisionError
from vision.marks import Mark, MarkState, Origin
from vision.suggest.cracks import cracks
from vision.suggest.found import Found, merged, shifted
from vision.suggest.knots import knots
from vision.suggest.surface import Surface, surfaces_along

__all__ = ["suggest_marks"]

_LEAST_SCORE = 0.5
_SUGGESTERS: tuple[Callable[[Surface], list[Found]], ...] = (knots, cracks)


def suggest_marks(
    picture: NDArray[np.uint8], px_per_mm: float, face: Face = Face.FRONT, turned: Turn = Turn.ROLLED
) -> tuple[Mark, ...]:
    """Marks that one face of a board seems to need, for the maker to confirm or dismiss.

    Parameters
    ----------
    picture : uint8 array [rows, columns, 3]
        True-scale RGB picture of the face as it was seen; covers exactly the
        board's length (columns) and width (rows).
    px_per_mm : float
    face : Face
        Which face the picture shows.
    turned : Turn
        How the board was turned over, if it is the back.

    Returns
    -------
    tuple of Mark
        Pending, in the board frame [mm], from the datum end on.

    Raises
    ------
    VisionError
        Not an RGB picture, or no scale.
    """
    if picture.ndim != 3 or picture.shape[2] != 3 or min(picture.shape[:2]) < 2:
        raise VisionError(f"a colour picture is needed to suggest marks; this one has shape {picture.shape}")
    if not (np.isfinite(px_per_mm) and px_per_mm > 0):
        raise VisionError(f"the scale of the picture is {px_per_mm} pixels per mm; give a number above 0")
    found: list[Found] = []
    for surface in surfaces_along(picture, px_per_mm):
        for suggester in _SUGGESTERS:
            moved = [
                shifted(one, surface.start_mm) for one in suggester(surface) if one.score >= _LEAST_SCORE
            ]
            found.extend(one for one in moved if surface.core_mm[0] <= one.centre[0] < surface.core_mm[1])
    size = picture.shape[1] / px_per_mm, picture.shape[0] / px_per_mm
    marks = [_mark(one, size, face, turned) for one in merged(found, 1.0)]
    marks.sort(key=lambda mark: (mark.outline[0], mark.kind))
    return tuple(replace(mark, id=f"{mark.where.value}-{index}") for index, mark in enumerate(marks, 1))


def _mark(found: Found, size: Point, face: Face, turned: Turn) -> Mark:
    length, width = size
    inside = [(min(max(x, 0.0), length), min(max(y, 0.0), width)) for x, y in found.ring]
    if face is Face.BACK:
        inside = [(x, width - y) if turned is Turn.ROLLED else (length - x, y) for x, y in inside]
    return Mark(
        id="suggested",
        kind=found.kind,
        outline=normal_outline(inside, "suggested mark"),
        where=Where(face.value),
        score=round(found.score, 3),
        origin=Origin.SUGGESTED,
        state=MarkState.PENDING,
    )
