"""Made boards for training: cuts of faces sawn from the wood model, with the class of every pixel.

Half of them have nothing wrong: pores, rays, figure, curl and colour streaks are
what a suggester must learn to leave alone. Faults of scanned boards are
transplanted on to some, and others are drawn on, so that a fault's look does
not depend on the model's.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind, Face
from samples.training.drawn import faults_drawn
from samples.wood.faults import Fault
from samples.wood.log import grow_log
from samples.wood.picture import WoodClass, face_picture
from samples.wood.sawn import SawnBoard
from samples.wood.species import SPECIES, Species
from samples.wood.stock import (
    board_at,
    check_at,
    grow_knots,
    pocket_at,
    ring_shake_at,
    split_at,
    stain_at,
)
from samples.wood.training import training_picture

__all__ = [
    "ALL_KNOWN",
    "BITS",
    "CUT_MM",
    "OPEN",
    "PX_PER_MM",
    "Cut",
    "filled",
    "load_transplants",
    "made_cut",
]

PX_PER_MM = 2.0
CUT_MM = (140, 320)  # rows, columns
SHAPE = (int(CUT_MM[0] * PX_PER_MM), int(CUT_MM[1] * PX_PER_MM))
BITS = {"knot": 1, "crack": 2, "pocket": 4, "stain": 8, "pith": 16, "sapwood": 32, "wane": 64}
ALL_KNOWN = 127
OPEN = 128  # bit of what may be a knot or not: nobody labelled it, but it looks like one
_PALE_SAPWOOD = 9.0  # below this step of colour nobody sees the border [L*a*b*]

_BIT_OF = np.zeros(256, np.uint8)
for _bit, _names in {
    1: ("SOUND_KNOT", "DEAD_KNOT", "PIN_KNOT"),
    2: ("CHECK", "SPLIT", "SHAKE"),
    4: ("BARK_POCKET", "RESIN_POCKET"),
    8: ("STAIN",),
    16: ("PITH",),
    32: ("SAPWOOD",),
    64: ("WANE", "NO_WOOD"),
}.items():
    for _name in _names:
        _BIT_OF[WoodClass[_name]] = _bit

Picture = NDArray[np.uint8]


@dataclass(frozen=True)
class Cut:
    """A cut of a face: RGB picture [SHAPE, 3], class bits [SHAPE], and which bits are known in it."""

    picture: Picture
    bits: Picture
    known: int


def made_cut(seed: int) -> Cut:
    """One cut; the same for the same seed."""
    cv2.setNumThreads(1)
    rng = np.random.default_rng([seed, 20261125])
    if rng.random() < 0.45:
        return _photographed_cut(seed, rng)
    clear = rng.random() < 0.5
    board = _board(rng, seed, clear)
    length, width = min(CUT_MM[1], board.length), min(CUT_MM[0], board.width)
    left = 0.0 if rng.random() < 0.15 else float(rng.uniform(0, board.length - length))
    top = float(rng.choice([0.0, board.width - width, rng.uniform(0, board.width - width)]))
    face = Face.FRONT if rng.random() < 0.5 else Face.BACK
    shown = face_picture(board, face, PX_PER_MM, fine=2, span=(left, top, left + length, top + width))
    picture, bits = shown.rgb, _BIT_OF[shown.classes]
    cracked = cv2.dilate((bits == 2).astype(np.uint8), np.ones((3, 3), np.uint8))
    bits = np.where(cracked > 0, bits | 2, bits).astype(np.uint8)
    picture = _bench_round(picture, shown.classes == WoodClass.NO_WOOD, rng)
    if _transplants and rng.random() < (0.5 if clear else 0.4):
        for _ in range(int(rng.integers(1, 5))):
            picture, bits = _transplanted(picture, bits, rng)
    if rng.random() < (0.2 if clear else 0.4):
        picture, bits = faults_drawn(picture, bits, shown.classes == WoodClass.NO_WOOD, PX_PER_MM, rng)
    picture, bits = _cut_too_wide(picture, bits, rng)
    known = ALL_KNOWN if _seen_sapwood(board.log.species) else ALL_KNOWN - BITS["sapwood"]
    return Cut(filled(picture), filled(bits), known)


def _photographed_cut(seed: int, rng: np.random.Generator) -> Cut:
    """A cut as a phone would have it, chalk, pencil, dust and bench included."""
    shown = training_picture(seed, SHAPE[0], SHAPE[1], PX_PER_MM)
    outside = shown.classes == WoodClass.NO_WOOD
    bits = np.where(outside, 0, _BIT_OF[shown.classes]).astype(np.uint8)
    picture = shown.rgb
    if _transplants and rng.random() < 0.4:
        for _ in range(int(rng.integers(1, 4))):
            picture, bits = _transplanted(picture, bits, rng)
        bits[outside] = 0
    if rng.random() < 0.3:
        picture, bits = faults_drawn(picture, bits, outside, PX_PER_MM, rng)
    known = ALL_KNOWN if _seen_sapwood(SPECIES[shown.species]) else ALL_KNOWN - BITS["sapwood"]
    return Cut(filled(picture), filled(bits), known)


def _board(rng: np.random.Generator, seed: int, clear: bool) -> SawnBoard:
    names = list(SPECIES)
    wood = str(rng.choice(names, p=_likely(names)))
    log = grow_log(wood, seed, radius=float(rng.uniform(130, 330)))
    log = replace(log, species=_varied(log.species, rng))
    if not clear:
        per_metre = float(rng.choice([0, 6, 16, 40], p=[0.25, 0.35, 0.25, 0.15]))
        pins = float(rng.choice([0, 8, 40], p=[0.5, 0.3, 0.2]))
        log = grow_knots(log, seed, 1400, per_metre, pins)
    size = (float(rng.uniform(340, 700)), float(rng.uniform(90, 230)), float(rng.uniform(20, 50)))
    out = float(rng.uniform(0, 0.85)) * log.radius
    if rng.random() < 0.15:
        out = float(rng.uniform(-10, 10))  # boxed pith
    aside = float(rng.normal(0, 0.35)) * log.radius
    board = None
    for shrink in (1.0, 0.7, 0.4, 0.0):
        try:
            board = board_at(
                log,
                "1",
                size,
                float(rng.uniform(100, 600)),
                out * shrink,
                float(rng.uniform(0, 6.28)),
                aside * shrink,
                float(rng.normal(0, 0.02)),
                planed=bool(rng.random() < 0.75),
            )
        except ValueError:
            continue
        if board.width >= 60 and (shrink == 0.0 or rng.random() < 0.25 or not board.waney):
            break
    assert board is not None, "a board through the pith always holds wood"
    return board if clear else replace(board, extra=_extras(board, rng))


def _extras(board: SawnBoard, rng: np.random.Generator) -> tuple[Fault, ...]:
    extra: list[Fault] = []
    long, wide, thick = board.length, board.width, board.thickness
    for number in range(int(rng.poisson(0.8))):
        x, y = float(rng.uniform(0, long)), float(rng.uniform(5, wide - 5))
        z = 0.0 if rng.random() < 0.5 else thick
        gape = float(np.exp(rng.normal(-0.6, 0.6)))
        extra.append(
            check_at(
                board,
                f"check {number}",
                x,
                y,
                z,
                float(rng.uniform(20, 260)),
                float(rng.uniform(3, 20)),
                gape,
            )
        )
    for far in (False, True):
        if rng.random() < 0.3:
            y, reach = float(rng.uniform(10, wide - 10)), float(rng.uniform(20, 220))
            extra.append(split_at(board, f"split {far}", far, y, reach, float(np.exp(rng.normal(-0.1, 0.6)))))
    for number in range(int(rng.poisson(0.4))):
        x, y = float(rng.uniform(0, long)), float(rng.uniform(5, wide - 5))
        extra.append(
            ring_shake_at(
                board,
                f"shake {number}",
                x,
                y,
                float(rng.uniform(0, thick)),
                float(rng.uniform(40, 250)),
                float(rng.uniform(0.05, 0.3)),
                float(rng.uniform(0.6, 2.5)),
            )
        )
    for number in range(int(rng.poisson(0.7))):
        kind = DefectKind.BARK_POCKET if rng.random() < 0.6 else DefectKind.RESIN_POCKET
        at = (
            float(rng.uniform(0, long)),
            float(rng.uniform(5, wide - 5)),
            0.0 if rng.random() < 0.5 else thick,
        )
        half = (float(rng.uniform(5, 45)), float(rng.uniform(2, 10)), float(rng.uniform(2, 8)))
        extra.append(pocket_at(board, f"pocket {number}", kind, at, half))
    if rng.random() < 0.3:
        at = (float(rng.uniform(0, long)), float(rng.uniform(0, wide)), 0.0)
        half = (float(rng.uniform(60, 400)), float(rng.uniform(4, 30)), float(rng.uniform(4, 30)))
        extra.append(stain_at(board, "stain", at, half, bool(rng.random() < 0.5)))
    return tuple(extra)


def _likely(names: list[str]) -> NDArray[np.float64]:
    weight = np.array([0.5 if name == "pine" else 1.0 for name in names])
    return weight / weight.sum()


_LOOK = (
    "ring_width", "band", "line", "pore", "pore_long", "pore_wide", "ray", "ray_dark", "streak", "tint",
    "ray_high", "ray_thick", "crowd", "late_crowd", "ray_crowd",
)  # fmt: skip
_MIXED = ("heart", "sap", "tone", "knot")
_SIGNED = ("band", "crowd", "late_crowd", "ray_crowd")


def _varied(wood: Species, rng: np.random.Generator) -> Species:
    """Another species near this one, or between it and a second: not only those that have a name here."""
    if rng.random() < 0.35:
        wood = _between(wood, SPECIES[str(rng.choice(list(SPECIES)))], float(rng.uniform(0, 1)))
    change: dict[str, object] = {
        name: float(getattr(wood, name)) * float(np.exp(rng.normal(0, 0.4)))
        for name in _LOOK
        if name not in _SIGNED
    }
    change["band"] = float(np.clip(wood.band * np.exp(rng.normal(0, 0.4)) + rng.normal(0, 0.06), -0.15, 0.35))
    for name in ("late_crowd", "crowd", "ray_crowd"):
        change[name] = float(getattr(wood, name)) + float(rng.normal(0, 0.3))
    change["curl"] = float(rng.choice([wood.curl, 0.5], p=[0.7, 0.3]))
    if rng.random() < 0.5:
        bright = float(np.exp(rng.normal(0, 0.35)))
        mixed = [float(np.clip(v * bright * np.exp(rng.normal(0, 0.15)), 25, 245)) for v in wood.heart]
        change["heart"] = tuple(mixed)
    change["knot"] = _knot_colour(wood, change.get("heart", wood.heart), rng)
    return replace(wood, **change)  # type: ignore[arg-type]


def _between(one: Species, other: Species, share: float) -> Species:
    """A wood whose looks lie between those of two; whose pores it has stays one or the other's."""
    change: dict[str, object] = {
        name: (1 - share) * float(getattr(one, name)) + share * float(getattr(other, name)) for name in _LOOK
    }
    for name in _MIXED:
        pairs = zip(getattr(one, name), getattr(other, name), strict=True)
        change[name] = tuple((1 - share) * a + share * b for a, b in pairs)
    return replace(one, **change)  # type: ignore[arg-type]


def _knot_colour(wood: Species, heart: object, rng: np.random.Generator) -> tuple[float, ...]:
    """Darker or redder than the species' own, or hardly darker than its heartwood: pale knots are missed."""
    shade = float(np.exp(rng.normal(0, 0.3)))
    knot = np.array(wood.knot) * shade * np.exp(rng.normal(0, 0.06, 3))
    if rng.random() < 0.3:
        knot = np.array(heart) + (knot - np.array(heart)) * float(rng.uniform(0.25, 0.8))
    return tuple(float(v) for v in np.clip(knot, 15, 235))


def _seen_sapwood(wood: Species) -> bool:
    both = np.array([[wood.heart, wood.sap]], np.float32) / 255
    lab = cv2.cvtColor(both, cv2.COLOR_RGB2LAB)[0]
    return float(np.linalg.norm(lab[0] - lab[1])) > _PALE_SAPWOOD


def _bench_round(picture: Picture, outside: NDArray[np.bool_], rng: np.random.Generator) -> Picture:
    """Something other than black where there is no wood."""
    if not outside.any():
        return picture
    bench = rng.uniform(10, 230, 3) + cv2.resize(rng.normal(0, 12, (8, 16)), picture.shape[1::-1])[..., None]
    return np.where(outside[..., None], np.clip(bench, 0, 255), picture).astype(np.uint8)


def _cut_too_wide(picture: Picture, bits: Picture, rng: np.random.Generator) -> tuple[Picture, Picture]:
    """Sometimes a strip of bench along an edge or end, as when the corners were set a little too far out."""
    picture, bits = picture.copy(), bits.copy()
    for axis in (0, 0, 1, 1):
        if rng.random() < 0.12:
            strip = slice(0, int(rng.integers(1, 8)))
            if rng.random() < 0.5:
                strip = slice(-strip.stop, None)
            window = (strip,) if axis == 0 else (slice(None), strip)
            picture[window] = np.clip(rng.uniform(5, 235) + rng.normal(0, 5, picture[window].shape), 0, 255)
            bits[window] = 0
    return picture, bits


def filled(plane: Picture, shape: tuple[int, int] = SHAPE) -> Picture:
    """A picture or its bits mirrored out to a shape, that of all cuts, as often as that takes."""
    rows, columns = shape
    down, right = max(0, rows - plane.shape[0]), max(0, columns - plane.shape[1])
    while down or right:  # a mirror reaches no further than the picture is wide
        step = min(down, plane.shape[0]), min(right, plane.shape[1])
        plane = np.asarray(cv2.copyMakeBorder(plane, 0, step[0], 0, step[1], cv2.BORDER_REFLECT), np.uint8)
        down, right = down - step[0], right - step[1]
    return np.ascontiguousarray(plane[:rows, :columns], dtype=np.uint8)


# -- faults of real boards, as colour over that of the clear grain beside them

_transplants: list[tuple[Picture, Picture, int]] = []
_OFTEN = {BITS["knot"]: 0.64, BITS["crack"]: 0.22, BITS["pocket"]: 0.1, BITS["stain"]: 0.04}


def load_transplants(scans: Path | None) -> None:
    """Read the faults to be transplanted by `made_cut`; without a file there are none."""
    _transplants.clear()
    if scans is None:
        return
    with np.load(scans, allow_pickle=True) as packed:
        _transplants.extend(
            _tight(cv2.imdecode(ratio, cv2.IMREAD_COLOR), cv2.imdecode(mask, cv2.IMREAD_GRAYSCALE), int(bit))
            for ratio, mask, bit in zip(
                packed["patches"], packed["patch_masks"], packed["patch_bits"], strict=True
            )
        )


def _tight(ratio: Picture, mask: Picture, bit: int) -> tuple[Picture, Picture, int]:
    """A knot's mask drawn in to what is dark: those drawn by hand are generous."""
    if bit != BITS["knot"]:
        return ratio, mask, bit
    dark = cv2.GaussianBlur(128 - ratio.mean(axis=2).astype(np.float32), (0, 0), 1.0)
    inside = ((dark > 0.3 * np.percentile(dark[mask > 0], 90)) & (mask > 0)).astype(np.uint8)
    inside = cv2.morphologyEx(cv2.medianBlur(inside, 3), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    enough = (inside > 0).sum() > 0.3 * (mask > 0).sum()
    return ratio, np.where(mask > 0, inside * 255, 0).astype(np.uint8) if enough else mask, bit


def _transplanted(picture: Picture, bits: Picture, rng: np.random.Generator) -> tuple[Picture, Picture]:
    bit = int(rng.choice(list(_OFTEN), p=list(_OFTEN.values())))
    of_kind = [one for one in _transplants if one[2] == bit] or _transplants
    ratio, mask, bit = of_kind[int(rng.integers(len(of_kind)))]
    size, stretch = np.exp(rng.normal(0, 0.3)), np.exp(rng.normal(0, 0.15))
    ratio = cv2.resize(ratio, None, fx=size * stretch, fy=size / stretch, interpolation=cv2.INTER_LINEAR)
    mask = cv2.resize(mask, ratio.shape[1::-1], interpolation=cv2.INTER_NEAREST)
    for axis in (0, 1):
        if rng.random() < 0.5:
            ratio, mask = np.flip(ratio, axis), np.flip(mask, axis)
    high, wide = mask.shape
    if high >= picture.shape[0] or wide >= picture.shape[1]:
        return picture, bits
    top, left = int(rng.integers(picture.shape[0] - high)), int(rng.integers(picture.shape[1] - wide))
    window = np.s_[top : top + high, left : left + wide]
    near = cv2.dilate(np.ascontiguousarray(mask), np.ones((9, 9), np.uint8)).astype(np.float32) / 255
    soft = cv2.GaussianBlur(near, (0, 0), 2.0)[..., None]
    change = _other_look(ratio.astype(np.float32) / 128 + 0.02, rng)
    picture, bits = picture.copy(), bits.copy()
    blended = picture[window] * (1 + soft * (change - 1))
    picture[window] = np.clip(blended, 0, 255).astype(np.uint8)
    bits[window] = np.where(mask > 0, (bits[window] & 96) | bit, bits[window])
    return picture, bits


def _other_look(ratio: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.float32]:
    """A fault's colour over that of the clear grain as another wood might have it: fainter, greyer, redder.

    Softwood's knots are redder than hardwood's; on pale wood some are hardly darker than what is round them.
    """
    grey = ratio.mean(axis=2, keepdims=True)
    coloured = np.maximum(grey + (ratio - grey) * float(rng.uniform(0.2, 1.4)), 0.02)
    strength = float(rng.uniform(0.3, 0.7) if rng.random() < 0.4 else rng.uniform(0.6, 1.4))
    power = strength * np.exp(rng.normal(0, 0.15, 3)).astype(np.float32)
    return np.asarray(coloured**power, np.float32)
