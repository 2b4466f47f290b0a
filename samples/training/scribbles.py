"""What makers leave on boards: pencil, chalk and pen figures, tape, labels. None of it is a fault.

Everything is drawn as coverage of a tile, so that it can be laid over any picture of wood, sound or
faulty, made or scanned, in any colour.
"""

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["CHALK", "PEN", "PENCIL", "TAPE", "Scribble", "scribble"]

Plane = NDArray[np.uint8]
Stroke = NDArray[np.float64]

PENCIL, CHALK, PEN, TAPE = range(4)
_SHARES = (0.45, 0.25, 0.15, 0.15)
_THICK_MM = {PENCIL: (0.4, 1.1), CHALK: (2.0, 7.0), PEN: (0.7, 3.5)}
_PRINT = cv2.FONT_HERSHEY_SIMPLEX
_LETTERS = "ABCDEFGHKLMNOPRSTUXZabcdeghklnorstx0123456789+-=/#%?"


@dataclass(frozen=True)
class Scribble:
    """One tile's worth.

    Parameters
    ----------
    cover : uint8 array [rows, columns]
        How much of a pixel is covered, 0 to 255.
    tone : uint8 array [rows, columns]
        Lightness of what covers it, as a share of its colour: print on a label; 255 elsewhere.
    pen : int
        `PENCIL`, `CHALK`, `PEN` or `TAPE`.
    """

    cover: Plane
    tone: Plane
    pen: int


def scribble(
    rng: np.random.Generator, shape: tuple[int, int], px_per_mm: float, for_tests: bool = False
) -> Scribble:
    """Figures by one hand; for tests also in letters and shapes that no training tile holds."""
    pen = int(rng.choice(4, p=_SHARES))
    cover, tone = np.zeros(shape, np.uint8), np.full(shape, 255, np.uint8)
    if pen == TAPE:
        for _ in range(int(rng.integers(1, 3))):
            _taped(cover, tone, rng, px_per_mm)
        return Scribble(cover, tone, pen)
    low, high = _THICK_MM[pen]
    thick = max(round(float(rng.uniform(low, high)) * px_per_mm), 1)
    size = (10.0, 45.0) if pen == PENCIL else (25.0, 110.0)
    for _ in range(int(rng.integers(1, 8 if pen == PENCIL else 3))):
        wide = float(np.exp(rng.uniform(*np.log(size)))) * px_per_mm
        at = rng.uniform(0, 1, 2) * shape[::-1]
        if rng.random() < 0.45:
            _written(cover, rng, at, wide, thick, _HAND_LETTERS_FOR_TESTS if for_tests else _HAND_LETTERS)
            continue
        names = _SHAPES_FOR_TESTS if for_tests and rng.random() < 0.5 else _SHAPES
        turn = _turned(float(rng.normal(0, 0.5)) if rng.random() < 0.7 else float(rng.uniform(0, 6.28)))
        for stroke in names[int(rng.integers(len(names)))](rng):
            points = (stroke @ turn) * wide / 2 + at + rng.normal(0, 0.01 * wide, stroke.shape)
            cv2.polylines(cover, [np.round(points * 8).astype(np.int32)], False, 255, thick, cv2.LINE_AA, 3)
    return Scribble(_by_hand(cover, rng, px_per_mm), tone, pen)


def _turned(angle: float) -> Stroke:
    return np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])


def _by_hand(cover: Plane, rng: np.random.Generator, px_per_mm: float) -> Plane:
    """No line is straight and no circle round."""
    rows, columns = cover.shape
    coarse = rng.normal(0, float(rng.uniform(0.1, 1.2)) * px_per_mm, (2, rows // 24 + 2, columns // 24 + 2))
    dx, dy = (
        cv2.resize(one.astype(np.float32), (columns, rows), interpolation=cv2.INTER_CUBIC) for one in coarse
    )
    y, x = np.mgrid[:rows, :columns].astype(np.float32)
    return np.asarray(cv2.remap(cover, x + dx, y + dy, cv2.INTER_LINEAR), np.uint8)


def _written(
    cover: Plane, rng: np.random.Generator, at: Stroke, wide: float, thick: int, letters: str
) -> None:
    """A word or a number in the hand's own letters, or now and then in stencilled ones."""
    word = "".join(rng.choice(list(letters), int(rng.choice([1, 1, 2, 2, 3, 4]))))
    high = float(np.clip(0.45 * wide, 10, 150))
    angle = float(rng.normal(0, 0.25)) + (
        float(rng.choice([0.5, 1, 1.5])) * np.pi if rng.random() < 0.35 else 0
    )
    if rng.random() < 0.2:
        _stencilled(cover, word, (float(at[0]), float(at[1])), high, thick, float(np.degrees(angle)))
        return
    narrow, lean = float(rng.uniform(0.5, 0.95)), float(rng.normal(0, 0.15))
    turn, pen_at = _turned(angle), -0.6 * narrow * len(word)
    for letter in word:
        for stroke in _strokes_of(letter):
            points = stroke + rng.normal(0, 0.05, stroke.shape)
            points = np.column_stack(
                [narrow * points[:, 0] + lean * (1 - points[:, 1]) + pen_at, points[:, 1] - 0.5]
            )
            points = (points * high) @ turn + at
            cv2.polylines(cover, [np.round(points * 8).astype(np.int32)], False, 255, thick, cv2.LINE_AA, 3)
        pen_at += narrow * float(rng.uniform(1.1, 1.4))


def _stencilled(
    cover: Plane, word: str, at: tuple[float, float], high: float, thick: int, degrees: float
) -> None:
    size = high / cv2.getTextSize("0", _PRINT, 1.0, 1)[0][1]
    wide = cv2.getTextSize(word, _PRINT, size, thick)[0][0]
    sheet = np.zeros_like(cover)
    place = (round(at[0] - wide / 2), round(at[1] + high / 2))
    cv2.putText(sheet, word, place, _PRINT, size, 255, thick, cv2.LINE_AA)
    turn = cv2.getRotationMatrix2D(at, degrees, 1.0)
    np.maximum(cover, cv2.warpAffine(sheet, turn, sheet.shape[::-1]), out=cover)


# Strokes of letters in a square of ten by ten, y downwards: "x0y0 x1y1 ..., next stroke".
_HAND = {
    "0": "50 20 03 07 2a 7a a7 a3 70 50", "1": "23 50 5a", "2": "13 31 60 92 94 1a 9a",
    "3": "10 90 54 95 97 7a 3a 18", "4": "60 07 a7, 74 7a", "5": "90 20 14 64 96 98 6a 1a",
    "6": "80 33 16 18 3a 7a 98 96 74 35", "7": "00 90 4a, 25 75", "8": "54 21 40 60 81 54 17 3a 7a 97 54",
    "9": "93 70 30 12 24 64 93 91 8a", "A": "0a 50 aa, 26 86", "B": "10 1a 6a 98 96 65 15, 65 83 81 60 10",
    "D": "10 1a 5a 97 93 50 10", "E": "90 10 1a 9a, 15 75", "F": "90 10 1a, 15 75",
    "H": "10 1a, 90 9a, 15 95",
    "K": "10 1a, 90 15 9a", "L": "10 1a 9a", "M": "0a 10 56 90 aa", "N": "1a 10 9a 90",
    "R": "1a 10 60 82 83 65 15, 55 9a", "S": "91 60 20 02 24 75 97 8a 2a 08", "T": "00 a0, 50 5a",
    "X": "10 9a, 90 1a", "Z": "10 90 1a 9a, 35 75", "+": "51 59, 15 95", "-": "15 95", "/": "90 1a",
    "=": "14 94, 17 97", "?": "12 30 70 92 55 57, 59 5a", "C": "92 60 30 03 07 3a 6a 98",
    "P": "1a 10 60 82 83 65 15", "U": "10 17 3a 7a 97 90", "G": "92 60 30 03 07 3a 6a 98 95 65",
    "V": "00 5a a0", "W": "00 2a 54 8a a0", "Y": "00 54 a0, 54 5a",
    "Q": "50 20 03 07 2a 7a a7 a3 70 50, 67 aa",
}  # fmt: skip
_HAND_LETTERS = "001112223334445566777889ABDEFHKLMNRSTXZ+-/=?"
_HAND_LETTERS_FOR_TESTS = "0123456789CPUGVWYQ"


def _strokes_of(letter: str) -> list[Stroke]:
    return [
        np.array([(int(pair[0], 16), int(pair[1], 16)) for pair in stroke.split()]) / 10
        for stroke in _HAND[letter].split(",")
    ]


def _ring(rng: np.random.Generator) -> list[Stroke]:
    """A circle, an oval, or the turns of a hand that rings a place more than once."""
    t = np.linspace(0, 2 * np.pi * float(rng.choice([0.9, 1.05, 2.1])), 60) + float(rng.uniform(0, 6))
    drift = 1 + float(rng.normal(0, 0.08)) * t / 6
    return [np.column_stack([np.cos(t) * drift, float(rng.uniform(0.3, 1)) * np.sin(t) * drift])]


def _arrow(rng: np.random.Generator) -> list[Stroke]:
    head, open_by = float(rng.uniform(0.15, 0.5)), float(rng.uniform(0.2, 0.6))
    shaft = np.array([(-1.0, 0.0), (1.0, 0.0)])
    return [shaft, np.array([(1 - head, -open_by * head), (1.0, 0.0), (1 - head, open_by * head)])]


def _cross(rng: np.random.Generator) -> list[Stroke]:
    side = float(rng.uniform(0.3, 1))
    return [np.array([(-1, -side), (1, side)]), np.array([(-1, side), (1, -side)])]


def _tick(rng: np.random.Generator) -> list[Stroke]:
    return [np.array([(-1, -0.1), (-0.5, 0.5), (1, float(rng.uniform(-1.5, -0.5)))])]


def _face_mark(rng: np.random.Generator) -> list[Stroke]:
    """The loop of a face side and its tail to the face edge."""
    t = np.linspace(0, 1.6 * np.pi, 40)
    loop = np.column_stack([0.4 * np.cos(t), 0.7 * np.sin(t)])
    return [np.vstack([loop, [(float(rng.uniform(0.3, 1)), -1.2)]])]


def _triangle(rng: np.random.Generator) -> list[Stroke]:
    side = float(rng.uniform(0.4, 1))
    return [np.array([(-1, side), (0, -side), (1, side), (-1, side)])]


def _mortise(rng: np.random.Generator) -> list[Stroke]:
    """A box, crossed or hatched out."""
    side = float(rng.uniform(0.15, 0.8))
    box = np.array([(-1, -side), (1, -side), (1, side), (-1, side), (-1, -side)])
    if rng.random() < 0.4:
        return [box, np.array([(-1, -side), (1, side)]), np.array([(-1, side), (1, -side)])]
    count = int(rng.integers(0, 9))
    return [box, *(np.array([(s, -side), (s + 0.2, side)]) for s in np.linspace(-1, 0.8, count))]


def _hatched(rng: np.random.Generator) -> list[Stroke]:
    """A place shaded over to and fro."""
    count = int(rng.integers(4, 14))
    x = np.linspace(-1, 1, count)
    y = float(rng.uniform(0.2, 0.9)) * np.where(np.arange(count) % 2, 1, -1)
    return [np.column_stack([x, y + rng.normal(0, 0.08, count)])]


def _line(rng: np.random.Generator) -> list[Stroke]:
    far = float(rng.uniform(1, 8))
    strokes = [np.array([(-far, 0.0), (far, 0.0)])]
    if rng.random() < 0.4:
        strokes.append(strokes[0] + (0.0, float(rng.uniform(0.05, 0.5))))
    return strokes


def _arc(rng: np.random.Generator) -> list[Stroke]:
    t = np.linspace(0, float(rng.uniform(0.6, 3.5)), 40)
    return [float(rng.uniform(1, 3)) * np.column_stack([np.cos(t), np.sin(t)])]


def _squiggle(rng: np.random.Generator) -> list[Stroke]:
    steps = rng.normal(0, 0.5, (int(rng.integers(4, 9)), 2)).cumsum(axis=0)
    t = np.linspace(0, len(steps) - 1, 80)
    smooth = np.column_stack([np.interp(t, range(len(steps)), steps[:, axis]) for axis in (0, 1)])
    return [np.column_stack([cv2.GaussianBlur(smooth[:, a : a + 1], (1, 15), 4)[:, 0] for a in (0, 1)])]


def _dots(rng: np.random.Generator) -> list[Stroke]:
    at = rng.uniform(-1, 1, (int(rng.integers(1, 5)), 2))
    return [np.array([p, p + np.array((0.02, 0.0))]) for p in at]


def _spiral(_rng: np.random.Generator) -> list[Stroke]:
    t = np.linspace(0, 4 * np.pi, 90)
    return [np.column_stack([np.cos(t), np.sin(t)]) * (t / t[-1])[:, None]]


def _star(_rng: np.random.Generator) -> list[Stroke]:
    t = np.arange(6) * 0.8 * np.pi
    return [np.column_stack([np.cos(t), np.sin(t)])]


def _brace(_rng: np.random.Generator) -> list[Stroke]:
    return [np.array([(0.2, -1), (0, -0.8), (0, -0.15), (-0.2, 0), (0, 0.15), (0, 0.8), (0.2, 1)])]


_SHAPES: tuple[Callable[[np.random.Generator], list[Stroke]], ...] = (
    _ring, _ring, _arrow, _arrow, _cross, _tick, _face_mark, _triangle, _mortise, _hatched, _line, _arc,
    _squiggle, _dots,
)  # fmt: skip
_SHAPES_FOR_TESTS = (_spiral, _star, _brace)


def _taped(cover: Plane, tone: Plane, rng: np.random.Generator, px_per_mm: float) -> None:
    """A strip of tape, or a label with print or bars on it."""
    rows, columns = cover.shape
    label = rng.random() < 0.6
    half = rng.uniform((12, 6), (55, 35)) if label else rng.uniform((15, 4), (150, 26))
    half = half * px_per_mm / (1 if label else 2)
    at = rng.uniform(0, 1, 2) * (columns, rows)
    angle = float(rng.normal(0, 8)) + (90.0 if rng.random() < 0.4 else 0.0)
    corners = cv2.boxPoints(((float(at[0]), float(at[1])), (2 * float(half[0]), 2 * float(half[1])), angle))
    cv2.fillConvexPoly(cover, np.round(corners * 8).astype(np.int32), 255, cv2.LINE_AA, 3)
    if not label:
        return
    sheet = np.zeros_like(cover)
    high = float(rng.uniform(2.5, 8)) * px_per_mm
    for row in np.arange(at[1] - half[1] + high, at[1] + half[1], 1.5 * high):
        left = float(at[0] - 0.9 * half[0])
        if rng.random() < 0.3:
            for x in np.cumsum(rng.uniform(1.5, 5, 40)):
                if x < 1.7 * half[0]:
                    bar = (round(left + float(x)), round(row - high)), (round(left + float(x)), round(row))
                    cv2.line(sheet, *bar, 255, int(rng.integers(1, 3)))
            continue
        word = "".join(rng.choice(list(_LETTERS), int(rng.integers(2, 12))))
        size = high / cv2.getTextSize(word, _PRINT, 1.0, 1)[0][1]
        thick = max(1, round(0.15 * high))
        cv2.putText(sheet, word, (round(left), round(float(row))), _PRINT, size, 255, thick, cv2.LINE_AA)
    turn = cv2.getRotationMatrix2D((float(at[0]), float(at[1])), -angle, 1.0)
    inked = cv2.warpAffine(sheet, turn, (columns, rows))
    np.minimum(tone, 255 - np.minimum(inked, cover), out=tone)
