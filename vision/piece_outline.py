"""The outline of a piece of a long board: a board that runs on beyond the picture at one end or both."""

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.edges import FittedEdge
from vision.hypotheses import rough_quads
from vision.outline import FoundOutline, MissedOutline, snapped
from vision.waney_piece import on_the_wood, stands_out

__all__ = ["find_piece_outline"]

_INSET = 0.015  # of the picture's longer side: so far from its rim an open end is cut off
_FRAME = 0.08  # of the picture's longer side
_WIDTH_MM = 250.0  # of a waney board nobody has said the width of
_LEAST = 0.05  # likelihood below which nothing has been found


def find_piece_outline(
    rgb: NDArray[np.uint8],
    open_ends: tuple[bool, bool],
    *,
    straight: bool = True,
    width_mm: float = _WIDTH_MM,
) -> FoundOutline | MissedOutline:
    """Where a piece of a board is cut off in one of several photographs of it.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
    open_ends : tuple of bool
        Whether the board runs on beyond its near end, and beyond its far end.
    straight : bool
        Whether its long edges are straight; those of a waney board are followed.
    width_mm : float
        About how wide a waney board is.

    Returns
    -------
    FoundOutline or MissedOutline
        At an open end the corners lie on the long edges near the picture's rim.
    """
    best: tuple[float, FoundOutline] | None = None
    reach = max(8.0, 0.01 * max(rgb.shape[:2]))
    run = [_run_out(quad, rgb.shape[:2], open_ends) for quad in _quads(rgb)]
    places = [corners for corners in run if corners is not None]
    if not straight and places:
        likely = max(places, key=lambda corners: stands_out(rgb, corners))
        rough = snapped(rgb, likely, reach_px=reach, open_ends=open_ends, straight=False)
        return on_the_wood(rgb, rough, open_ends, width_mm)
    for corners in places:
        found = snapped(rgb, corners, reach_px=reach, open_ends=open_ends)
        seen = [edge for side, edge in enumerate(found.edges) if not _blind(side, open_ends)]
        sure, contrast = _sure(seen)
        if sure > 0 and (best is None or sure * contrast / (contrast + 6.0) > best[0]):
            best = (
                sure * contrast / (contrast + 6.0),
                FoundOutline(found.corners_px, found.edges, confidence=sure),
            )
    if best is None or best[1].confidence < _LEAST:
        return MissedOutline("no board that runs on beyond the picture is seen here; set its corners by hand")
    return best[1]


def _quads(rgb: NDArray[np.uint8]) -> list[NDArray[np.float64]]:
    """Rough places of the board, looked for in the picture framed by its own ground.

    A board on the rim would pass for ground; in a frame of the ground's colour it
    is a whole board that ends where the picture does.
    """
    rim = np.concatenate([rgb[0], rgb[-1], rgb[:, 0], rgb[:, -1]])
    colour = [float(value) for value in np.median(rim, axis=0)]
    room = round(_FRAME * max(rgb.shape[:2]))
    framed = cv2.copyMakeBorder(rgb, room, room, room, room, cv2.BORDER_CONSTANT, value=colour)
    return [np.asarray(quad) - room for quad in rough_quads(np.asarray(framed, dtype=np.uint8))]


def _blind(side: int, open_ends: tuple[bool, bool]) -> bool:
    return (side == 1 and open_ends[1]) or (side == 3 and open_ends[0])


def _sure(edges: list[FittedEdge | None]) -> tuple[float, float]:
    """How sure the weakest side is, 0 to 1, and its contrast; 0 when one is not seen."""
    worst, contrast = 1.0, np.inf
    for edge in edges:
        if edge is None:
            return 0.0, 0.0
        steady = 1.0 / (1.0 + (edge.residual_px / 1.5) ** 2)
        worst = min(worst, min(1.0, edge.contrast / 2.5) * steady * min(1.0, edge.support / 0.7))
        contrast = min(contrast, float(edge.contrast))
    return float(worst), float(contrast)


def _run_out(
    quad: NDArray[np.float64], shape: tuple[int, ...], open_ends: tuple[bool, bool]
) -> NDArray[np.float64] | None:
    """A rough outline whose long sides run on to the rim at the open ends; None where it can't be one."""
    corners = quad.copy()
    inset = _INSET * max(shape)
    for near, far in ((0, 1), (3, 2)):
        way = quad[far] - quad[near]
        if np.hypot(*way) < 1.0:
            return None
        axis = int(abs(way[1]) > abs(way[0]))
        low, high = inset, shape[1 - axis] - 1 - inset
        rim = (low, high) if way[axis] > 0 else (high, low)
        for corner, end, is_open in ((near, rim[0], open_ends[0]), (far, rim[1], open_ends[1])):
            if is_open:
                corners[corner] = quad[near] + way * (end - quad[near][axis]) / way[axis]
    return corners
