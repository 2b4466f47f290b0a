"""What two overlapping photographs of a waney board see at one place: grain along it and across, edges.

Along the board lane by lane, as pieces of any long board are (`vision.overlap`). Across it the grain's
own lines, which hardly change over some centimetres, are compared as a profile from edge to edge, in
each half of the board by itself: what one half says beyond the other is how the camera leant.
"""

from dataclasses import dataclass
from math import sqrt

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import theilslopes

from vision.frame import Frame
from vision.lens import Lens
from vision.overlap import Match, lanes_of, match_of
from vision.straight_on import straight_on
from vision.waney_bundle import Tie

__all__ = [
    "Extent",
    "edge_at",
    "edges_shared",
    "lies_as_said",
    "moved",
    "square_on",
    "strip_match",
    "ties_across",
    "ties_along",
]

Floats = NDArray[np.float64]

_WORK = 2.0  # px per mm
_PAIR_MM = 0.4  # a pair's spread along the grain when it agrees well
_ASIDE_MM = 0.4  # and across it
_WHOLE = 4.0  # pairs that all those of one overlap together weigh as: they share its light and its relief
_WINDOW_MM = 60.0
_WINDOWS = 5
_LEAST_ROOM_MM = 40.0  # of an overlap that is compared across
_STRETCHES = (0.97, 0.98, 0.99, 1.01, 1.02, 1.03)  # tried where first guesses do not fit together
_EDGE_MM = 1.0  # how well two photographs show an edge at one place; all stations weigh as four
_EDGE_STATIONS = 5
_EDGE_ODD_MM = 8.0  # one that is farther off was followed astray
_APART = 0.08  # of a piece, by which its grain may lie elsewhere at first than lines that were read say
_ALIKE = 0.5  # correlation across that counts


@dataclass(frozen=True)
class Extent:
    """A part of the board: from where to where along it, and across it [mm]."""

    x: tuple[float, float]
    y: tuple[float, float]


def moved(frame: Frame, x: float, y: float, scale: float = 1.0) -> Frame:
    """The same plane counted from (x, y) of the frame on, and in steps of `scale` of its millimetres."""
    shift = np.array([[1.0 / scale, 0.0, -x / scale], [0.0, 1.0 / scale, -y / scale], [0.0, 0.0, 1.0]])
    return Frame(shift @ frame.to_board, frame.lens)


def strip_match(
    left: tuple[NDArray[np.uint8], Frame, Extent], right: tuple[NDArray[np.uint8], Frame, Extent]
) -> Match:
    """Where the right photograph's strip lies on the left one's; places count from either's own start."""
    lanes = []
    for rgb, frame, extent in (left, right):
        length, height = extent.x[1] - extent.x[0], extent.y[1] - extent.y[0]
        strip = straight_on(rgb, moved(frame, extent.x[0], extent.y[0]), length, height, _WORK)
        lanes.append(lanes_of(strip, length))
    plain = match_of(lanes[0], lanes[1])
    if not plain.join.weak:
        return plain
    stretched = [(stretch, match_of(lanes[0], _longer(lanes[1], stretch))) for stretch in _STRETCHES]
    stretch, best = max(stretched, key=lambda tried: tried[1].join.correlation)
    if best.join.weak:
        return plain
    return Match(best.pairs * np.array([1.0, 1.0 / stretch, 1.0]), best.join)


def lies_as_said(match: Match, apart_mm: float, piece_mm: float) -> bool:
    """Whether the grain lays two neighbours about so far apart as the lines read in them do.

    Between first guesses grain is found alike somewhere else now and then, and is sure of itself.
    """
    if not len(match.pairs):
        return True
    off = float(np.median(match.pairs[:, 0] - match.pairs[:, 1])) - apart_mm
    return abs(off) <= _APART * piece_mm


def _longer(lanes: NDArray[np.float32], stretch: float) -> NDArray[np.float32]:
    """The same lanes, so much longer."""
    size = (round(lanes.shape[1] * stretch), lanes.shape[0])
    return np.asarray(cv2.resize(lanes, size, interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def ties_along(
    number: int, match: Match, frames: tuple[Frame, Frame], extents: tuple[Extent, Extent]
) -> list[Tie]:
    """The pairs of a match as places in both photographs; none of a weak one."""
    if match.join.weak:
        return []
    spread = _PAIR_MM * max(1.0, float(np.sqrt(len(match.pairs) / _WHOLE)))
    ties = []
    for a, b, v in match.pairs:
        places = []
        for frame, extent, u in zip(frames, extents, (a, b), strict=True):
            y = sum(extent.y) / 2 + v * (extent.y[1] - extent.y[0])
            places.append(_point(frame.to_px([extent.x[0] + u, y])))
        ties.append(Tie(number, places[0], places[1], 0, spread))
    return ties


def ties_across(
    number: int,
    photos: tuple[NDArray[np.uint8], NDArray[np.uint8]],
    frames: tuple[Frame, Frame],
    overlap: Extent,
    reach_mm: float,
) -> list[Tie]:
    """Places across the board that both photographs see, from windows of their overlap."""
    low, high = overlap.x
    if high - low < _LEAST_ROOM_MM:
        return []
    size = min(_WINDOW_MM, (high - low) / 2)
    found = []
    middle = sum(overlap.y) / 2
    for start in np.linspace(low, high - size, _WINDOWS):
        for top, bottom in ((overlap.y[0], middle), (middle, overlap.y[1])):
            part = Extent((float(start), float(start) + size), (top, bottom))
            off = _aside(photos, frames, part, reach_mm)
            if off is not None:
                found.append((float(start) + size / 2, (top + bottom) / 2, off))
    spread = _ASIDE_MM * max(1.0, float(np.sqrt(len(found) / _WHOLE)))
    return [
        Tie(number, _point(frames[0].to_px([x, y])), _point(frames[1].to_px([x, y + off])), 1, spread)
        for x, y, off in found
    ]


def _aside(
    photos: tuple[NDArray[np.uint8], NDArray[np.uint8]],
    frames: tuple[Frame, Frame],
    part: Extent,
    reach_mm: float,
) -> float | None:
    """How much farther across the right photograph shows what the left one does [mm]; None if unlike."""
    height = part.y[1] - part.y[0]
    if height < 4 * reach_mm:
        return None
    window = _profile(photos[0], frames[0], part)
    field = _profile(photos[1], frames[1], Extent(part.x, (part.y[0] - reach_mm, part.y[1] + reach_mm)))
    score = np.asarray(cv2.matchTemplate(field[None, :], window[None, :], cv2.TM_CCOEFF_NORMED)).ravel()
    peak = int(score.argmax())
    if score[peak] < _ALIKE or peak in (0, score.size - 1):
        return None
    a, b, c = (float(v) for v in score[peak - 1 : peak + 2])
    finer = (a - c) / (2 * (a - 2 * b + c)) if a - 2 * b + c < -1e-9 else 0.0
    return (peak + finer) / _WORK - reach_mm


def _profile(rgb: NDArray[np.uint8], frame: Frame, part: Extent) -> NDArray[np.float32]:
    """Grey value across a part of the board, averaged along it, slow changes of light taken out."""
    length, height = part.x[1] - part.x[0], part.y[1] - part.y[0]
    seen = straight_on(rgb, moved(frame, part.x[0], part.y[0]), length, height, _WORK)
    grey = np.asarray(cv2.cvtColor(seen, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    line = np.log(np.maximum(grey, 4.0)).mean(axis=1)[:, None]
    slow = cv2.GaussianBlur(line, (1, 0), sigmaX=0.01, sigmaY=8.0 * _WORK, borderType=cv2.BORDER_REFLECT)
    return np.ascontiguousarray((line - np.asarray(slow).reshape(line.shape)).ravel(), dtype=np.float32)


def _point(at: Floats) -> tuple[float, float]:
    return float(at[0]), float(at[1])


def edges_shared(
    number: int,
    frames: tuple[Frame, Frame],
    span: tuple[float, float],
    edges: tuple[tuple[Floats, Floats], tuple[Floats, Floats]],
) -> list[Tie]:
    """Both edges of the board where two neighbours show them: as far across in the one as in the other."""
    x = np.linspace(span[0], span[1], _EDGE_STATIONS + 2)[1:-1]
    ties = []
    for left, right in zip(*edges, strict=True):
        a, b = edge_at(left, x), edge_at(right, x)
        # First guesses differ in scale and turn: each edge is held against its own usual course.
        slope, rise, *_ = theilslopes(b - a, x)
        usual = np.abs(b - a - rise - slope * x) < _EDGE_ODD_MM
        for at, one, other in zip(x[usual], a[usual], b[usual], strict=True):
            p, q = frames[0].to_px([at, one]), frames[1].to_px([at, other])
            places = (float(p[0]), float(p[1])), (float(q[0]), float(q[1]))
            ties.append(Tie(number, *places, 1, _EDGE_MM * sqrt(2 * _EDGE_STATIONS / 4)))
    return ties


def square_on(quad: Floats, width_mm: float, lens: Lens) -> tuple[Frame, float]:
    """A piece as seen by a camera held square over it, and its length then [mm].

    A waney board is not as wide at one end as at the other: taken for a rectangle it would
    seem to be seen much aslant.
    """
    straight = lens.straight(quad)
    begin, end = straight[[0, 3]].mean(axis=0), straight[[1, 2]].mean(axis=0)
    wide = float(np.mean([np.hypot(*(straight[3] - straight[0])), np.hypot(*(straight[2] - straight[1]))]))
    per_px = width_mm / wide
    along = (end - begin) / float(np.hypot(*(end - begin)))
    spin = per_px * np.array([along, [-along[1], along[0]]])
    turn = np.eye(3)
    turn[:2, :2], turn[:2, 2] = spin, -spin @ begin
    return Frame(turn, lens), per_px * float(np.hypot(*(end - begin)))


def edge_at(edge: Floats, x: ArrayLike) -> Floats:
    """Where across the board an edge lies at places along it [mm]."""
    order = np.argsort(edge[:, 0], kind="stable")
    return np.asarray(np.interp(np.asarray(x, dtype=np.float64), edge[order, 0], edge[order, 1]))
