"""True-scale pictures of a board's faces and edges, as seen square on, with what is where.

Pixel (0, 0) is the corner of the board as it is seen: the back is mirrored as
`layout.stock` says. Waney edges are seen from above, with their depth.
"""

from dataclasses import dataclass
from enum import IntEnum

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind, Face, Turn
from samples.wood.faults import Branch, Fault, Points
from samples.wood.finish import sawn
from samples.wood.knots import around
from samples.wood.noise import Floats
from samples.wood.paint import bark_colour, paint_fault
from samples.wood.sawn import SawnBoard
from samples.wood.surface import Cut, wood_colour

__all__ = ["Shown", "WoodClass", "edge_picture", "face_picture"]

_STRIP = 512  # columns rendered at once, to keep the arrays small


class WoodClass(IntEnum):
    """What a pixel shows; values are those of the masks."""

    CLEAR = 0
    SOUND_KNOT = 1
    DEAD_KNOT = 2
    PIN_KNOT = 3
    CHECK = 4
    SPLIT = 5
    SHAKE = 6
    PITH = 7
    SAPWOOD = 8
    BARK_POCKET = 9
    RESIN_POCKET = 10
    STAIN = 11
    WANE = 12
    NO_WOOD = 13


_THIN = (WoodClass.CHECK, WoodClass.SPLIT, WoodClass.SHAKE)


@dataclass(frozen=True)
class Shown:
    """A face as seen square on.

    Parameters
    ----------
    rgb : uint8 array [h, w, 3]
    classes : uint8 array [h, w]
        Values of `WoodClass`.
    below : float32 array [h, w]
        How far the surface lies below the face [mm]: 0 but on wane.
    px_per_mm : float
    """

    rgb: NDArray[np.uint8]
    classes: NDArray[np.uint8]
    below: Floats
    px_per_mm: float


def class_of(kind: DefectKind) -> WoodClass:
    """The mask value of a kind of defect."""
    return WoodClass[kind.name]


def face_picture(
    board: SawnBoard,
    face: Face = Face.FRONT,
    px_per_mm: float = 1.0,
    fine: int = 3,
    span: tuple[float, float, float, float] | None = None,
) -> Shown:
    """A face of the board in seen coordinates.

    Parameters
    ----------
    board : SawnBoard
    face : Face
    px_per_mm : float
    fine : int
        Samples across the grain for each pixel.
    span : tuple of float or None
        (x0, y0, x1, y1) in seen coordinates to show only a part [mm].
    """
    x0, y0, x1, y1 = span or (0.0, 0.0, board.length, board.width)
    wide, high = round((x1 - x0) * px_per_mm), round((y1 - y0) * px_per_mm)
    seen_x = np.asarray(x0 + (np.arange(wide) + 0.5) / px_per_mm, np.float32)
    seen_y = np.asarray(y0 + (np.arange(high * fine) + 0.5) / px_per_mm / fine, np.float32)
    x, y = in_board(board, face, seen_x, seen_y)
    rgb = np.empty((high, wide, 3), np.uint8)
    classes = np.empty((high, wide), np.uint8)
    below = np.zeros((high, wide), np.float32)
    for left in range(0, wide, _STRIP):
        here = slice(left, min(left + _STRIP, wide))
        colour, found, deep = _strip(board, face, x[None, here], y[:, None], 1.0 / px_per_mm / fine)
        colour = np.asarray(colour.reshape(high, fine, -1, 3).mean(axis=1), np.float32)
        if not board.planed:
            rows = seen_y.reshape(high, fine).mean(axis=1)[:, None]
            sawn(colour, seen_x[None, here], rows, np.random.default_rng((board.log.seed, face is Face.BACK)))
        rgb[:, here] = _to_bytes(colour)
        classes[:, here] = _thinned(found.reshape(high, fine, -1))
        below[:, here] = deep.reshape(high, fine, -1).mean(axis=1)
    return Shown(rgb, classes, below, px_per_mm)


def edge_picture(board: SawnBoard, side: str, px_per_mm: float = 1.0) -> NDArray[np.uint8]:
    """An edge or end of the board: "near edge" (y = 0), "far edge", "near end" (x = 0) or "far end".

    Rows run from the front face to the back, columns along x (edges) or y (ends).
    """
    fine = 3
    high = round(board.thickness * px_per_mm)
    deep = np.asarray((np.arange(high * fine) + 0.5) / px_per_mm / fine, np.float32)[:, None]
    along_edge = side.endswith("edge")
    run = board.length if along_edge else board.width
    t = np.asarray((np.arange(round(run * px_per_mm)) + 0.5) / px_per_mm, np.float32)[None, :]
    if along_edge:
        y = np.full_like(t, 0.0 if side.startswith("near") else board.width)
        points, cut = board.points(t, y, deep), Cut(board.down, board.across)
    else:
        x = np.full_like(t, 0.0 if side.startswith("near") else board.length)
        points, cut = board.points(x, t, deep), Cut(board.across, board.down)
    colour = wood_colour(points, cut)
    if not along_edge:  # end grain drinks light, and its pores are dots
        colour *= np.float32(0.72)
    for fault in board.faults:
        paint_fault(colour, points, cut.across_of(points), fault, 1 / px_per_mm)
    return _to_bytes(colour.reshape(high, fine, -1, 3).mean(axis=1))


def in_board(board: SawnBoard, face: Face, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Seen coordinates of a face as board coordinates, and the other way round [mm]."""
    if face is Face.FRONT:
        return x, y
    if board.turned is Turn.ROLLED:
        return x, np.asarray(np.float32(board.width) - y, np.float32)
    return np.asarray(np.float32(board.length) - x, np.float32), y


def _strip(
    board: SawnBoard, face: Face, x: Floats, y: Floats, step_mm: float
) -> tuple[Floats, NDArray[np.uint8], Floats]:
    points = board.points(x, y, board.depth_of(face))
    cut = Cut(board.across, board.down)
    colour = wood_colour(points, cut)
    classes = np.zeros(points.x.shape, np.uint8)
    across = cut.across_of(points)
    for fault in sorted(board.faults, key=lambda f: f.kind not in (DefectKind.SAPWOOD, DefectKind.STAIN)):
        low, high = fault.reach()
        columns = np.flatnonzero((points.x.max(axis=0) >= low) & (points.x.min(axis=0) <= high))
        if len(columns) == 0:
            continue
        window = (slice(None), slice(int(columns[0]), int(columns[-1]) + 1))
        part = points.part(window)
        inside = paint_fault(colour[window], part, across[window], fault, step_mm)
        _mark(classes[window], fault, part, inside)
    below = _wane(board, face, points, colour, classes, x, y) if board.waney else np.zeros_like(points.x)
    return colour, classes, below


def _mark(classes: NDArray[np.uint8], fault: Fault, points: Points, inside: Floats) -> None:
    classes[inside > 0] = class_of(fault.kind)
    if isinstance(fault, Branch) and not fault.knot.pin:
        seen = around(fault.knot, points.x, points.u, points.v)
        classes[(inside > 0) & (seen.along > fault.knot.alive)] = WoodClass.DEAD_KNOT


def _wane(
    board: SawnBoard,
    face: Face,
    points: Points,
    colour: Floats,
    classes: NDArray[np.uint8],
    x: Floats,
    y: Floats,
) -> Floats:
    """Paints bark where it is seen from above; the depth of the surface comes back [mm]."""
    edge = board.log.bark_edge(points.grown)
    if not (edge < 0).any():
        return np.zeros_like(edge)
    deep, solid = _first_wood(board, face, x, y)
    bark = edge < 0
    share = np.clip(-edge / np.float32(0.6), 0, 1)[..., None]
    slope = np.clip(deep / np.float32(board.thickness), 0, 1)[..., None]
    colour += (bark_colour(points) * (1 - np.float32(0.45) * slope) - colour) * share
    classes[bark] = WoodClass.WANE
    classes[solid <= 0] = WoodClass.NO_WOOD
    return np.asarray(np.where(bark, deep, 0), np.float32)


def _first_wood(board: SawnBoard, face: Face, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """How far below the face the first wood lies, and the most inside that any depth gets [mm]."""
    coarse_x, coarse_y = x[:, :: max(x.shape[1] // 80, 1)], y[:: max(y.shape[0] // 120, 1)]
    if coarse_x[0, -1] != x[0, -1]:
        coarse_x = np.linspace(x[0, 0], x[0, -1], 81, dtype=np.float32)[None, :]
    coarse_y = np.linspace(y[0, 0], y[-1, 0], 121, dtype=np.float32)[:, None]
    levels = np.linspace(0, board.thickness, 9, dtype=np.float32)
    depths = levels if face is Face.FRONT else levels[::-1]
    edges = [board.log.bark_edge(board.points(coarse_x, coarse_y, float(z)).grown) for z in depths]
    deep = np.full(edges[0].shape, board.thickness, np.float32)
    for upper, lower, z in reversed(list(zip(edges, edges[1:], levels, strict=False))):
        gap = np.where(lower - upper > 1e-3, lower - upper, 1e-3)
        crossing = z + (levels[1] - levels[0]) * np.clip(-upper / gap, 0, 1)
        deep = np.where(lower > 0, np.where(upper > 0, z, crossing), deep)
    size = (x.shape[1], y.shape[0])
    most = np.max(np.stack(edges), axis=0)
    return (
        np.asarray(cv2.resize(deep.astype(np.float32), size, interpolation=cv2.INTER_LINEAR), np.float32),
        np.asarray(cv2.resize(most.astype(np.float32), size, interpolation=cv2.INTER_LINEAR), np.float32),
    )


def _thinned(found: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Classes of pixels from those of their samples: thin faults win, else the middle sample."""
    middle = found[:, found.shape[1] // 2].copy()
    for kind in _THIN:
        middle[(found == kind).any(axis=1)] = kind
    return middle


def _to_bytes(colour: Floats) -> NDArray[np.uint8]:
    return np.asarray(np.clip(colour + 0.5, 0, 255), np.uint8)
