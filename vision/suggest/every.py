"""All suggesters asked, stretch by stretch, and their answers made marks in the board's own frame."""

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, STRtree

from layout.outline import Outline, Point, normal_outline
from layout.stock import DefectKind, Face, Turn, Where
from vision.errors import VisionError
from vision.marks import Mark, MarkState, Origin
from vision.suggest.cracks import cracks
from vision.suggest.found import Found, clipped, merged, polygon_of, shifted
from vision.suggest.growth import KNOTS, DisturbedGrain, grown
from vision.suggest.knots import knots
from vision.suggest.pith import pith
from vision.suggest.pockets import pockets
from vision.suggest.sapwood import profiles_of, sapwood
from vision.suggest.splits import splits
from vision.suggest.stain import stain
from vision.suggest.surface import Surface, surfaces_along
from vision.suggest.wane import wane

__all__ = ["DOUBTFUL_PER_METRE", "suggest_marks", "within_doubt"]

DOUBTFUL_PER_METRE = 1.0
_SUGGESTERS: tuple[Callable[[Surface], list[Found]], ...] = (
    knots,
    cracks,
    splits,
    pith,
    wane,
    pockets,
    stain,
)
_LEAST_SCORE = 0.03  # below this nobody would look
_LONG = (DefectKind.PITH, DefectKind.WANE, DefectKind.STAIN, DefectKind.SAPWOOD)
_STREAKS = (DefectKind.PITH, DefectKind.STAIN)  # other faults may lie amid them
_GAP_MM = {
    DefectKind.CHECK: 3.0,
    DefectKind.SPLIT: 3.0,
    DefectKind.PITH: 40.0,
    DefectKind.WANE: 20.0,
    DefectKind.STAIN: 5.0,
}
_GAP_ACROSS_MM = {DefectKind.CHECK: 1.5, DefectKind.SPLIT: 1.5}


def suggest_marks(
    picture: NDArray[np.uint8],
    px_per_mm: float,
    face: Face = Face.FRONT,
    turned: Turn = Turn.ROLLED,
    *,
    doubtful_per_metre: float = DOUBTFUL_PER_METRE,
    disturbed: DisturbedGrain | None = None,
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
    doubtful_per_metre : float
        The one control: how many wrong marks a metre of board may be expected
        to carry. More of it brings fainter marks [1/m].
    disturbed : DisturbedGrain, optional
        Let knots' outlines take in the grain they disturb; by default they
        follow the knot itself, since a layout adds that grain by itself
        (`layout.allowances.Allowances.knot_along`).

    Returns
    -------
    tuple of Mark
        Pending, in the board frame [mm], from the datum end on.

    Raises
    ------
    VisionError
        Not an RGB picture, or no scale.
    """
    _check(picture, px_per_mm)
    length, width = picture.shape[1] / px_per_mm, picture.shape[0] / px_per_mm
    found: list[Found] = []
    profiles = []
    for surface in surfaces_along(picture, px_per_mm):
        found.extend(_on_stretch(surface))
        profiles.append(profiles_of(surface))
    found.extend(sapwood(profiles, length))
    single = _without_doubles(_joined(found))
    on_board = [one for one in (clipped(one, length, width) for one in single) if one is not None]
    kept = within_doubt(on_board, length, doubtful_per_metre)
    placed = [(_outline(one, (length, width), face, turned, disturbed), one) for one in kept]
    placed.sort(key=lambda pair: (pair[0][0], pair[1].kind))
    return tuple(
        Mark(
            id=f"{face.value}-{index}",
            kind=one.kind,
            outline=outline,
            where=Where(face.value),
            score=round(one.score, 3),
            origin=Origin.SUGGESTED,
            state=MarkState.PENDING,
        )
        for index, (outline, one) in enumerate(placed, 1)
    )


def within_doubt(found: Iterable[Found], length_mm: float, doubtful_per_metre: float) -> list[Found]:
    """The surest suggestions, as many as leave no more than so many expected to be wrong.

    A score is the chance of being right, so the chances of being wrong add up
    to the number of wrong marks to expect; the faintest mark that is let in is
    at least as likely right as wrong unless the maker asks for more than one
    doubtful mark a metre.
    """
    allowed = doubtful_per_metre * max(length_mm, 500.0) / 1000
    floor = 0.5 / max(doubtful_per_metre, 1.0)
    doubt, kept = 0.0, []
    for one in sorted(found, key=lambda one: -one.score):
        doubt += 1 - one.score
        if doubt > allowed or one.score < floor:
            break
        kept.append(one)
    return kept


def _check(picture: NDArray[np.uint8], px_per_mm: float) -> None:
    if picture.ndim != 3 or picture.shape[2] != 3 or min(picture.shape[:2]) < 2:
        raise VisionError(f"a colour picture is needed to suggest marks; this one has shape {picture.shape}")
    if not (np.isfinite(px_per_mm) and px_per_mm > 0):
        raise VisionError(f"the scale of the picture is {px_per_mm} pixels per mm; give a number above 0")


def _on_stretch(surface: Surface) -> list[Found]:
    """What one stretch shows within the part it answers for; long things are kept whole and joined later."""
    start, stop = surface.core_mm
    kept = []
    for suggester in _SUGGESTERS:
        for one in suggester(surface):
            if one.score < _LEAST_SCORE:
                continue
            moved = shifted(one, surface.start_mm)
            xs = [x for x, _ in moved.ring]
            reaches = min(xs) < stop and max(xs) > start
            if reaches if moved.kind in _LONG else start <= moved.centre[0] < stop:
                kept.append(moved)
    return kept


def _joined(found: list[Found]) -> list[Found]:
    """Pieces of one fault made one; knots are joined across kinds, since only their look differs."""
    joined: list[Found] = []
    knotty = [one for one in found if one.kind in KNOTS]
    shapes = [(polygon_of(one.ring), one.kind) for one in knotty]
    solid = [(shape, kind) for shape, kind in shapes if shape is not None]
    places = STRtree([shape for shape, _ in solid])
    for one in merged([replace(one, kind=DefectKind.SOUND_KNOT) for one in knotty], 1.0):
        shape = polygon_of(one.ring)
        if shape is None:
            continue
        touched = [solid[index] for index in places.query(shape, predicate="intersects")]
        largest = max(((piece.area, kind) for piece, kind in touched), default=(0.0, one.kind))
        joined.append(replace(one, kind=largest[1]))
    for kind in {one.kind for one in found} - set(KNOTS):
        pieces_of_kind = [one for one in found if one.kind is kind]
        joined.extend(merged(pieces_of_kind, _GAP_MM.get(kind, 2.0), _GAP_ACROSS_MM.get(kind)))
    return joined


_RANK = {  # where two suggestions cover the same ground, the more telling name wins
    kind: rank
    for rank, kind in enumerate(
        (
            DefectKind.SPLIT,
            DefectKind.DEAD_KNOT,
            DefectKind.SOUND_KNOT,
            DefectKind.PIN_KNOT,
            DefectKind.CHECK,
            DefectKind.BARK_POCKET,
            DefectKind.RESIN_POCKET,
            DefectKind.PITH,
            DefectKind.STAIN,
        )
    )
}


def _without_doubles(found: list[Found]) -> list[Found]:
    """One name for one place: the surer of two that mostly overlap; sapwood and wane stand apart."""
    ranked = sorted(found, key=lambda one: (-round(one.score, 1), _RANK.get(one.kind, 99)))
    shapes: list[tuple[Found, Polygon, tuple[float, float, float, float]]] = []
    for one in ranked:
        shape = polygon_of(one.ring)
        if shape is None:
            continue
        x0, y0, x1, y1 = shape.bounds
        near = [
            (theirs, other.kind)
            for other, theirs, (a0, b0, a1, b1) in shapes
            if a0 < x1 and x0 < a1 and b0 < y1 and y0 < b1 and _rivals(one.kind, other.kind)
        ]
        if any(_same_place((shape, one.kind), their) for their in near):
            continue
        shapes.append((one, shape, shape.bounds))
    return [one for one, _, _ in shapes]


def _rivals(one: DefectKind, other: DefectKind) -> bool:
    """Whether two kinds may be two names for one thing: a crack in pith or in stain is there beside it."""
    if one not in _RANK or other not in _RANK:
        return False
    fissures = {DefectKind.CHECK, DefectKind.SPLIT}
    return not ({one, other} & set(_STREAKS) and {one, other} & fissures)


def _same_place(one: tuple[Polygon, DefectKind], other: tuple[Polygon, DefectKind]) -> bool:
    """Whether two outlines mostly cover each other.

    Half of the smaller one is enough, but a streak must be covered for half of itself: a knot amid a
    cloud of stain, or a pocket in it, is there beside it.
    """
    streaks = [shape.area for shape, kind in (one, other) if kind in _STREAKS]
    ground = streaks[0] if len(streaks) == 1 else min(one[0].area, other[0].area)
    return bool(one[0].intersection(other[0]).area > 0.5 * ground)


def _outline(
    found: Found, size: Point, face: Face, turned: Turn, disturbed: DisturbedGrain | None
) -> Outline:
    """Where a suggestion lies in the board's frame, whichever face it was seen on."""
    length, width = size
    inside = found.ring
    if face is Face.BACK:
        inside = tuple((x, width - y) if turned is Turn.ROLLED else (length - x, y) for x, y in inside)
    outline = normal_outline(inside, "suggested mark")
    if disturbed is not None and found.kind in KNOTS:
        outline = grown(outline, disturbed, length, width)
    return outline
