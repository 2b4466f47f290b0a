"""An endless, seeded stream of true-scale pictures of boards with what is where in every pixel.

Each picture looks as if a phone had photographed a board and the picture had
been brought to true scale: blurred, compressed, unevenly lit, dusty, pencilled.
About half are hard negatives: boards without a fault whose pores, rays,
cathedrals, curl, mineral streaks or pencil lines would like to be one.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from layout.stock import DefectKind, Face
from samples.wood import finish
from samples.wood.faults import Fault
from samples.wood.light import Light, glare, grain, lit
from samples.wood.log import grow_log
from samples.wood.noise import Floats, noise
from samples.wood.picture import WoodClass, face_picture
from samples.wood.sawn import SawnBoard
from samples.wood.species import SPECIES
from samples.wood.stock import (
    board_at,
    check_at,
    flatness_at,
    grow_knots,
    heart_shake_at,
    knot_through,
    looks,
    pocket_at,
    ring_shake_at,
    split_at,
    stain_at,
    with_branches,
)

__all__ = ["TrainingPicture", "training_picture", "training_pictures"]

_STEEP = 0.35  # checks and splits do not open on quartered faces, where they would lie in the face
Spot = Callable[[], tuple[float, float]]

_WEIGHTS = {"European oak": 4.0, "red oak": 2.0, "ash": 2.0, "pine": 1.0}


@dataclass(frozen=True)
class TrainingPicture:
    """One picture.

    Parameters
    ----------
    rgb : uint8 array [h, w, 3]
    classes : uint8 array [h, w]
        Values of `samples.wood.picture.WoodClass`.
    species : str
    clear : bool
        Nothing is wrong with it: a hard negative (it may have sapwood).
    px_per_mm : float
    """

    rgb: NDArray[np.uint8]
    classes: NDArray[np.uint8]
    species: str
    clear: bool
    px_per_mm: float


def training_pictures(first: int = 0) -> Iterator[TrainingPicture]:
    """Pictures of seed `first`, `first` + 1, and so on without end."""
    seed = first
    while True:
        yield training_picture(seed)
        seed += 1


def training_picture(
    seed: int,
    height: int = 256,
    width: int = 1024,
    px_per_mm: float = 1.0,
    species: str | None = None,
    clear: bool | None = None,
) -> TrainingPicture:
    """The picture of a seed; size in pixels, grain along x.

    Where the board is narrower than the picture the rest is ground, class
    NO_WOOD.
    """
    rng = np.random.default_rng((seed, 77))
    names = tuple(SPECIES)
    weight = np.array([_WEIGHTS.get(name, 1.0) for name in names])
    chosen = species or str(rng.choice(names, p=weight / weight.sum()))
    without = bool(rng.random() < 0.5) if clear is None else clear
    board, at_x = _some_board(chosen, seed, rng, width / px_per_mm, height / px_per_mm, without)
    board = replace(board, planed=bool(rng.random() < 0.7))
    photo_scale = px_per_mm * float(np.clip(rng.lognormal(0.12, 0.25), 0.75, 1.7))
    field, classes = _rendered(board, rng, at_x, (width / px_per_mm, height / px_per_mm), photo_scale)
    rgb = _photographed(field, rng)
    size = (width, height)
    rgb = np.asarray(
        cv2.resize(rgb, size, interpolation=cv2.INTER_AREA if photo_scale > px_per_mm else cv2.INTER_CUBIC)
    )
    return TrainingPicture(np.asarray(rgb, np.uint8), _mask_at(classes, size), chosen, without, px_per_mm)


def _some_board(
    species: str, seed: int, rng: np.random.Generator, long: float, high: float, clear: bool
) -> tuple[SawnBoard, float]:
    """A board, and where along it the picture begins [mm]."""
    radius = float(rng.uniform(150, 420))
    log = grow_log(species, int(rng.integers(1, 10**6)), radius)
    wide = float(np.clip(rng.normal(1.05, 0.35) * high, 0.35 * high, 1.6 * high))
    length = long + float(rng.choice([0.0, rng.uniform(100, 1500)]))
    out = float(rng.uniform(0.02, 0.95)) * (radius - 20)
    reach = max(radius - 0.5 * wide, 15.0) if rng.random() < 0.75 else radius
    aside = float(rng.uniform(-1, 1)) * min(reach, np.sqrt(max(radius**2 - out**2, 100.0)))
    if clear:  # away from the pith, and inside the bark
        out = max(out, 35.0)
        limit = max(np.sqrt(max((radius - 8) ** 2 - out**2, 0.0)) - wide / 2, 0.0)
        aside = float(np.clip(aside, -limit, limit))
    else:
        if rng.random() < 0.15:  # sawn through the heart
            out, aside = float(rng.uniform(-4, 6)), float(rng.uniform(-0.35, 0.35)) * wide
        log = grow_knots(
            log,
            seed + 5,
            length + 600,
            float(rng.choice([0.5, 2.0, 5.0])),
            float(rng.choice([0.0, 2.0, 8.0])),
        )
    turn, slope = float(rng.uniform(0, 6.28)), float(rng.normal(0, 0.012))
    board = board_at(log, "made", (length, wide, 28.0), 300.0, out, turn, aside, slope)
    if not clear:
        board = _with_faults(board, rng)
    at_x = float(rng.choice([0.0, board.length - long, rng.uniform(0, max(board.length - long, 0.01))]))
    return board, at_x


def _with_faults(board: SawnBoard, rng: np.random.Generator) -> SawnBoard:
    """The board with knots that surely meet the front, and fissures, pockets and stains."""
    length, width = board.length, board.width

    def spot() -> tuple[float, float]:
        return float(rng.uniform(0.02, 0.98)) * length, float(rng.uniform(0.05, 0.95)) * width

    knots = []
    for number in range(int(rng.poisson(1.8 * length / 1000))):
        x, y = spot()
        pin = bool(rng.random() < 0.3)
        radius = float(rng.uniform(1.0, 2.8)) if pin else float(np.clip(rng.lognormal(2.1, 0.6), 3.0, 42))
        alive = 60.0 if rng.random() < 0.55 else -float(rng.uniform(0, 60))
        knots.append(
            replace(
                knot_through(
                    board, f"front knot {number}", (x, y, 0.0), radius, float(rng.uniform(0.05, 0.9)), alive,
                    0.0 if alive > 0 else float(rng.uniform(60, 140)), pin,
                ),
                **looks(rng),
            )
        )  # fmt: skip
    board = with_branches(board, tuple(knots))
    return replace(board, extra=tuple(_fissures(board, rng, spot)) + tuple(_blemishes(board, rng, spot)))


def _fissures(board: SawnBoard, rng: np.random.Generator, spot: Spot) -> Iterator[Fault]:
    for number in range(int(rng.poisson(0.9))):
        x, y = spot()
        if flatness_at(board, x, y) < _STEEP:
            continue
        long, deep = float(rng.uniform(25, 220)), float(rng.uniform(2, 14))
        yield check_at(board, f"check {number}", x, y, 0.0, long, deep, float(rng.uniform(0.4, 1.8)))
    for far_end in (False, True):
        for number in range(int(rng.poisson(0.5))):
            y = float(rng.uniform(0.08, 0.92)) * board.width
            if flatness_at(board, board.length if far_end else 0.0, y) < _STEEP:
                continue
            name = f"split {far_end} {number}"
            yield split_at(board, name, far_end, y, float(rng.uniform(25, 260)), float(rng.uniform(0.8, 4)))
    if rng.random() < 0.5:
        yield from heart_shake_at(board, "heart shake", rng)
    if rng.random() < 0.12:
        x, y = spot()
        long, arc = float(rng.uniform(80, 400)), float(rng.uniform(0.1, 0.5))
        yield ring_shake_at(board, "ring shake", x, y, 0.0, long, arc, float(rng.uniform(0.6, 2)))


def _blemishes(board: SawnBoard, rng: np.random.Generator, spot: Spot) -> Iterator[Fault]:
    softwood = board.log.species.porous == 0
    for number in range(int(rng.poisson(0.5))):
        resin = softwood or (board.log.species.name == "cherry" and rng.random() < 0.7) or rng.random() < 0.15
        kind = DefectKind.RESIN_POCKET if resin else DefectKind.BARK_POCKET
        half = (float(rng.uniform(8, 45)), float(rng.uniform(2, 9)), float(rng.uniform(1, 5)))
        yield pocket_at(board, f"pocket {number}", kind, (*spot(), 0.0), half)
    for number in range(int(rng.poisson(0.3))):
        wide = float(rng.uniform(6, 30))
        half = (wide * float(rng.uniform(2.0, 9.0)), wide, float(rng.uniform(8, 40)))
        yield stain_at(board, f"stain {number}", (*spot(), 0.0), half, bool(rng.random() < 0.5))


def _rendered(
    board: SawnBoard,
    rng: np.random.Generator,
    at_x: float,
    size: tuple[float, float],
    scale: float,
) -> tuple[Floats, NDArray[np.uint8]]:
    """Colours and classes of the picture's field, ground filled in."""
    wide, high = round(size[0] * scale), round(size[1] * scale)
    top = float(rng.uniform(0, max(board.width - size[1], 0))) if rng.random() < 0.7 else 0.0
    span = (at_x, top, min(at_x + size[0], board.length), min(top + size[1], board.width))
    shown = face_picture(board, Face.FRONT, scale, fine=2, span=span)
    h, w = shown.classes.shape
    colour = shown.rgb.astype(np.float32)
    x = np.asarray(at_x + np.arange(w)[None, :] / scale, np.float32)
    y = np.asarray(top + np.arange(h)[:, None] / scale, np.float32)
    _finished(colour, x, y, scale, rng, board)
    rgb = _background((high, wide), rng)
    classes = np.full((high, wide), WoodClass.NO_WOOD, np.uint8)
    down = int(rng.integers(0, high - h + 1)) if h < high else 0
    high_in, wide_in = min(h, high), min(w, wide)
    wood = (shown.classes[:high_in, :wide_in] != WoodClass.NO_WOOD)[..., None]
    field = rgb[down : down + high_in, :wide_in]
    field[...] = np.where(wood, colour[:high_in, :wide_in], field)
    classes[down : down + high_in, :wide_in] = shown.classes[:high_in, :wide_in]
    return rgb, classes


def _finished(
    colour: Floats,
    x: Floats,
    y: Floats,
    scale: float,
    rng: np.random.Generator,
    board: SawnBoard,
) -> None:
    if board.log.species.porous in (0.0, 1.0) and rng.random() < 0.3:
        finish.mineral_streaks(colour, x, y, rng)
    if board.planed:
        finish.planed(colour, x, y, rng)
    if rng.random() < 0.15:
        finish.stickered(colour, x, y, rng)
    if rng.random() < 0.3:
        finish.dusted(colour, x, y, rng)
    if rng.random() < 0.35:
        finish.pencilled(colour, scale, rng)
    if rng.random() < 0.3:
        finish.chalked(colour, scale, rng)


def _background(shape: tuple[int, int], rng: np.random.Generator) -> Floats:
    x = np.arange(shape[1], dtype=np.float32)[None, :]
    y = np.arange(shape[0], dtype=np.float32)[:, None]
    size = float(rng.choice([3.0, 30.0, 200.0]))
    rough = noise(x, y, size * float(rng.uniform(1, 6)), size, int(rng.integers(1, 9999)))
    base = np.asarray(rng.uniform(25, 190, 1) + rng.normal(0, 12, 3), np.float32)
    return np.asarray(base * np.exp(np.float32(0.12) * rough)[..., None], np.float32)


def _photographed(rgb: Floats, rng: np.random.Generator) -> NDArray[np.uint8]:
    """The field as a phone would have it."""
    light = replace(
        Light.some(rng),
        gradient=(float(rng.uniform(-0.25, 0.25)), float(rng.uniform(-0.2, 0.2))),
        warm=float(rng.normal(0, 0.07)),
        gain=_exposure(rgb) * float(np.exp(rng.normal(0, 0.12))),
        shadow=float(rng.uniform(0.1, 0.5)) if rng.random() < 0.25 else 0.0,
    )
    picture = lit(rgb, light, rng)
    if rng.random() < 0.15:
        glare(picture, rng)
    bend = float(np.exp(rng.normal(0, 0.12)))
    picture = np.asarray(255 * np.power(np.clip(picture / 255, 0, 1), bend), np.float32)
    blur = float(np.clip(rng.lognormal(-0.35, 0.45), 0.25, 2.2))
    picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), blur), np.float32)
    if rng.random() < 0.3:  # the phone sharpens
        soft = cv2.GaussianBlur(picture, (0, 0), 1.2)
        picture = picture + np.float32(rng.uniform(0.3, 0.9)) * (picture - soft)
    picture = picture + grain(picture, float(rng.uniform(0.5, 5.0)), rng)
    whole = np.asarray(np.clip(picture + 0.5, 0, 255), np.uint8)
    done, data = cv2.imencode(".jpg", whole, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(55, 96))])
    if not done:
        raise RuntimeError("the picture could not be written as JPEG")
    back = cv2.imdecode(data, cv2.IMREAD_COLOR)
    if back is None:
        raise RuntimeError("the picture could not be read back")
    return np.asarray(back, np.uint8)


def _exposure(rgb: Floats) -> float:
    """The gain a phone would choose: towards mid grey, but not all the way, and without burning out."""
    wood = rgb[::7, ::7].mean(axis=2)
    towards = float((135 / float(wood.mean())) ** 0.55)
    return min(towards, 222 / float(np.percentile(wood, 97)))


def _mask_at(classes: NDArray[np.uint8], size: tuple[int, int]) -> NDArray[np.uint8]:
    """Classes at the picture's own scale; thin fissures are kept."""
    small = np.asarray(cv2.resize(classes, size, interpolation=cv2.INTER_NEAREST), np.uint8)
    for kind in (WoodClass.CHECK, WoodClass.SPLIT, WoodClass.SHAKE):
        share = cv2.resize((classes == kind).astype(np.float32), size, interpolation=cv2.INTER_AREA)
        small[np.asarray(share) > 0.2] = kind
    return small
