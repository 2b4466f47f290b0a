"""Suggested marks against marks made by hand: how many found, how many false.

A hit is a hand-made mark with a suggestion's centre inside it, or within a
millimetre. Hand-drawn outlines are loose, so agreement of outlines is asked
only to an overlap of 0.3. A suggestion is false if its centre lies on no
hand-made mark of any kind.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import sqrt

from shapely import Point as ShapelyPoint
from shapely import Polygon

from layout.outline import Outline, bounds_of
from layout.stock import DefectKind
from vision.marks import Mark

__all__ = ["SIZES_MM", "Score", "Tally", "score_marks", "summed"]

_SLACK_MM = 1.0
_EXCUSE_THEIR_LIKE = {"sapwood": DefectKind.SAPWOOD, "wane": DefectKind.WANE}
_OVERLAP = 0.3
SIZES_MM = (0.0, 5.0, 10.0, 20.0, float("inf"))  # limits of the classes of size, as root of the box's area


@dataclass(frozen=True)
class Tally:
    """How many there are, how many were hit, how many were hit with enough overlap."""

    total: int = 0
    hit: int = 0
    overlapped: int = 0

    def __add__(self, other: "Tally") -> "Tally":
        return Tally(self.total + other.total, self.hit + other.hit, self.overlapped + other.overlapped)

    @property
    def recall(self) -> float:
        """Share of hits; 1 when there was nothing to find."""
        return self.hit / self.total if self.total else 1.0

    @property
    def recall_overlapped(self) -> float:
        """Share hit with an overlap of at least 0.3; 1 when there was nothing to find."""
        return self.overlapped / self.total if self.total else 1.0


@dataclass(frozen=True)
class Score:
    """What a set of suggestions is worth on so much board.

    Parameters
    ----------
    metres : float
        Length of board looked at.
    suggested, false : int
        Suggestions, and how many of them lie on no hand-made mark.
    by_kind : dict of str to Tally
        By the name of the hand-made mark's group.
    by_size : dict of float to Tally
        By the lower limit of its class in `SIZES_MM` [mm].
    """

    metres: float = 0.0
    suggested: int = 0
    false: int = 0
    by_kind: dict[str, Tally] = field(default_factory=dict)
    by_size: dict[float, Tally] = field(default_factory=dict)

    @property
    def false_per_metre(self) -> float:
        return self.false / self.metres if self.metres else 0.0

    @property
    def everything(self) -> Tally:
        return sum(self.by_kind.values(), Tally())


def score_marks(
    suggested: Sequence[Mark],
    truth: Iterable[tuple[str, Outline]],
    length_mm: float,
    kinds: Iterable[DefectKind] | None = None,
    slack_mm: float = _SLACK_MM,
) -> Score:
    """The score of one face.

    Parameters
    ----------
    suggested : sequence of Mark
    truth : iterable of (name, outline)
        Hand-made marks with the name of their group, in the same frame [mm].
    length_mm : float
    kinds : iterable of DefectKind, optional
        Count only suggestions of these kinds as found and as false.
    slack_mm : float
        How far beside a hand-made mark a centre still counts as inside [mm].
    """
    wanted = set(kinds) if kinds is not None else set(DefectKind)
    shapes = [(Polygon(mark.outline), _centre(mark.outline)) for mark in suggested if mark.kind in wanted]
    names = [mark.kind for mark in suggested if mark.kind in wanted]
    by_kind: dict[str, Tally] = {}
    by_size: dict[float, Tally] = {}
    on_truth = [False] * len(shapes)
    for name, outline in truth:
        hand = Polygon(outline)
        hand = hand if hand.is_valid else hand.buffer(0)
        near = [index for index, (_, centre) in enumerate(shapes) if hand.distance(centre) <= slack_mm]
        for index in near:
            on_truth[index] |= _EXCUSE_THEIR_LIKE.get(name, names[index]) is names[index]
        enough = any(_overlap(hand, shapes[index][0]) >= _OVERLAP for index in range(len(shapes)))
        tally = Tally(1, int(bool(near)), int(enough))
        by_kind[name] = by_kind.get(name, Tally()) + tally
        size = _size_class(outline)
        by_size[size] = by_size.get(size, Tally()) + tally
    return Score(length_mm / 1000, len(shapes), on_truth.count(False), by_kind, by_size)


def summed(scores: Iterable[Score]) -> Score:
    """Several faces' scores as one."""
    metres, suggested, false = 0.0, 0, 0
    by_kind: dict[str, Tally] = {}
    by_size: dict[float, Tally] = {}
    for score in scores:
        metres, suggested, false = metres + score.metres, suggested + score.suggested, false + score.false
        for name, tally in score.by_kind.items():
            by_kind[name] = by_kind.get(name, Tally()) + tally
        for size, tally in score.by_size.items():
            by_size[size] = by_size.get(size, Tally()) + tally
    return Score(metres, suggested, false, by_kind, by_size)


def _centre(outline: Outline) -> ShapelyPoint:
    x0, y0, x1, y1 = bounds_of(outline)
    return ShapelyPoint((x0 + x1) / 2, (y0 + y1) / 2)


def _overlap(one: Polygon, other: Polygon) -> float:
    shared = one.intersection(other).area
    return float(shared / (one.area + other.area - shared)) if shared > 0 else 0.0


def _size_class(outline: Outline) -> float:
    x0, y0, x1, y1 = bounds_of(outline)
    size = sqrt((x1 - x0) * (y1 - y0))
    return max(limit for limit in SIZES_MM if limit <= size)
