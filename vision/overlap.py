"""Where one piece of a long board lies on the one before it: their grain compared, lane by lane."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Join", "Match", "lanes_of", "match_of"]

_LANES = 10
_WORK = 2.0  # px per mm at which pieces are compared
_LEAST_OVERLAP_MM = 50.0
_WINDOWS = 4
_STRONG = 0.25  # correlation a join should have
_DISTINCT = 1.35  # best correlation over the best one elsewhere
_VERY_STRONG, _HARDLY_DISTINCT = 0.6, 1.05  # even grain is like itself a little farther on
_HALF = 0.22  # middle of the lanes of one half, from the middle of the board, as a part of its width
_APART_MM = 5.0  # as far as the two halves of a board may differ
_MOST_APART = 0.02  # two pieces' scales, before their neighbours told how the camera leant
_STEADY_MM = 2.0  # as far as the windows of one overlap may disagree


@dataclass(frozen=True)
class Join:
    """How two neighbours were joined.

    Parameters
    ----------
    overlap_mm : float
    correlation : float
        Of the grain in the overlap, -1 to 1.
    distinct : float
        That correlation over the best one at any other shift.
    spread_mm : float
        How far the windows of the overlap disagree.
    weak : bool
        Not to be trusted: the maker must look, or chalk a line and photograph again.
    by_chalk : bool
        Held by a chalk mark.
    """

    overlap_mm: float
    correlation: float
    distinct: float
    spread_mm: float
    weak: bool
    by_chalk: bool = False


@dataclass(frozen=True, eq=False)
class Match:
    """Pairs (u in the left piece, u in the right one [mm], place across), and what to think of them."""

    pairs: NDArray[np.float64]
    join: Join


def lanes_of(picture: NDArray[np.uint8], length_mm: float) -> NDArray[np.float32]:
    """Grey value along the grain in lanes across the board, slow changes of light taken out, [lane, x]."""
    grey = np.asarray(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), dtype=np.float32)
    columns = max(8, round(length_mm * _WORK))
    inner = grey[round(0.06 * grey.shape[0]) : max(1, round(0.94 * grey.shape[0]))]
    lanes = np.asarray(cv2.resize(inner, (columns, _LANES), interpolation=cv2.INTER_AREA), dtype=np.float32)
    lanes = np.log(np.maximum(lanes, 4.0))
    slow = cv2.GaussianBlur(lanes, (0, 0), sigmaX=12.0 * _WORK, sigmaY=0.01, borderType=cv2.BORDER_REFLECT)
    fine = cv2.GaussianBlur(lanes - slow, (0, 0), sigmaX=0.5 * _WORK, sigmaY=0.01)
    fine = np.asarray(fine, dtype=np.float32)
    limit = 3.0 * np.std(fine, axis=1, keepdims=True)
    return np.clip(fine, -limit, limit)  # one black knot shall not outweigh all the grain


def match_of(left: NDArray[np.float32], right: NDArray[np.float32]) -> Match:
    """Where the right piece lies on the left one."""
    scores = _scores(left, right)
    best = int(np.argmax(scores))
    apart = np.abs(np.arange(scores.size) - best) > 4.0 * _WORK
    rival = float(scores[apart].max()) if np.any(apart) else 0.0
    shift = best  # column of the left piece over the right one's first
    overlap = left.shape[1] - shift
    correlation = float(scores[best])
    pairs, spread = _fine_pairs(left, right, shift, overlap, correlation >= _VERY_STRONG)
    distinct = correlation / max(rival, 1e-3)
    clear = distinct >= _DISTINCT or (correlation >= _VERY_STRONG and distinct >= _HARDLY_DISTINCT)
    pairs, by_halves = _by_halves(left, right, pairs, correlation >= _VERY_STRONG)
    spread = min(spread, by_halves)
    weak = correlation < _STRONG or not clear or spread > _STEADY_MM or len(pairs) < 2
    return Match(pairs, Join(overlap / _WORK, correlation, distinct, spread, weak))


def _by_halves(
    left: NDArray[np.float32], right: NDArray[np.float32], pairs: NDArray[np.float64], sure: bool
) -> tuple[NDArray[np.float64], float]:
    """The pairs, [n, 3], found anew along both halves of the board where both are clear, and their spread.

    Where the camera leant, the halves are apart and each is steady by itself.
    """
    whole = np.column_stack([pairs, np.zeros(len(pairs))])
    if not len(pairs):
        return whole, float("inf")
    offset = float(np.median(pairs[:, 0] - pairs[:, 1]))
    shift = round(offset * _WORK)
    found, spreads = [], []
    for half, v in ((slice(None, _LANES // 2), -_HALF), (slice(_LANES // 2, None), _HALF)):
        own, spread = _fine_pairs(left[half], right[half], shift, left.shape[1] - shift, sure)
        own = own[np.abs(own[:, 0] - own[:, 1] - offset) < _APART_MM]
        if len(own) < 2:
            return whole, float("inf")
        spreads.append(spread if len(own) > 2 else float("inf"))
        found.append(np.column_stack([own, np.full(len(own), v)]))
    return np.concatenate(found), max(spreads)


def _scores(left: NDArray[np.float32], right: NDArray[np.float32]) -> NDArray[np.float64]:
    """Correlation of the two at each shift; shifts with too little overlap count as -1."""
    width = left.shape[1]
    scores = np.full(width, -1.0)
    least = int(_LEAST_OVERLAP_MM * _WORK)
    for shift in range(max(1, width - right.shape[1]), width - least):
        a, b = left[:, shift:], right[:, : width - shift]
        up = float(np.sum(a * b))
        down = float(np.sqrt(np.sum(a * a) * np.sum(b * b)))
        # A short overlap agrees by chance: its correlation counts less.
        scores[shift] = up / max(down, 1e-9) - 1.0 / np.sqrt(_LANES * (width - shift) / _WORK / 2.0)
    return scores


def _fine_pairs(
    left: NDArray[np.float32], right: NDArray[np.float32], shift: int, overlap: int, sure: bool
) -> tuple[NDArray[np.float64], float]:
    """Pairs of places [mm] from windows of the overlap, and their spread [mm].

    Where the overlap is surely the right one, the spread is that about a straight line.
    """
    reach = round(5.0 * _WORK)
    size = max(int(overlap / _WINDOWS), int(30 * _WORK))
    pairs = []
    for start in np.linspace(0, max(0, overlap - size), _WINDOWS):
        low = int(start)
        window = right[:, low : low + size]
        begin = max(0, shift + low - reach)
        field = left[:, begin : shift + low + size + reach]
        if field.shape[1] <= window.shape[1] or window.shape[1] < 20:
            continue
        score = np.asarray(cv2.matchTemplate(field, window, cv2.TM_CCORR_NORMED)).ravel()
        peak = int(score.argmax())
        if score[peak] < 0.15 or peak in (0, score.size - 1):
            continue
        a, b, c = (float(v) for v in score[peak - 1 : peak + 2])
        part = (a - c) / (2 * (a - 2 * b + c)) if a - 2 * b + c < -1e-9 else 0.0
        middle = low + window.shape[1] / 2
        pairs.append(((begin + peak + part + window.shape[1] / 2) / _WORK, middle / _WORK))
    if not pairs:
        return np.zeros((0, 2)), float("inf")
    found = np.array(pairs)
    off = _off_line(found, sure)
    kept = np.abs(off) <= max(1.0, 3 * float(np.median(np.abs(off))))
    spread = float(np.ptp(off)) if len(off) > 1 else float("inf")
    return found[kept], spread


def _off_line(pairs: NDArray[np.float64], sloped: bool) -> NDArray[np.float64]:
    """How far each pair's offset lies off the usual one, or off one that grows evenly by two scales."""
    offset, place = pairs[:, 0] - pairs[:, 1], pairs[:, 1]
    slope = 0.0
    if sloped and len(pairs) > 2 and np.ptp(offset) > _STEADY_MM:  # less is not worth the doubt of a slope
        first, second = np.triu_indices(len(pairs), 1)
        # Theil and Sen's, so that one odd window does not tilt it.
        rise = (offset[second] - offset[first]) / np.maximum(place[second] - place[first], 1e-9)
        slope = float(np.clip(np.median(rise), -_MOST_APART, _MOST_APART))
    rest = offset - slope * place
    return np.asarray(rest - np.median(rest))
