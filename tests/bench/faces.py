"""Faces of boards with what is true of them, domain by domain; no suggester was tuned on them.

Scans are split by board: boards B, D and E and every second run of five hundred rare
frames were never learned from. Made boards come from seeds of their own.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, box

from layout.outline import Outline
from layout.stock import Face
from samples.training.pack_scans import for_testing
from samples.training.scribbles import CHALK, PEN, PENCIL, TAPE, scribble
from samples.wood.camera import camera_over, photograph
from samples.wood.ground import GROUNDS
from samples.wood.log import grow_log
from samples.wood.picture import WoodClass, face_picture
from samples.wood.species import SPECIES
from samples.wood.stock import board_at, check_at, grow_knots, knot_through, looks, split_at, with_branches
from samples.wood.training import training_picture
from tests.vision.suggest.scans import rare_frames, scanned_boards
from vision.photo import read_photo
from vision.rectify import true_scale

SCALE = 2.0
GROUPS = {
    "knot": ("SOUND_KNOT", "DEAD_KNOT", "PIN_KNOT"),
    "crack": ("CHECK", "SPLIT", "SHAKE"),
    "pocket": ("BARK_POCKET", "RESIN_POCKET"),
    "stain": ("STAIN",),
    "pith": ("PITH",),
    "sapwood": ("SAPWOOD",),
    "wane": ("WANE",),
}
GROUP_OF = {name: group for group, names in GROUPS.items() for name in names}
_FIRST = 610_000  # of the made boards' seeds
_SPECK_MM2, _WISP_MM2 = 2.5, 60.0
Picture = NDArray[np.uint8]


@dataclass(frozen=True)
class SeenFace:
    """A true-scale picture at two pixels per millimetre, what it is, and its true outlines [mm] by group.

    A mark may lie `slack` beside a true one [mm]; "speck" is what need not be found, but is no clear wood.
    On a `pale` wood the sapwood is a little paler than the heartwood and its border is not among the
    outlines: whoever marks it is neither right nor wrong. (Made with sapwood like the heartwood, the
    same boards get no such mark.)
    """

    name: str
    picture: Picture
    truth: list[tuple[str, Outline]]
    slack: float = 1.0
    pale: bool = False

    @property
    def metres(self) -> float:
        return self.picture.shape[1] / SCALE / 1000


def scans(shared: Path) -> Iterator[SeenFace]:
    for name, picture, truth in scanned_boards(shared):
        if name.startswith(("board_B", "board_D", "board_E")):
            yield SeenFace(name[:7], picture, truth)


def halves_joined(face: SeenFace) -> SeenFace:
    """The face with knots made whole that a joint between two frames cut into two labels.

    Two labels are halves of one where they end and begin within 1.5 mm along the board and
    share half of the lower one's height.
    """
    knots = sorted((Polygon(ring).buffer(0) for group, ring in face.truth if group == "knot"), key=_left)
    whole: list[Polygon] = []
    for knot in knots:
        x0, y0, _, y1 = knot.bounds
        for index, other in enumerate(whole):
            _, b0, a1, b1 = other.bounds
            if abs(x0 - a1) <= 1.5 and min(y1, b1) - max(y0, b0) >= 0.5 * min(y1 - y0, b1 - b0):
                whole[index] = other.union(knot).convex_hull
                break
        else:
            whole.append(knot)
    rings = [("knot", tuple(one.convex_hull.exterior.coords[:-1])) for one in whole]
    return replace(face, truth=[mark for mark in face.truth if mark[0] != "knot"] + rings)


# Middles [mm] of what lies on boards B, D and E and nobody labelled: looked at one by one, from the marks
# that today's weights and those before them suggest there. Knots, pin knots, a resin streak, an end check.
_NOT_LABELLED = {
    "board_B": ((434, 61), (2260, 46), (2226, 68), (3591, 139), (3777, 118), (2992, 106)),
    "board_D": ((4288, 122), (1630, 73)),
    "board_E": ((2080, 103), (906, 69), (2852, 96), (597, 72), (2360, 130)),
}


def unlabelled_left_out(face: SeenFace) -> SeenFace:
    """The face with what is really there but was not labelled as what need not be found and may be marked."""
    there = [box(x - 4, y - 4, x + 4, y + 4) for x, y in _NOT_LABELLED.get(face.name, ())]
    specks = [("speck", tuple(one.exterior.coords[:-1])) for one in there]
    return replace(face, truth=[*face.truth, *specks])


def _left(shape: Polygon) -> float:
    return float(shape.bounds[0])


def rare(shared: Path) -> Iterator[SeenFace]:
    for name, picture, truth in rare_frames(shared):
        if for_testing(name):
            yield SeenFace(name, picture, truth)


def cubes(shared: Path) -> Iterator[SeenFace]:
    """The faces of the clear ring-porous cube that were not learned from, at a guessed four pixels per mm."""
    for face in "BDF":
        picture = cv2.imread(str(shared / "data" / "wood_cubes" / f"CN03_{face}.png"))
        whole = cv2.cvtColor(picture, cv2.COLOR_BGR2RGB)[8:-8, 8:-8]
        half = cv2.resize(whole, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        for turns in (0, 1):
            yield SeenFace("ring-porous cube", np.ascontiguousarray(np.rot90(half, turns)), [])


def made(clear: bool, each: int = 2, first: int = _FIRST) -> Iterator[SeenFace]:
    """Made boards as a phone would have them, so many of every species."""
    for number, species in enumerate(SPECIES):
        for turn in range(each):
            seed, high = first + 100 * number + turn + 50 * clear, 300 + 40 * ((number + turn) % 4)
            seen = training_picture(seed, high, 1800, SCALE, species=species, clear=clear)
            picture, classes = _of_the_board(seen.rgb, seen.classes, seed)
            yield SeenFace(species, picture, outlines_in(classes), pale=not SPECIES[species].sap_shows)


def spiked(first: int = _FIRST) -> Iterator[SeenFace]:
    """Quartered boards whose branches were sawn lengthwise: spikes that run across the face."""
    for number, species in enumerate(SPECIES):
        rng = np.random.default_rng([first, number, 1])
        out, aside = float(rng.uniform(5, 16)), float(rng.uniform(65, 105))
        yield _branched(species, first + number, rng, out, aside, _spikes_at)


def clustered(first: int = _FIRST) -> Iterator[SeenFace]:
    """Flat-sawn boards with small shoots side by side, as in a cat's paw; some of them touch."""
    for number, species in enumerate(SPECIES):
        rng = np.random.default_rng([first, number, 2])
        yield _branched(species, first + number, rng, float(rng.uniform(60, 120)), 0.0, _shoots_at)


Spots = Iterator[tuple[float, float, float, bool]]


def _spikes_at(rng: np.random.Generator, length: float, width: float) -> Spots:
    """Along, across, radius, whether a mere shoot."""
    for x in np.arange(120.0, length - 80, 230):
        yield x + float(rng.uniform(-50, 50)), 0.8 * width, float(rng.uniform(3.0, 9.0)), False


def _shoots_at(rng: np.random.Generator, length: float, width: float) -> Spots:
    for x in np.arange(120.0, length - 80, 230):
        y, reach = float(rng.uniform(0.15, 0.85)) * width, float(rng.uniform(3, 9))
        for _ in range(int(rng.integers(3, 8))):
            yield (
                x + float(rng.normal(0, reach)),
                y + float(rng.normal(0, reach)),
                float(rng.uniform(1.0, 2.4)),
                True,
            )


def _branched(
    species: str, seed: int, rng: np.random.Generator, out: float, aside: float,
    spots: Callable[[np.random.Generator, float, float], Spots],
) -> SeenFace:  # fmt: skip
    log = grow_log(species, seed, float(rng.uniform(190, 280)))
    board = board_at(log, "1", (900.0, 130.0, 27.0), 300.0, out, float(rng.uniform(0, 6.28)), aside)
    branches = [
        replace(
            knot_through(board, f"branch {n}", (x, y, 0.0), radius, float(rng.uniform(0.0, 0.4)), pin=pin),
            **(looks(rng) | {"hole": False}),
        )
        for n, (x, y, radius, pin) in enumerate(spots(rng, board.length, board.width))
    ]
    shown = face_picture(with_branches(board, tuple(branches)), Face.FRONT, SCALE, fine=2)
    soft = cv2.GaussianBlur(shown.rgb, (0, 0), float(rng.uniform(0.4, 1.0)))
    packed = cv2.imencode(".jpg", soft[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 80])[1]
    picture = np.ascontiguousarray(cv2.imdecode(packed, cv2.IMREAD_COLOR)[..., ::-1])
    return SeenFace(species, picture, outlines_in(shown.classes), pale=not SPECIES[species].sap_shows)


# What each pen leaves: its colours, least and most of the wood it covers, how rough it is.
_PENS = {
    PENCIL: (((70, 70, 74), (84, 82, 84)), 0.35, 0.8, 0.5),
    CHALK: (((236, 236, 230), (232, 214, 110), (60, 60, 64), (200, 70, 60), (40, 70, 140)), 0.5, 0.9, 1.0),
    PEN: (((24, 24, 28), (30, 36, 110), (150, 30, 30)), 0.6, 0.95, 0.1),
    TAPE: (((226, 212, 170), (236, 236, 232), (70, 120, 190)), 0.7, 1.0, 0.0),
}


def scribbled(faces: Iterator[SeenFace]) -> Iterator[SeenFace]:
    """Faces that a maker has written on and taped, half of it in letters and shapes never learned from."""
    for number, face in enumerate(faces):
        rng = np.random.default_rng([number, 404])
        picture = face.picture.astype(np.float64)
        for left in range(0, picture.shape[1], 512):
            window = np.s_[:, left : left + 512]
            some = scribble(rng, picture[window].shape[:2], SCALE, for_tests=True)
            colours, least, most, rough = _PENS[some.pen]
            share = some.cover / 255 * rng.uniform(least, most)
            share = share * np.clip(1.35 - rough * 1.3 * rng.random(share.shape), 0, 1)
            colour = np.array(colours[int(rng.integers(len(colours)))]) * (some.tone[..., None] / 255)
            soft = cv2.GaussianBlur(share, (0, 0), 0.6)[..., None]
            picture[window] += (colour - picture[window]) * soft
        yield replace(face, picture=_clipped(picture))


def _of_the_board(picture: Picture, classes: Picture, seed: int) -> tuple[Picture, Picture]:
    """The rows that a true-scale picture has: those of the board, give or take what corners are off by."""
    rows = np.flatnonzero((classes != WoodClass.NO_WOOD).mean(axis=1) > 0.5)
    off = np.round(np.random.default_rng(seed).normal(0, 1.0, 2) * SCALE).astype(int)
    window = slice(max(0, rows[0] + off[0]), rows[-1] + 1 + off[1])
    return np.ascontiguousarray(picture[window]), np.ascontiguousarray(classes[window])


def outlines_in(classes: Picture) -> list[tuple[str, Outline]]:
    """Outlines of what a made picture shows, by group.

    A stain frays out into wisps along the grain: those near one another are one stain, as anybody would
    mark it, and a wisp by itself need not be found.
    """
    truth: list[tuple[str, Outline]] = []
    for group, names in GROUPS.items():
        mask = np.isin(classes, [WoodClass[name] for name in names]).astype(np.uint8)
        if group == "crack":
            mask = cv2.dilate(mask, np.ones((3, 3), np.uint8))
        if group == "stain":
            mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((9, 25), np.uint8))
        least = _WISP_MM2 if group == "stain" else _SPECK_MM2
        for ring in cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)[0]:
            if len(ring) > 2:
                large = cv2.contourArea(ring) > least * SCALE**2
                outline = tuple((float(x), float(y)) for x, y in ring[:, 0] / SCALE)
                truth.append((group if large else "speck", outline))
    return truth


def photographed(count: int = 20, first: int = _FIRST) -> Iterator[SeenFace]:
    """Whole boards of the wood model under its camera, brought to true scale from the clicked corners."""
    for number in range(count):
        rng = np.random.default_rng(first + number)
        species = list(SPECIES)[number % len(SPECIES)]
        log = grow_log(species, first + number, float(rng.uniform(150, 300)))
        if number % 2 == 0:
            log = grow_knots(log, number, 3000, 12, 4)
        size = (float(rng.uniform(900, 1600)), float(rng.uniform(110, 190)), 27.0)
        out, aside = float(rng.uniform(35, 100)), float(rng.uniform(-30, 30))
        board = board_at(log, species, size, 300, out, float(rng.uniform(0, 6.28)), aside)
        if number % 2 == 0:
            x, y = 0.5 * board.length, 0.4 * board.width
            split = split_at(board, "split", number % 4 == 0, y, float(rng.uniform(40, 200)), 1.6)
            check = check_at(board, "check", x, 0.6 * board.width, 0.0, float(rng.uniform(40, 180)), 6.0, 1.0)
            board = replace(board, extra=(split, check))
        camera = camera_over(board, rng, 3000, 2000, tilt=8, bow=0.05)
        taken = photograph(board, Face.FRONT, camera, first + number, ground=GROUNDS[number % len(GROUNDS)])
        clicked = taken.corners_px + rng.normal(0, 1.0, (4, 2))
        made = true_scale(read_photo(taken.jpeg), clicked, board.length, board.width, px_per_mm=SCALE)
        truth = [
            (
                GROUP_OF[known.kind[Face.FRONT].name] if Polygon(outline).area > _SPECK_MM2 else "speck",
                outline,
            )
            for known in taken.faults
            for outline in known.shows.get(Face.FRONT, ())
        ]
        # an unknown lens leaves the picture a few millimetres off: that is measured elsewhere
        pale = not SPECIES[species].sap_shows
        yield SeenFace(species, np.ascontiguousarray(made.picture), truth, slack=6.0, pale=pale)


# -- what a workshop and a phone may do to a picture, harder than any that was learned from


def _as_is(picture: Picture, rng: np.random.Generator) -> Picture:
    return picture


def _steep_light(picture: Picture, rng: np.random.Generator) -> Picture:
    """One end three times as bright as the other, and a window's patch of sun."""
    rows, columns = picture.shape[:2]
    x = np.linspace(-1, 1, columns)[None, :, None] * (1 if rng.random() < 0.5 else -1)
    y = np.linspace(-1, 1, rows)[:, None, None]
    light = np.exp(0.5 * x + 0.2 * y)
    light[:, columns // 3 : columns // 2] *= 1.3
    return _clipped(picture * light)


def _poor_jpeg(picture: Picture, rng: np.random.Generator) -> Picture:
    packed = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 25])[1]
    return np.ascontiguousarray(cv2.imdecode(packed, cv2.IMREAD_COLOR)[..., ::-1])


def _blurred(picture: Picture, rng: np.random.Generator) -> Picture:
    """Out of focus, and the hand moved."""
    return np.asarray(cv2.blur(cv2.GaussianBlur(picture, (0, 0), 1.8), (7, 1)), dtype=np.uint8)


def _off_white(picture: Picture, rng: np.random.Generator) -> Picture:
    """Lamp light, or a blue window, taken for white."""
    gain = (1.25, 1.0, 0.6) if rng.random() < 0.5 else (0.75, 1.0, 1.3)
    return _clipped(picture * gain)


def _coarse(picture: Picture, rng: np.random.Generator) -> Picture:
    """From a picture of 0.7 pixels per millimetre."""
    small = cv2.resize(picture, None, fx=0.35, fy=0.35, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(small, picture.shape[1::-1], interpolation=cv2.INTER_CUBIC), dtype=np.uint8)


def _noisy(picture: Picture, rng: np.random.Generator) -> Picture:
    """A dark shed: little light, much noise."""
    return _clipped(picture * 0.45 + cv2.GaussianBlur(rng.normal(0, 9, picture.shape), (0, 0), 0.6) * 1.6)


def _clipped(picture: NDArray[np.float64]) -> Picture:
    return np.clip(picture, 0, 255).astype(np.uint8)


CONDITIONS: dict[str, Callable[[Picture, np.random.Generator], Picture]] = {
    "as photographed": _as_is,
    "steep light": _steep_light,
    "JPEG quality 25": _poor_jpeg,
    "blurred": _blurred,
    "white balance off": _off_white,
    "0.7 px/mm": _coarse,
    "dark and noisy": _noisy,
}


def under(condition: str, faces: Iterator[SeenFace]) -> Iterator[SeenFace]:
    change = CONDITIONS[condition]
    for number, face in enumerate(faces):
        yield replace(face, picture=change(face.picture, np.random.default_rng(number)))


def depth_of(
    rings: list[Outline], length: float, width: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far outlines reach in from the near edge and from the far edge, every ten millimetres [mm]."""
    near, far = np.zeros(int(length // 10)), np.zeros(int(length // 10))
    for shape in (Polygon(ring).buffer(0) for ring in rings):
        for column in range(len(near)):
            cut = shape.intersection(box(10 * column + 4, 0, 10 * column + 6, width))
            if cut.is_empty:
                continue
            _, y0, _, y1 = cut.bounds
            if y0 < width - y1:
                near[column] = max(near[column], y1)
            else:
                far[column] = max(far[column], width - y0)
    return near, far
