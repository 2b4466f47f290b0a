"""Where the board is in a photograph: its four corners in order, its edges, and how sure that is.

A failure is a value: `MissedOutline` is falsy and says what to do. Nothing found
here is more than an offer; the maker may drag every corner, and a corner he has
dragged is snapped to the edges by `snapped`.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from vision.edges import FittedEdge, fit_edge
from vision.hypotheses import rough_quads

__all__ = ["FoundOutline", "MissedOutline", "find_outline", "snapped"]


@dataclass(frozen=True, eq=False)
class FoundOutline:
    """The board as found.

    Parameters
    ----------
    corners_px : ndarray, [4, 2]
        Corners (x, y): top left, top right, bottom right, bottom left as the board
        is read, its datum end left and its datum edge on top. A board that stands
        upright in the picture is read from its upper end.
    edges : tuple of FittedEdge or None
        Datum edge, far end, far edge, datum end; None where no edge was seen.
    confidence : float
        0 to 1; below 0.5 ask the maker to look before going on.
    """

    corners_px: NDArray[np.float64]
    edges: tuple[FittedEdge | None, ...]
    confidence: float

    def __bool__(self) -> bool:
        return True


@dataclass(frozen=True)
class MissedOutline:
    """No board found; falsy.

    Parameters
    ----------
    reason : str
        One sentence fit to show.
    """

    reason: str

    def __bool__(self) -> bool:
        return False


def find_outline(rgb: NDArray[np.uint8]) -> FoundOutline | MissedOutline:
    """The board's outline in a photograph, unaided.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]

    Returns
    -------
    FoundOutline or MissedOutline
    """
    found = []
    for quad in rough_quads(rgb):
        outline = snapped(rgb, quad, reach_px=max(8.0, 0.01 * max(rgb.shape[:2])))
        likely = outline.confidence * _shape(outline.corners_px, rgb)
        if likely > 0:
            worst = min(edge.contrast for edge in outline.edges if edge is not None)
            found.append((likely * worst / (worst + 6.0), replace(outline, confidence=likely)))
    if not found:
        return MissedOutline("no board stands out from the ground here; drag its four corners into place")
    found.sort(key=lambda pair: -pair[0])
    return found[0][1]


def _shape(corners_px: NDArray[np.float64], rgb: NDArray[np.uint8]) -> float:
    """1 for what may be a whole board, less for what is stout, on the picture's rim, or paper."""
    sides = np.hypot(*(np.roll(corners_px, -1, axis=0) - corners_px).T)
    slim = min(sides[0], sides[2]) / max(1.0, max(sides[1], sides[3]))
    answer = min(1.0, float(slim) / 2.2) ** 2
    rim = max(4.0, 0.004 * max(rgb.shape[:2]))
    size = np.array([rgb.shape[1], rgb.shape[0]])
    if np.any((corners_px < rim) | (corners_px > size - 1 - rim)):
        answer *= 0.4  # it may run on beyond the picture
    return answer * (0.1 if slim < 2.2 and _plain_white(corners_px, rgb) else 1.0)


def _plain_white(corners_px: NDArray[np.float64], rgb: NDArray[np.uint8]) -> bool:
    """Whether what lies inside is bright and without colour or grain, as paper is."""
    target = np.array([[0, 0], [63, 0], [63, 31], [0, 31]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(corners_px.astype(np.float32), target)
    inside = np.asarray(cv2.warpPerspective(rgb, matrix, (64, 32), flags=cv2.INTER_AREA))[3:-3, 3:-3]
    lab = cv2.cvtColor(inside.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    light = np.asarray(lab)[..., 0]
    return bool(np.median(light) > 75 and light.std() < 4)


def snapped(
    rgb: NDArray[np.uint8],
    corners_px: ArrayLike,
    *,
    reach_px: float = 12.0,
    open_ends: tuple[bool, bool] = (False, False),
    straight: bool = True,
) -> FoundOutline:
    """The outline with given corners moved onto the edges found near them.

    Parameters
    ----------
    rgb : ndarray of uint8, [height, width, 3]
    corners_px : array-like, [4, 2]
        Rough corners (x, y) in board order.
    reach_px : float
        How far an edge may lie from the line between two corners [px].
    open_ends : tuple of bool
        Whether the board runs on beyond its near, and beyond its far end: nothing
        is looked for there.
    straight : bool
        Whether its long edges are straight; a waney board's are left alone.
    """
    corners = np.asarray(corners_px, dtype=np.float64)
    edges: tuple[FittedEdge | None, ...] = (None,) * 4
    blind = (not straight, open_ends[1], not straight, open_ends[0])
    for reach in (reach_px, max(4.0, reach_px / 3)):
        edges = tuple(None if blind[i] else _side(rgb, corners, i, reach, edges[i]) for i in range(4))
        corners = _corners_of(corners, edges, reach)
    return FoundOutline(corners_px=corners, edges=edges, confidence=_confidence(edges))


def _side(
    rgb: NDArray[np.uint8],
    corners: NDArray[np.float64],
    i: int,
    reach_px: float,
    before: FittedEdge | None,
) -> FittedEdge | None:
    """One side of the board, looked for near the line between its corners."""
    if before is not None and before.side_px > 0:
        return before  # a closer look would be drawn back to the stronger step beside the arris
    return fit_edge(
        rgb,
        corners[i],
        corners[(i + 1) % 4],
        reach_px=_reach_across(corners, i, reach_px),
        inside_px=_reach_across(corners, i, 36.0),
        most_bow_px=min(8.0, reach_px) if i % 2 == 0 else 0.0,
        inset=0.02 if i % 2 == 0 else 0.08,
    )


def _reach_across(corners: NDArray[np.float64], side: int, reach_px: float) -> float:
    """Never so far that the opposite side comes in reach [px]."""
    a, b = corners[side], corners[(side + 1) % 4]
    c, d = corners[(side + 3) % 4], corners[(side + 2) % 4]
    return float(min(reach_px, 0.3 * min(np.hypot(*(a - c)), np.hypot(*(b - d)))))


def _corners_of(
    rough: NDArray[np.float64], edges: tuple[FittedEdge | None, ...], reach_px: float
) -> NDArray[np.float64]:
    """Where neighbouring edges cross; a corner whose edges are not both seen stays where it was."""
    answer = rough.copy()
    for i in range(4):
        before, after = edges[i - 1], edges[i]
        if before is None or after is None:
            continue
        (p, u), (q, v) = before.line, after.line
        turn = u[0] * v[1] - u[1] * v[0]
        if abs(turn) < 0.1:
            continue
        w = q - p
        corner = p + u * ((w[0] * v[1] - w[1] * v[0]) / turn)
        if np.hypot(*(corner - rough[i])) <= 3.0 * reach_px:
            answer[i] = corner
    return answer


def _confidence(edges: tuple[FittedEdge | None, ...]) -> float:
    """How sure the outline is: the weakest of its sides decides."""
    worst = 1.0
    for edge in edges:
        if edge is None:
            return 0.0
        clear = min(1.0, edge.contrast / 2.5)
        steady = 1.0 / (1.0 + (edge.residual_px / 1.5) ** 2)
        worst = min(worst, clear * steady * min(1.0, edge.support / 0.7))
    return float(worst)
