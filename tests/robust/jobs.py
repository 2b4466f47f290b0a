"""A small job that uses every field of the schema, and ways to spoil one value of it."""

import copy
import random
from dataclasses import replace
from typing import Any

import numpy as np

from layout.allowances import Sawing
from layout.outline import rectangle
from layout.parts import Part, PartSide, Visibility, Zone, ZoneRule
from layout.placement import Bound, Unplaced
from layout.stock import DefectKind, Price, PriceBasis, Where, Wish
from tests.builders import tiny_layout, tiny_parts, tiny_shop
from ui.jobfile import BoardRecord, FaceRecord, Job
from ui.pictures import jpeg
from vision.marks import Mark, MarkState, Origin

__all__ = ["ODD_VALUES", "files_of_full_job", "full_job", "spoiled"]

ODD_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, -0.0, 0.5, 1e-300, 1e300, 1e308, -1e308, 10**30, 10**400,
    float("inf"), float("-inf"), float("nan"), "", " ", "a", "1", "NaN", "\x00", "\ud800", "a\nb",
    "../../etc/passwd", "x" * 10_000, [], {}, [[]], [1, 2], [[0, 0], [1, 0]], [None], {"a": 1}, [[[]]],
    [[0, 0], [10, 10], [10, 0], [0, 10]], [[0, 0], [1e-12, 0], [0, 1e-12]], [[0, 0], [5, 5], [9, 9]],
)  # fmt: skip
"""What may stand in a job file by accident, by hand, or by malice."""


_SAID = MarkState.CONFIRMED


def full_job() -> Job:
    """The job: the tiny board with a photographed face and marks, shaped parts with zones, a layout."""
    face = FaceRecord(
        photo="photos/a.jpg",
        corners_px=((1, 2), (300, 4), (300, 90), (2, 88)),
        outline_mm=((0, 0), (1000, 0), (1000, 200), (500, 210), (0, 205)),
        picture="pictures/a.jpg",
        px_per_mm=2.0,
        error_mm=0.4,
    )
    marks = (
        Mark("m1", DefectKind.DEAD_KNOT, rectangle(478, 80, 522, 120), Where.THROUGH, state=_SAID),
        Mark("m2", DefectKind.CHECK, ((0, 50), (80, 52), (80, 54)), Where.FRONT, 0.7, Origin.SUGGESTED),
        Mark("m3", DefectKind.SAPWOOD, rectangle(0, 0, 900, 15), Where.BACK, depth=4.0, wish=Wish.TOLERATE),
    )
    board = BoardRecord(
        id="1", length=1000, widths=((0, 205), (500, 210)), thickness=27, moisture=9.5, front=face, back=face,
        marks=marks, price=Price(900.0, PriceBasis.CUBIC_METRE),
    )  # fmt: skip
    other = BoardRecord(id="2", length=2400, widths=((0, 160),), thickness=34, owned=True, grain=1.5)
    rail, slat = tiny_parts()
    tenon = Zone("tenon", rectangle(0, 10, 30, 40), ZoneRule.SOUND)
    lap = Zone("lap", rectangle(200, 10, 300, 40), ZoneRule.COVERED, PartSide.FACE)
    shaped = Part(
        "leg", 300, 50, 22, sides={PartSide.BACK: Visibility.SHOW}, zones=(tenon, lap),
        outline=((0, 0), (300, 10), (300, 40), (0, 50)),
        length_allowance=12.0, max_slope=0.1, priority=2,
        same_board_as="rail", tolerates={Visibility.SHOW: "J10"},
    )  # fmt: skip
    layout = replace(
        tiny_layout(),
        unplaced=(Unplaced("leg", 1, "12 mm too short between the knot at 840 and the end split"),),
        bound=Bound(40.0, Sawing.CROSSCUT_FIRST, True, "the one board is needed"),
    )
    parts = (rail, slat, shaped)
    return Job(
        name="bedside", boards=(board, other), parts=parts, settings=tiny_shop(), layout=layout, revision=7
    )


def files_of_full_job() -> dict[str, bytes]:
    """The photograph and the true-scale picture that the job names."""
    grey = np.full((420, 2000, 3), 150, dtype=np.uint8)
    return {"photos/a.jpg": jpeg(grey), "pictures/a.jpg": jpeg(grey)}


def spoiled(raw: Any, chance: random.Random) -> Any:
    """The job's plain dict with one to three places changed, taken out, doubled or added to."""
    raw = copy.deepcopy(raw)
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        inside: Any = raw
        for _depth in range(chance.randrange(1, 9)):
            keys = list(inside) if isinstance(inside, dict) else list(range(len(inside)))
            if not keys:
                break
            key = chance.choice(keys)
            if not isinstance(inside[key], (dict, list)) or chance.random() < 0.15:
                _spoil(inside, key, chance)
                break
            inside = inside[key]
    return raw


def _spoil(inside: Any, key: Any, chance: random.Random) -> None:
    what = chance.random()
    if what < 0.65:
        inside[key] = copy.deepcopy(chance.choice(ODD_VALUES))
    elif what < 0.75:
        del inside[key]
    elif isinstance(inside, dict):
        inside[chance.choice(("", "colour", "id", "name", "\ud800"))] = inside[key]
    else:
        inside.append(copy.deepcopy(inside[key]))
