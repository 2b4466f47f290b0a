"""Finding room for words: nothing that is written ever covers something else that is written."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from ui.drawing.scene import Box

__all__ = ["Room", "grown_box", "overlap", "spread"]


def overlap(a: Box, b: Box) -> bool:
    """Whether two boxes share ground."""
    return a[0] < b[2] - 1e-9 and b[0] < a[2] - 1e-9 and a[1] < b[3] - 1e-9 and b[1] < a[3] - 1e-9


def grown_box(box: Box, by: float) -> Box:
    """A box larger by so much on every side."""
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


@dataclass
class Room:
    """The ground already written on, and the ground better left visible."""

    taken: list[Box] = field(default_factory=list)
    worth_seeing: list[Box] = field(default_factory=list)

    def free(self, box: Box) -> bool:
        """Whether nothing is written there yet."""
        return not any(overlap(box, other) for other in self.taken)

    def covers(self, box: Box) -> float:
        """How much of the ground better left visible a box would cover [mm2]."""
        return sum(_shared(box, other) for other in self.worth_seeing)

    def take(self, box: Box) -> Box:
        """Write there."""
        self.taken.append(box)
        return box

    def best(self, boxes: Iterable[Box]) -> Box | None:
        """The first free box that covers nothing worth seeing, or the free one that covers least."""
        best, least = None, float("inf")
        for box in boxes:
            if self.free(box):
                covered = self.covers(box)
                if covered <= 0.0:
                    return box
                if covered < least:
                    best, least = box, covered
        return best

    def lane(self, x: float, wide: float, high: float, start: float, step: float) -> Box:
        """The first free box centred on `x`, in lanes away from `start` by `step` (negative: upwards)."""
        middle = start
        while True:
            box = (x - wide / 2, middle - high / 2, x + wide / 2, middle + high / 2)
            if self.free(box):
                return box
            middle += step


def _shared(a: Box, b: Box) -> float:
    wide, high = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
    return wide * high if wide > 0 and high > 0 else 0.0


def spread(wanted: Sequence[float], gap: float) -> list[float]:
    """Positions as near as can be to the wanted ones, in their order, at least `gap` apart.

    The least-squares answer: wanted places less `gap` per rank, made
    non-decreasing by pooling neighbours that break the order (isotonic
    regression), plus `gap` per rank again. `wanted` must not decrease.
    """
    pools: list[tuple[float, int]] = []
    for rank, value in enumerate(wanted):
        mean, count = value - rank * gap, 1
        while pools and pools[-1][0] > mean:
            before, many = pools.pop()
            mean, count = (mean * count + before * many) / (count + many), count + many
        pools.append((mean, count))
    flat = [mean for mean, count in pools for _ in range(count)]
    return [value + rank * gap for rank, value in enumerate(flat)]
