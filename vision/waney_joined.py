"""Picture, outline and error of a waney board from several photographs that were weighed together."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString

from vision.errors import VisionError
from vision.frame import Frame
from vision.join import Join
from vision.lens import LensPrior
from vision.straight_on import straight_on
from vision.waney_faces import OtherFace, laid_over
from vision.waney_photos import PhotosWeighed, WaneyPart, weighed_photos
from vision.waney_scale import laid_across
from vision.waney_ties import edge_at, moved

__all__ = ["WaneyJoined", "waney_joined"]

Floats = NDArray[np.float64]

_SURE = 1.96  # standard deviations that hold 95 % of a normal error
_STATION_MM = 10.0
_CLOSE_MM = 0.7
_FADE_MM = 80.0
_FAR_FROM_TAPED_MM = 4.0  # half of what a waney board may seem wider or narrower than taped
_STRANGE_MM = 6.0  # two photographs' edges of one place


@dataclass(frozen=True, eq=False)
class WaneyJoined:
    """A waney board from several photographs.

    Parameters
    ----------
    picture : ndarray of uint8, [height, width, 3]
    px_per_mm : float
    width_mm : float
        What the picture covers across.
    frames : tuple of Frame
        From each photograph to the picture's millimetres.
    outline_mm : tuple of (float, float)
    error_along : tuple of (x, along, across)
        95 % of places at a station are off by less [mm].
    error_mm : float
        The worst of them.
    joins : tuple of Join
    lens : LensPrior
    apart_mm : float
        As of `vision.rectify.TrueScale`.
    notes : tuple of str
    """

    picture: NDArray[np.uint8]
    px_per_mm: float
    width_mm: float
    frames: tuple[Frame, ...]
    outline_mm: tuple[tuple[float, float], ...]
    error_along: tuple[tuple[float, float, float], ...]
    error_mm: float
    joins: tuple[Join, ...]
    lens: LensPrior
    apart_mm: float = 0.0
    notes: tuple[str, ...] = ()


def waney_joined(
    parts: Sequence[WaneyPart],
    length_mm: float,
    widths_mm: Sequence[tuple[float, float]],
    *,
    shown_mm: float,
    px_per_mm: float,
    lens: LensPrior | None = None,
    lies_mm: tuple[float, float] | None = None,
    other: OtherFace | None = None,
    thickness_mm: float | None = None,
) -> WaneyJoined:
    """A waney board at true scale from overlapping photographs.

    Parameters
    ----------
    parts, length_mm, widths_mm, lens
        As `vision.waney_photos.weighed_photos` takes them.
    shown_mm, lies_mm, other, thickness_mm
        As `vision.rectify.true_scale` takes them.
    px_per_mm : float

    Raises
    ------
    VisionError
        As `weighed_photos`.
    """
    weighed = weighed_photos(parts, length_mm, widths_mm, lens=lens)
    ring, apart = _ring(weighed, length_mm)
    width_mm = max(width for _, width in widths_mm)
    laid = laid_across(ring, length_mm, width_mm, shown_mm, lies_mm)
    seen = [weighed.frames[one.photo].to_mm(one.at_px) for one in other.same] if other else ()
    laid = laid_over(ring, laid, other, shown_mm, thickness_mm, seen)
    turn, wide = laid.turn, laid.width_mm
    frames = tuple(Frame(turn @ frame.to_board, frame.lens) for frame in weighed.frames)
    ring = ring @ turn[:2, :2].T + turn[:2, 2]
    along = _error_along(weighed, length_mm, laid.aside_mm)
    otherwise = _seen_otherwise(laid.seen_mm, width_mm, max(b for _, _, b in along) - laid.aside_mm)
    ring = np.clip(ring, 0.0, [length_mm, wide])
    return WaneyJoined(
        picture=_composed(parts, frames, weighed.extents, (length_mm, wide), px_per_mm),
        px_per_mm=px_per_mm,
        width_mm=wide,
        frames=frames,
        outline_mm=tuple((float(x), float(y)) for x, y in ring),
        error_along=along,
        error_mm=max(hypot(a, b) for _, a, b in along),
        joins=weighed.joins,
        lens=weighed.bundle.lens,
        apart_mm=laid.apart_mm,
        notes=(*_notes(weighed, apart), *otherwise, *laid.notes),
    )


def _ring(weighed: PhotosWeighed, length_mm: float) -> tuple[Floats, float]:
    """The outline by all photographs, each fading out where it is cut off, and how far two disagree [mm]."""
    x = np.append(np.arange(0.0, length_mm, _STATION_MM), length_mm)
    edges, apart = [], 0.0
    for side in (0, 1):
        total, weight = np.zeros(x.size), np.zeros(x.size)
        low, high = np.full(x.size, np.inf), np.full(x.size, -np.inf)
        for number, (span, both) in enumerate(zip(weighed.extents, weighed.edges, strict=True)):
            near, far = number == 0, number == len(weighed.extents) - 1
            inside = np.minimum(x - span[0] + near * length_mm, span[1] - x + far * length_mm)
            part = np.clip(inside, 0.0, _FADE_MM)
            y = edge_at(both[side], x)
            total, weight = total + part * y, weight + part
            there = inside > 0.0
            low, high = np.where(there, np.minimum(low, y), low), np.where(there, np.maximum(high, y), high)
        known = weight > 0
        y = np.interp(x, x[known], total[known] / weight[known])
        apart = max(apart, float(np.percentile((high - low)[known], 95)))
        edges.append(np.array(LineString(np.column_stack([x, y])).simplify(_CLOSE_MM).coords))
    return np.concatenate([edges[0], edges[1][::-1]]), apart


def _error_along(
    weighed: PhotosWeighed, length_mm: float, more: float
) -> tuple[tuple[float, float, float], ...]:
    """At 21 stations the worst of the photographs that show each."""
    answer = []
    for x in np.linspace(0.0, length_mm, 21):
        off = []
        for number, (span, both) in enumerate(zip(weighed.extents, weighed.edges, strict=True)):
            if span[0] - 2.0 <= x <= span[1] + 2.0:
                top, bottom = (float(edge_at(edge, x)) for edge in both)
                places = np.array([[x, y] for y in (top, (top + bottom) / 2, bottom)])
                off.append(_SURE * weighed.bundle.error_at(number, places).max(axis=0))
        if not off:
            raise VisionError(
                f"no photo shows the board {x:.0f} mm from its left end; photograph it with overlaps"
            )
        along, across = np.max(off, axis=0)
        answer.append((float(x), float(along), float(across) + more))
    return tuple(answer)


def _seen_otherwise(seen_mm: float, width_mm: float, error_mm: float) -> list[str]:
    """A sentence where the board seems wider or narrower than read, by more than the error across."""
    if abs(width_mm - seen_mm) / 2 <= max(_FAR_FROM_TAPED_MM, error_mm):
        return []
    return [
        f"the board is seen {seen_mm:.0f} mm wide and the widest reading is {width_mm:g} mm; read the "
        "width where it is widest, and at both ends"
    ]


def _notes(weighed: PhotosWeighed, apart: float) -> list[str]:
    notes = [
        f"pieces {i} and {i + 1} do not fit together surely; draw a pencil line across the board where they "
        "overlap, read it with the tape, and photograph both again"
        for i, join in enumerate(weighed.joins, start=1)
        if join.weak
    ]
    if weighed.odd:
        notes.append(weighed.odd)
    if apart > _STRANGE_MM:
        notes.append(
            f"two photos show an edge of the board {apart:.0f} mm apart where they overlap; look whether the "
            "outline follows the wood there"
        )
    return notes


def _composed(
    parts: Sequence[WaneyPart],
    frames: Sequence[Frame],
    spans: Sequence[tuple[float, float]],
    size_mm: tuple[float, float],
    px_per_mm: float,
) -> NDArray[np.uint8]:
    """The photographs laid over one another, each in the light of the one before, fading in the overlaps."""
    length, height = size_mm
    rows, columns = round(height * px_per_mm), round(length * px_per_mm)
    x = (np.arange(columns) + 0.5) * length / columns
    total = np.zeros((rows, columns, 3), dtype=np.float32)
    weight = np.zeros(columns, dtype=np.float32)
    for number, (part, frame, span) in enumerate(zip(parts, frames, spans, strict=True)):
        near, far = number == 0, number == len(parts) - 1
        inside = np.minimum(x - span[0] + near * length, span[1] - x + far * length)
        on = np.flatnonzero(inside > -1.0)
        if not on.size:
            continue
        start, stop = on[0] * length / columns, (on[-1] + 1) * length / columns
        seen = straight_on(part.photo.rgb, moved(frame, float(start), 0.0), stop - start, height, px_per_mm)
        piece = np.asarray(
            cv2.resize(seen, (int(on.size), rows)) if seen.shape[:2] != (rows, on.size) else seen,
            dtype=np.float32,
        )
        shared = on[weight[on] > 0]
        if shared.size > 20:
            before = total[:, shared] / weight[shared][None, :, None]
            now = piece[:, shared - on[0]]
            lit = np.median(before, axis=(0, 1)) / np.maximum(np.median(now, axis=(0, 1)), 1.0)
            piece *= np.clip(lit, 0.6, 1.7)
        fade = np.clip(inside[on], 0.05, _FADE_MM).astype(np.float32)
        total[:, on] += piece * fade[None, :, None]
        weight[on] += fade
    return np.clip(total / np.maximum(weight, 1e-6)[None, :, None], 0, 255).astype(np.uint8)
