"""A drawing as plain values, drawn alike by every back end.

Terminology
-----------
scene    a list of shapes and words in millimetres of wood, with its extent
shape    a closed or open line with a pen, a fill, or both
words    one line of text, placed by its middle height
layer    the name, in the trade's words, under which a shape is kept in SVG and DXF

x runs to the right, y down, as in a picture. Later items lie on top.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise
from math import hypot
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from layout.outline import Point
from ui.drawing.fonts import HALF_HEIGHT, width_of

__all__ = [
    "LEADERS",
    "Anchor",
    "Box",
    "Ground",
    "Item",
    "Pen",
    "Scene",
    "Shape",
    "Words",
    "box_shape",
    "dashed",
    "disc",
]

Anchor = Literal["start", "middle", "end"]
Box = tuple[float, float, float, float]  # x0, y0, x1, y1
LEADERS = "leaders"  # the layer of lines from a label to what it names; they run below all labels


@dataclass(frozen=True)
class Pen:
    """How a line is drawn: colour "#rrggbb", width [mm], dash lengths on, off, on, off ... [mm]."""

    colour: str
    width: float
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Shape:
    """A line or an area; `holes` are further rings, left out of the fill."""

    points: tuple[Point, ...]
    layer: str
    pen: Pen | None = None
    fill: str | None = None
    opacity: float = 1.0  # of the fill
    closed: bool = True
    holes: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True)
class Words:
    """One line of text; `y` is the middle of its height; turned text reads upwards."""

    x: float
    y: float
    text: str
    size: float
    layer: str
    colour: str = "#1a1a1a"
    anchor: Anchor = "start"
    bold: bool = False
    upwards: bool = False

    @property
    def box(self) -> Box:
        """The ground it covers."""
        long, half = width_of(self.text, self.size, self.bold), HALF_HEIGHT * self.size
        before = {"start": 0.0, "middle": long / 2, "end": long}[self.anchor]
        if self.upwards:
            return self.x - half, self.y - long + before, self.x + half, self.y + before
        return self.x - before, self.y - half, self.x - before + long, self.y + half


@dataclass(frozen=True, eq=False)
class Ground:
    """A picture laid under the drawing, filling a box."""

    box: Box
    rgb: NDArray[np.uint8]
    layer: str


Item = Shape | Words | Ground


@dataclass
class Scene:
    """What is to be drawn, in order, and how far it reaches."""

    extent: Box
    items: list[Item] = field(default_factory=list)

    def add(self, *items: Item) -> None:
        """Lay items on top."""
        self.items.extend(items)

    def words(self) -> list[Words]:
        """Every line of text in it."""
        return [item for item in self.items if isinstance(item, Words)]


def box_shape(
    box: Box, layer: str, pen: Pen | None = None, fill: str | None = None, opacity: float = 1.0
) -> Shape:
    """A box as a shape."""
    x0, y0, x1, y1 = box
    return Shape(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), layer, pen, fill, opacity)


def disc(
    x: float, y: float, radius: float, layer: str, pen: Pen | None = None, fill: str | None = None
) -> Shape:
    """A circle as a many-sided shape."""
    turns = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    points = tuple((float(x + radius * np.cos(t)), float(y + radius * np.sin(t))) for t in turns)
    return Shape(points, layer, pen, fill)


def dashed(points: Iterable[Point], dash: tuple[float, ...]) -> list[tuple[Point, Point]]:
    """The straight pieces of a line drawn with dashes; the whole line where `dash` is empty."""
    pieces: list[tuple[Point, Point]] = []
    turn, left, drawing = 0, dash[0] if dash else 0.0, True
    for (x0, y0), (x1, y1) in pairwise(points):
        if not dash:
            pieces.append(((x0, y0), (x1, y1)))
            continue
        long, gone = hypot(x1 - x0, y1 - y0), 0.0
        while gone < long - 1e-9:
            step = min(left, long - gone)
            if drawing:
                t0, t1 = gone / long, (gone + step) / long
                start = (x0 + (x1 - x0) * t0, y0 + (y1 - y0) * t0)
                pieces.append((start, (x0 + (x1 - x0) * t1, y0 + (y1 - y0) * t1)))
            gone, left = gone + step, left - step
            if left <= 1e-9:
                turn, drawing = turn + 1, not drawing
                left = dash[turn % len(dash)]
    return pieces
