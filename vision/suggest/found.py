"""What a suggester returns: a kind, an outline on the picture, and a trust."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, STRtree, box, unary_union
from shapely.affinity import scale
from shapely.geometry.base import BaseGeometry

from layout.outline import Point
from layout.stock import DefectKind

__all__ = ["Found", "clipped", "merged", "outline_of", "polygon_of", "ring_of", "shifted"]

Ring = tuple[Point, ...]


@dataclass(frozen=True)
class Found:
    """One suggestion, still in the frame of the picture.

    Parameters
    ----------
    kind : DefectKind
    ring : tuple of (x, y)
        Closed outline without a repeated last point, as seen in the picture [mm].
    score : float
        Estimated chance that a maker would agree, 0 to 1.
    """

    kind: DefectKind
    ring: Ring
    score: float

    @property
    def centre(self) -> Point:
        """Middle of the bounding box [mm]."""
        xs = [x for x, _ in self.ring]
        ys = [y for _, y in self.ring]
        return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def shifted(found: Found, dx: float) -> Found:
    """The same suggestion moved along the board [mm]."""
    return replace(found, ring=tuple((x + dx, y) for x, y in found.ring))


def clipped(found: Found, length: float, width: float) -> Found | None:
    """The part of a suggestion that lies on the board, None if there is none [mm]."""
    shape = polygon_of(found.ring)
    piece = _largest(shape.intersection(box(0.0, 0.0, length, width))) if shape is not None else None
    return replace(found, ring=ring_of(piece)) if piece is not None else None


def polygon_of(ring: Ring) -> Polygon | None:
    """A valid shapely polygon of the ring, its largest piece if it crosses itself, or None without area."""
    if len(ring) < 3:
        return None
    polygon = Polygon(np.asarray(ring))  # point by point takes five times as long
    return _largest(polygon if polygon.is_valid else polygon.buffer(0))


def ring_of(polygon: Polygon) -> Ring:
    """The outer ring of a polygon, without the repeated last point."""
    return tuple((float(x), float(y)) for x, y in polygon.exterior.coords[:-1])


def outline_of(patch: NDArray[np.uint8], px_per_mm: float, left: int = 0, top: int = 0) -> Ring | None:
    """The outer outline of the largest region set in a patch.

    Parameters
    ----------
    patch : uint8 array [rows, columns]
        Nonzero inside the defect.
    px_per_mm : float
    left, top : int
        Where the patch's corner lies [px].

    Returns
    -------
    tuple of (x, y) or None
        Follows the outer sides of the pixels, simplified to a third of a millimetre [mm].
    """
    # Pixels have area: a doubled patch with a half-pixel shift makes the contour run along their sides.
    doubled = cv2.copyMakeBorder(
        cv2.resize(patch, None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST), 1, 1, 1, 1, cv2.BORDER_CONSTANT
    )
    contours, _ = cv2.findContours(doubled, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not contours:
        return None
    ring = max(contours, key=cv2.contourArea)[:, 0, :].astype(np.float64)
    points = ((ring - 0.5) / 2 + (left, top)) / px_per_mm
    polygon = polygon_of(tuple((float(x), float(y)) for x, y in points))
    if polygon is None:
        return None
    smooth = _largest(polygon.simplify(0.33))
    return ring_of(smooth) if smooth is not None else None


def merged(found: Iterable[Found], gap_mm: float, gap_across_mm: float | None = None) -> list[Found]:
    """Suggestions of one kind that touch or lie closer than a gap, joined into one.

    Parameters
    ----------
    found : iterable of Found
    gap_mm : float
        Distance up to which two pieces count as one defect [mm].
    gap_across_mm : float, optional
        The same across the grain, if less: lines that run side by side are two.

    Returns
    -------
    list of Found
        Each with the best score of its pieces and one outline round them all.
    """
    taller = gap_mm / gap_across_mm if gap_across_mm else 1.0
    result: list[Found] = []
    by_kind: dict[DefectKind, list[Found]] = {}
    for one in found:
        by_kind.setdefault(one.kind, []).append(one)
    for kind, pieces in by_kind.items():
        polygons = [(polygon_of(piece.ring), piece.score) for piece in pieces]
        solid = [
            (scale(polygon, 1.0, taller, origin=(0, 0)), score)
            for polygon, score in polygons
            if polygon is not None
        ]
        joined = unary_union([polygon.buffer(gap_mm / 2, quad_segs=2) for polygon, _ in solid])
        places = STRtree([polygon for polygon, _ in solid])
        for blob in getattr(joined, "geoms", [joined]):
            inside = [solid[index] for index in places.query(blob, predicate="intersects")]
            if not inside:
                continue
            score = max(score for _, score in inside)
            whole = blob.buffer(-gap_mm / 2, quad_segs=2) if len(inside) > 1 else inside[0][0]
            largest = _largest(scale(whole, 1.0, 1 / taller, origin=(0, 0)))
            if largest is not None:
                result.append(Found(kind, ring_of(largest), score))
    return result


def _largest(shape: BaseGeometry) -> Polygon | None:
    """The largest polygon of a shape, or None if there is no area."""
    pieces = [piece for piece in getattr(shape, "geoms", [shape]) if isinstance(piece, Polygon)]
    largest = max(pieces, key=lambda piece: float(piece.area), default=None)
    return largest if largest is not None and largest.area > 0.0 else None
