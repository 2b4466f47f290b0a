"""Seeded jobs of our own for measuring plans: waney boards with faults, and a cutting list that about fits.

Boards 1.5-4 m x 150-450 mm, half of them waney, 3-11 knots a square metre (front,
back or right through), end splits, shakes, sapwood on one face, priced by area
and quality. Parts: legs, rails, stiles, fronts, slats and hidden parts, some with
sound zones at their ends, a few shaped.
"""

from dataclasses import dataclass

import numpy as np

from layout.allowances import Allowances, Sawing, Shop
from layout.outline import Outline, rectangle
from layout.parts import Part, PartSide, Visibility, Zone
from layout.stock import Board, Defect, DefectKind, Price, Where, Wish

__all__ = ["FEW", "SIZES", "Case", "a_board", "a_case"]

# Kinds of part lines and boards, after the sizes of `SIZES`.
SIZES = {"tiny": (3, 2), "small": (5, 5), "medium": (9, 10), "large": (14, 24)}
# Drawn again until it is no larger: 10 to 14 pieces of 4 or 5 kinds on 4 to 6 boards.
FEW, _PIECES, _KINDS, _BOARDS = "few", (10, 14), (4, 5), (4, 6)
_TIMES = {"tiny": 1.0, "small": 1.0, "medium": 1.2, "large": 1.7}  # on the usual quantities

_LIST = (
    # name, length, width, thickness, usual quantity, sides, sound ends
    ("leg", 680, 58, 40, 4, {PartSide.BACK: Visibility.SHOW, PartSide.NEAR_EDGE: Visibility.SHOW}, 60),
    ("rail", 420, 80, 22, 4, {}, 40),
    ("stile", 560, 70, 22, 4, {PartSide.BACK: Visibility.SEEN_IN_USE}, 0),
    ("front", 440, 150, 22, 2, {}, 0),
    ("slat", 900, 65, 18, 4, {}, 0),
    ("shelf stave", 510, 110, 20, 4, {}, 0),
    ("top stave", 620, 120, 24, 4, {}, 0),
    ("back slat", 700, 90, 16, 3, {PartSide.FACE: Visibility.CONCEALED}, 0),
    ("runner", 400, 40, 18, 4, {PartSide.FACE: Visibility.CONCEALED}, 0),
    ("side", 780, 180, 22, 2, {}, 0),
    ("bracket", 260, 120, 22, 2, {}, 0),
    ("plinth", 1150, 75, 20, 2, {}, 0),
    ("cleat", 330, 50, 24, 3, {PartSide.FACE: Visibility.CONCEALED}, 0),
    ("door stave", 1380, 100, 24, 2, {}, 50),
)


@dataclass(frozen=True)
class Case:
    """A job to plan."""

    name: str
    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop


def a_case(size: str, seed: int, sawing: Sawing = Sawing.CROSSCUT_FIRST, stages: int = 3) -> Case:
    """One seeded job; the wood on offer is about twice what the parts need."""
    chance = np.random.default_rng((hash_of(size), seed))
    shop = Shop(sawing, stages, Allowances(kerf=3.0, end_trim=25.0, edge_trim=3.0, skim=1.0))
    parts, boards = _few(chance) if size == FEW else _many(size, chance)
    return Case(
        f"{size} {seed}",
        tuple(a_board(str(number), chance) for number in range(1, boards + 1)),
        parts,
        shop,
    )


def hash_of(text: str) -> int:
    """A number for a word that is the same in every run."""
    return sum(ord(letter) * 31**place for place, letter in enumerate(text)) % 2**31


def _many(size: str, chance: np.random.Generator) -> tuple[tuple[Part, ...], int]:
    kinds, boards = SIZES[size]
    return _parts(kinds, _TIMES[size], chance), boards


def _few(chance: np.random.Generator) -> tuple[tuple[Part, ...], int]:
    low, high = _PIECES
    while True:
        parts = _parts(int(chance.integers(*_KINDS, endpoint=True)), 1.0, chance)
        if low <= sum(part.quantity for part in parts) <= high:
            return parts, int(chance.integers(*_BOARDS, endpoint=True))


def _parts(kinds: int, times: float, chance: np.random.Generator) -> tuple[Part, ...]:
    found = []
    for line in sorted(int(number) for number in chance.choice(len(_LIST), size=kinds, replace=False)):
        name, length, width, thickness, quantity, sides, ends = _LIST[line]
        length = round(length * float(chance.uniform(0.85, 1.15)))
        zones = ()
        if ends:
            zones = (
                Zone("near joint", rectangle(0, 0, ends, width)),
                Zone("far joint", rectangle(length - ends, 0, length, width)),
            )
        outline = _curve(length, width) if name == "bracket" else None
        found.append(
            Part(
                name,
                length,
                width,
                thickness,
                round(quantity * times),
                dict(sides),
                outline=outline,
                zones=zones,
            )
        )
    return tuple(found)


def _curve(length: float, width: float) -> Outline:
    bend = [(length * t, width * (0.35 + 0.65 * (1 - t) ** 2)) for t in np.linspace(1, 0, 9)]
    return ((0.0, 0.0), (float(length), 0.0), *((float(x), float(y)) for x, y in bend))


def a_board(name: str, chance: np.random.Generator) -> Board:
    """One seeded board, 45 mm thick."""
    length, width = float(chance.uniform(1500, 4000)), float(chance.uniform(150, 450))
    waney = chance.random() < 0.5
    front = _outline(length, width, 0.05 if waney else 0.0, chance)
    back = _outline(length, width, 0.09, chance) if waney else front
    knots = int(chance.poisson(float(chance.uniform(3, 11)) * length * width / 1e6))
    defects = [_knot(f"k{n}", length, width, chance) for n in range(knots)]
    defects += _others(length, width, chance)
    quality = 1.0 - 0.04 * knots
    price = Price(round(length * width / 1e6 * 90 * max(quality, 0.45) * float(chance.uniform(0.8, 1.25)), 2))
    grain = float(chance.uniform(-6, 6)) if chance.random() < 0.1 else 0.0
    return Board(name, front, back, 45.0, defects=tuple(defects), price=price, error=0.5, grain=grain)


def _outline(length: float, width: float, wane: float, chance: np.random.Generator) -> Outline:
    if wane == 0.0:
        return rectangle(0, 0, length, width)
    xs = np.linspace(0, length, 12)
    bottom = width * (1 - wane * chance.random(12))
    bottom[int(chance.integers(12))] = width
    edge = [(float(x), float(y)) for x, y in zip(xs, bottom, strict=True)]
    return ((0.0, 0.0), (length, 0.0), *reversed(edge))


def _knot(name: str, length: float, width: float, chance: np.random.Generator) -> Defect:
    across = float(chance.gamma(2.0, 8.0)) + 3
    along = across * float(chance.uniform(1.0, 1.6))
    x, y = float(chance.uniform(0, length)), float(chance.uniform(0, width))
    ring = [
        (x + along / 2 * float(np.cos(a)), y + across / 2 * float(np.sin(a)))
        for a in np.linspace(0, 2 * np.pi, 12, endpoint=False)
    ]
    kind = DefectKind.SOUND_KNOT if chance.random() < 0.65 else DefectKind.DEAD_KNOT
    where = (Where.THROUGH, Where.FRONT, Where.BACK)[int(chance.choice(3, p=(0.4, 0.3, 0.3)))]
    known = where is not Where.THROUGH and chance.random() < 0.5
    wish = Wish.SHOW if chance.random() < 0.03 else Wish.MAY_HIDE
    return Defect(name, kind, tuple(ring), where, float(chance.uniform(2, 30)) if known else None, wish)


def _others(length: float, width: float, chance: np.random.Generator) -> list[Defect]:
    found = []
    for name, x in (("near", 0.0), ("far", length)):
        if chance.random() < 0.6:
            reach = float(chance.uniform(30, 220)) * (1 if x == 0.0 else -1)
            y = float(chance.uniform(0.2, 0.8)) * width
            shape = ((x, y - 2), (x + reach, y), (x, y + 2))
            found.append(Defect(f"{name} split", DefectKind.SPLIT, shape, Where.THROUGH, None, Wish.KEEP_OFF))
    if chance.random() < 0.4:
        deep = float(chance.uniform(0.06, 0.18)) * width
        face = Where.BACK if chance.random() < 0.7 else Where.FRONT
        found.append(Defect("sap", DefectKind.SAPWOOD, rectangle(0, 0, length, deep), face))
    if chance.random() < 0.3:
        x, y = float(chance.uniform(0.1, 0.8)) * length, float(chance.uniform(0.1, 0.9)) * width
        shape = rectangle(x, y, x + float(chance.uniform(80, 400)), y + 2)
        found.append(Defect("shake", DefectKind.SHAKE, shape, Where.THROUGH))
    return found
