"""Rough places where a board may be, from the long straight lines of its edges.

Colour fails where board and bench are of one wood; two long straight lines with
one wood between them and another outside do not.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["merit", "straight_quads"]

_LEAST_SEGMENT = 0.02  # of the picture's long side
_LEAST_LINE = 0.22
_MOST_SEGMENTS = 500
_MOST_LINES = 36
_OFF_PX = 3.5  # beside a line, where the colours on its two sides are read
_WEIGHTS = np.array([0.6, 1.0, 1.0], dtype=np.float32)  # light changes over a bench more than colour does


@dataclass(frozen=True, eq=False)
class _Line:
    """A merged line: a point, a direction, and where along it edges were seen."""

    point: NDArray[np.float64]
    along: NDArray[np.float64]
    start: float
    end: float

    def at(self, t: float) -> NDArray[np.float64]:
        return self.point + t * self.along


def straight_quads(small: NDArray[np.uint8], most: int = 6) -> list[NDArray[np.float64]]:
    """Four-cornered places between two long straight lines, the likeliest first.

    Parameters
    ----------
    small : ndarray of uint8, [height, width, 3]
        RGB, some 800 pixels wide.
    most : int

    Returns
    -------
    list of ndarray, [4, 2]
        Corners (x, y), in order round each.
    """
    lab = _colours(small)
    lines = _merged(_segments(lab), max(small.shape[:2]))
    rated = []
    for i, one in enumerate(lines):
        for other in lines[i + 1 :]:
            between = _between(one, other, small.shape)
            if between is not None:
                rated.append((_pair_merit(lab, between), between))
    rated.sort(key=lambda pair: -pair[0])
    quads = []
    for rating, (a, b) in rated[: 2 * most]:
        if rating <= 0:
            break
        quads += [(_merit(lab, quad), quad) for quad in _with_ends(lab, a, b)]
    quads.sort(key=lambda pair: -pair[0])
    return [quad for rating, quad in quads[:most] if rating > 0]


def merit(small: NDArray[np.uint8], quad: NDArray[np.float64]) -> float:
    """How much a place looks like a board: the weakest step of its sides, less how unlike its edges are."""
    return _merit(_colours(small), quad)


def _merit(lab: NDArray[np.float32], quad: NDArray[np.float64]) -> float:
    middle = quad.mean(axis=0)
    steps, insides = [], []
    for i in range(4):
        a, b = quad[i], quad[(i + 1) % 4]
        inside, outside = _beside(lab, a, b, middle)
        if inside is None or outside is None:
            steps.append(0.0)  # a side on the picture's rim shows no step
            continue
        steps.append(float(np.linalg.norm(inside - outside)))
        insides.append(inside)
    if len(insides) < 2:
        return 0.0
    unlike = float(np.linalg.norm(np.ptp(np.array(insides), axis=0)))
    lengths = [float(np.hypot(*(quad[(i + 1) % 4] - quad[i]))) for i in range(4)]
    slim = max(lengths) / max(1.0, min(lengths))
    return (min(steps) + 0.25 * float(np.mean(steps)) - 0.35 * unlike) * min(1.0, slim / 3.0)


def _colours(small: NDArray[np.uint8]) -> NDArray[np.float32]:
    lab = cv2.cvtColor(np.asarray(small, dtype=np.float32) / 255.0, cv2.COLOR_RGB2LAB)
    return np.asarray(np.asarray(cv2.GaussianBlur(lab, (0, 0), 0.8)) * _WEIGHTS, dtype=np.float32)


def _segments(lab: NDArray[np.float32]) -> NDArray[np.float64]:
    """Straight segments in lightness and in warmth, the longest first, [n, 4]."""
    detector = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD)
    found = []
    for channel in (lab[..., 0] / _WEIGHTS[0], lab[..., 1] + lab[..., 2]):
        low, high = np.percentile(channel, (1, 99))
        grey = np.clip((channel - low) / max(float(high - low), 6.0) * 255, 0, 255).astype(np.uint8)
        segments = detector.detect(grey)[0]
        if segments is not None:
            found.append(np.asarray(segments, dtype=np.float64).reshape(-1, 4))
    if not found:
        return np.zeros((0, 4))
    every = np.concatenate(found)
    length = np.hypot(every[:, 2] - every[:, 0], every[:, 3] - every[:, 1])
    order = np.argsort(-length)[:_MOST_SEGMENTS]
    long = order[length[order] >= _LEAST_SEGMENT * max(lab.shape[:2])]
    return np.asarray(every[long], dtype=np.float64)


def _merged(segments: NDArray[np.float64], size: int) -> list[_Line]:
    """Segments of one line put together; lines seen over enough of their length, the longest first."""
    lines = []
    free = np.ones(len(segments), dtype=bool)
    a, b = segments[:, :2], segments[:, 2:]
    run = b - a
    length = np.hypot(run[:, 0], run[:, 1])
    along = run / np.maximum(length, 1e-9)[:, None]
    for i in range(len(segments)):
        if not free[i]:
            continue
        point, direction = a[i], along[i]
        for _ in range(3):  # a longer line knows its direction better
            normal = np.array([-direction[1], direction[0]])
            near = np.maximum(np.abs((a - point) @ normal), np.abs((b - point) @ normal)) < 0.004 * size
            mine = free & near & (np.abs(along @ direction) > np.cos(np.deg2rad(4)))
            ends = np.concatenate([a[mine], b[mine]])
            if len(ends) < 2:
                break
            point = ends.mean(axis=0)
            _, _, axes = np.linalg.svd(ends - point)
            direction = axes[0]
        free[i] = False
        if not mine.any():
            continue
        free &= ~mine
        t = np.sort(np.stack([(a[mine] - point) @ direction, (b[mine] - point) @ direction], axis=1), axis=1)
        if t.max() - t.min() >= _LEAST_LINE * size and (t[:, 1] - t[:, 0]).sum() >= 0.3 * (t.max() - t.min()):
            lines.append(_Line(point, direction, float(t.min()), float(t.max())))
    return sorted(lines, key=lambda line: line.start - line.end)[:_MOST_LINES]


def _between(
    one: _Line, other: _Line, shape: tuple[int, ...]
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Ends of the stretch of either line, [2, 2] and [2, 2]; None when they cannot be a board's edges."""
    if abs(float(one.along @ other.along)) < np.cos(np.deg2rad(9)):
        return None
    sign = 1.0 if float(one.along @ other.along) > 0 else -1.0
    ends = sorted(float((other.at(t) - one.point) @ one.along) for t in (other.start, other.end))
    start, end = max(one.start, ends[0]), min(one.end, ends[1])
    whole = max(one.end, ends[1]) - min(one.start, ends[0])
    if end - start < 0.45 * whole:
        return None
    first, last = min(one.start, ends[0]), max(one.end, ends[1])
    a = np.stack([one.at(first), one.at(last)])
    base = float((one.point - other.point) @ other.along)
    b = np.stack([other.at(base + sign * first), other.at(base + sign * last)])
    gaps = np.abs((b - a) @ np.array([-one.along[1], one.along[0]]))
    size = max(shape[:2])
    if gaps.min() < 0.02 * size or gaps.max() > 0.45 * whole or gaps.max() > 1.8 * gaps.min():
        return None
    return a, b


def _pair_merit(lab: NDArray[np.float32], pair: tuple[NDArray[np.float64], NDArray[np.float64]]) -> float:
    a, b = pair
    middle = (a.mean(axis=0) + b.mean(axis=0)) / 2
    one, other = _beside(lab, a[0], a[1], middle), _beside(lab, b[0], b[1], middle)
    if one[0] is None or one[1] is None or other[0] is None or other[1] is None:
        return 0.0
    steps = [float(np.linalg.norm(side[0] - side[1])) for side in ((one[0], one[1]), (other[0], other[1]))]
    length = float(np.hypot(*(a[1] - a[0]))) / max(lab.shape[:2])
    return float((min(steps) - 0.4 * float(np.linalg.norm(one[0] - other[0]))) * length)


def _beside(
    lab: NDArray[np.float32], a: NDArray[np.float64], b: NDArray[np.float64], middle: NDArray[np.float64]
) -> tuple[NDArray[np.float64] | None, NDArray[np.float64] | None]:
    """Median colour beside a line, on the side of `middle` and on the other; None off the picture."""
    run = b - a
    normal = np.array([-run[1], run[0]]) / max(float(np.hypot(*run)), 1e-9)
    if float((middle - a) @ normal) < 0:
        normal = -normal
    t = np.linspace(0.04, 0.96, 80)[:, None]
    answer: list[NDArray[np.float64] | None] = []
    for off in (_OFF_PX, -_OFF_PX):
        where = a + t * run + off * normal
        columns, rows = np.rint(where).astype(int).T
        on = (columns >= 0) & (rows >= 0) & (columns < lab.shape[1]) & (rows < lab.shape[0])
        answer.append(np.median(lab[rows[on], columns[on]], axis=0) if on.sum() >= 40 else None)
    return answer[0], answer[1]


def _with_ends(
    lab: NDArray[np.float32], a: NDArray[np.float64], b: NDArray[np.float64]
) -> list[NDArray[np.float64]]:
    """Quads between two lines, cut off where the colour between them changes most, near where they end."""
    reach = 0.12
    t = np.linspace(-reach, 1 + reach, round(float(np.hypot(*(a[1] - a[0]))) * (1 + 2 * reach)))
    s = np.linspace(0.15, 0.85, 15)
    upper = a[0] + t[:, None] * (a[1] - a[0])
    lower = b[0] + t[:, None] * (b[1] - b[0])
    where = upper[None] + s[:, None, None] * (lower - upper)[None]
    inside = (where[..., 0] >= 0) & (where[..., 1] >= 0)
    inside &= (where[..., 0] <= lab.shape[1] - 1) & (where[..., 1] <= lab.shape[0] - 1)
    band = cv2.remap(
        lab, where[..., 0].astype(np.float32), where[..., 1].astype(np.float32), cv2.INTER_LINEAR
    )
    colour = np.median(np.asarray(band), axis=0)
    on = inside.all(axis=0)
    if on.sum() < 40:
        return []
    first, last = int(np.argmax(on)), int(len(on) - np.argmax(on[::-1]))
    step = _steps(colour[first:last], 10)
    place = t[first:last]
    starts = _two_peaks(step, place, place < 0.3)
    ends = _two_peaks(step, place, place > 0.7)
    quads = []
    for begin in starts:
        for end in ends:
            corners = [a[0] + begin * (a[1] - a[0]), a[0] + end * (a[1] - a[0])]
            corners += [b[0] + end * (b[1] - b[0]), b[0] + begin * (b[1] - b[0])]
            quads.append(np.array(corners))
    return quads


def _steps(colour: NDArray[np.float32], half: int) -> NDArray[np.float64]:
    """How far the mean colours of the `half` columns before and after each column are apart."""
    total = np.concatenate([np.zeros((1, 3)), np.cumsum(colour, axis=0)])
    k = np.arange(len(colour))
    low, high = np.maximum(k - half, 0), np.minimum(k + half, len(colour))
    before = (total[k] - total[low]) / np.maximum(k - low, 1)[:, None]
    after = (total[high] - total[k]) / np.maximum(high - k, 1)[:, None]
    return np.asarray(np.linalg.norm(after - before, axis=1) * ((k - low > 2) & (high - k > 2)))


def _two_peaks(
    step: NDArray[np.float64], place: NDArray[np.float64], where: NDArray[np.bool_]
) -> list[float]:
    """The two strongest changes in a stretch, well apart."""
    rest = np.where(where, step, 0.0)
    answer: list[float] = []
    for _ in range(2):
        k = int(rest.argmax())
        if rest[k] <= 1.0:
            break
        answer.append(float(place[k]))
        rest[max(0, k - 12) : k + 13] = 0.0
    return answer
