"""The two faces of waney boards end to end, from a photograph of each: how true the other face's faults are.

``pytest tests/bench/test_two_faces_bench.py -m bench -s``: boards of our own wood model cut beside the
bark, both faces photographed by our own camera, the lens unknown, corners on the wood to a pixel, three
widths of each face read to +-1 mm. `BENCH_FACES` is how many.
"""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

import ui.survey
from layout.stock import Face, Turn
from samples.wood.camera import Camera, camera_over, photograph
from samples.wood.ground import GROUNDS
from samples.wood.log import grow_log
from samples.wood.sawn import SawnBoard
from samples.wood.species import SPECIES
from samples.wood.stock import board_at
from samples.wood.truth import face_outline
from ui.face_records import FaceRecord, Place
from ui.jobfile import BoardRecord
from ui.survey import surveyed_board
from vision import rectify
from vision.frame import Frame
from vision.rectify import TrueScale, true_scale

pytestmark = pytest.mark.bench

LENGTH, ROOM, THICK = 1500.0, 330.0, 34.0
FIRST = int(os.environ.get("BENCH_FIRST", "1"))
BOARDS = int(os.environ.get("BENCH_FACES", "40"))
HOLES = ((300.0, 150.0), (1200.0, 180.0))
GRID = np.stack(np.meshgrid(np.linspace(60, LENGTH - 60, 13), [120.0, 165.0, 210.0]), -1).reshape(-1, 2)
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Taken:
    """A board, what was read of it and its photographs."""

    name: str
    board: SawnBoard
    cameras: dict[Face, Camera]
    jpegs: dict[Face, bytes]
    edges: dict[Face, Floats]  # [stations, 2] in the board frame, at three stations
    turned: Turn


def taken(seed: int) -> Taken | None:
    """Both faces of a board cut beside the bark; None where none shows."""
    rng, species = np.random.default_rng(seed), sorted(SPECIES)[seed % len(SPECIES)]
    log = grow_log(species, seed + 3, radius=190.0)
    heart, aside = float(rng.uniform(90, 130)), float(rng.uniform(-20, 20))
    turned = list(Turn)[seed % 2]
    board = board_at(log, str(seed), (LENGTH, ROOM, THICK), 300.0, heart, aside=aside, turned=turned)
    if not board.waney:
        return None
    cameras, jpegs, edges = {}, {}, {}
    ground = GROUNDS[seed % len(GROUNDS)]
    for face in Face:
        cameras[face] = camera_over(board, rng, 2400, 1600, fill=0.85, tilt=8, bow=0.08)
        jpegs[face] = photograph(board, face, cameras[face], seed, ground=ground, faults=()).jpeg
        outline = Polygon(face_outline(board, face))
        spans = [outline.intersection(box(x - 1, -50, x + 1, 500)).bounds for x in (2.0, 750.0, LENGTH - 2)]
        edges[face] = np.array([[low, high] for _, low, _, high in spans])
    return Taken(f"{seed} {ground} {species}", board, cameras, jpegs, edges, turned)


def seen(one: Taken, face: Face, points: Floats) -> Floats:
    """Points of the board frame as the face is seen."""
    if face is Face.FRONT:
        return points
    x, y = points.T
    return np.column_stack([x, one.board.width - y] if one.turned is Turn.ROLLED else [LENGTH - x, y])


def in_photo(one: Taken, face: Face, points: Floats) -> Floats:
    at = seen(one, face, np.asarray(points, dtype=np.float64))
    return one.cameras[face].project(np.column_stack([at, np.zeros(len(at))]))


def record_of(one: Taken, rng: np.random.Generator, readings: int, places: int) -> BoardRecord:
    """What the maker read, with so many readings of the back beyond the front and places of both faces."""
    faces, widths = {}, {}
    at = np.array([0.0, LENGTH / 2, LENGTH])
    for face in Face:
        (a, b), (c, d) = one.edges[face][[0, 2]]
        ring = [[0, a], [LENGTH, c], [LENGTH, d], [0, b]]
        if face is Face.BACK:  # from the left upper corner as it is seen
            ring = [ring[i] for i in ((3, 2, 1, 0) if one.turned is Turn.ROLLED else (1, 0, 3, 2))]
        corners = in_photo(one, face, np.array(ring)) + rng.normal(0, 1.0, (4, 2))
        holes = in_photo(one, face, np.array(HOLES)) + rng.normal(0, 1.5, (2, 2))
        faces[face] = FaceRecord(
            photo=f"{face.value}.jpg",
            corners_px=tuple((float(x), float(y)) for x, y in corners),
            places=tuple(
                Place(name=name, at_px=(float(x), float(y)))
                for name, (x, y) in zip("AB"[:places], holes, strict=False)
            ),
        )
        read = np.diff(one.edges[face], axis=1)[:, 0] + rng.normal(0, 0.5, 3)
        widths[face] = tuple((float(x), float(round(w))) for x, w in zip(at, read, strict=True))
    out = one.edges[Face.FRONT][[0, 2], 0] - one.edges[Face.BACK][[0, 2], 0] + rng.normal(0, 0.5, 2)
    return BoardRecord(
        id="1",
        length=LENGTH,
        widths=widths[Face.FRONT],
        back_widths=widths[Face.BACK],
        back_edge=tuple((float(x), float(round(v))) for x, v in zip((0.0, LENGTH), out, strict=True))[
            :readings
        ],
        thickness=THICK,
        waney=True,
        turned=one.turned,
        front=faces[Face.FRONT],
        back=faces[Face.BACK],
    )


def surveyed(
    one: Taken, record: BoardRecord, patch: pytest.MonkeyPatch
) -> tuple[BoardRecord, dict[Face, Frame], dict[Face, NDArray[np.uint8]]]:
    """The board surveyed, how each face's photograph lies in its picture at the end, and the pictures."""
    made: list[TrueScale] = []

    def listened(*given: object, **named: object) -> TrueScale:
        made.append(true_scale(*given, **named))  # type: ignore[arg-type]
        return made[-1]

    patch.setattr(ui.survey, "true_scale", listened)
    photos = [(face, f"{face.value}.jpg", one.jpegs[face]) for face in Face]
    done, faces = surveyed_board(record, photos, lambda folder, _, suffix: f"{folder}/a{suffix}")
    frames = {}
    for face, found in faces.items():
        frames[face] = next(each.frame for each in made if each.picture is found.picture)
    return done, frames, {face: found.picture for face, found in faces.items()}


@pytest.fixture
def once(monkeypatch: pytest.MonkeyPatch) -> None:
    """What does not change with how the faces lie is reckoned once a photograph, and no marks are sought."""
    known: dict[bytes, object] = {}

    def kept(name: str, key: Callable[..., bytes]) -> None:
        asked = getattr(rectify, name)

        def answer(*given: Any, **named: Any) -> object:
            at = name.encode() + key(*given)
            if at not in known:
                known[at] = asked(*given, **named)
            return known[at]

        monkeypatch.setattr(rectify, name, answer)

    kept("with_widths_seen", lambda _, evidence: evidence.corners_px.tobytes())
    kept("gated", lambda evidence: evidence.corners_px.tobytes())
    kept("waney_outline", lambda _, frame, *__: frame.to_board.tobytes())
    monkeypatch.setattr(ui.survey, "suggest_marks", lambda *_, **__: ())
    monkeypatch.setattr(ui.survey, "lens_seen", lambda *_: None)
    monkeypatch.setattr(ui.survey, "paper_checked", lambda *_: None)


def errors(one: Taken, done: BoardRecord, frames: dict[Face, Frame]) -> dict[Face, Floats]:
    """How far the points of each face lie beside the truth, the frame laid by the face marked out on."""
    off = {}
    for face in Face:
        at = frames[face].to_mm(in_photo(one, face, GRID))
        if face is Face.BACK:
            at = np.column_stack(
                [at[:, 0], done.framed - at[:, 1]]
                if one.turned is Turn.ROLLED
                else [LENGTH - at[:, 0], at[:, 1]]
            )
        off[face] = at - GRID
    marked = done.board().marked_on or Face.FRONT
    turn, begin = np.polyfit(GRID[:, 0], off[marked][:, 1], 1)
    return {
        face: each + np.column_stack([turn * (GRID[:, 1] - ROOM / 2), -turn * GRID[:, 0] - begin])
        for face, each in off.items()
    }


def boards() -> Iterator[Taken]:
    return islice((one for seed in range(FIRST, 999) if (one := taken(seed)) is not None), BOARDS)


WAYS = {"outlines alone": (0, 0), "one reading": (1, 0), "two readings": (2, 0), "two holes": (0, 2)}
WAYS |= {"two readings, two holes": (2, 2)}


@pytest.mark.usefixtures("once")
def test_faults_of_the_other_face(monkeypatch: pytest.MonkeyPatch) -> None:
    rows: dict[str, list[tuple[float, ...]]] = {way: [] for way in WAYS}
    print()
    for one in boards():
        line = ""
        for way, (readings, places) in WAYS.items():
            record = record_of(one, np.random.default_rng(int(one.name.split()[0])), readings, places)
            done, frames, _ = surveyed(one, record, monkeypatch)
            marked = done.board().marked_on or Face.FRONT
            off = {
                face: np.percentile(np.abs(each), 95, axis=0)
                for face, each in errors(one, done, frames).items()
            }
            (x, y), own_y = off[marked.other], off[marked][1]
            said, own = done.board().off_on(marked.other), done.board().off_on(marked)
            rows[way].append((x, y, *said, own_y, own[1]))
            line += f"  {y:.1f} ({said[1]:.1f}), {own_y:.1f} ({own[1]:.1f})"
        print(f"{one.name:28s}{line}")
    for way, row in rows.items():
        x, y, said_x, said_y, own_y, own = np.array(row).T
        print(
            f"{way:24s} {len(row)} boards, 95 % of places [mm]: other face across {_worst(y, said_y)}; along "
            f"{_worst(x, said_x)}; face marked on across {_worst(own_y, own)}"
        )
    assert all(np.mean(np.array(row)[:, 1] <= np.array(row)[:, 3]) >= 0.9 for row in rows.values())


def _worst(off: Floats, said: Floats) -> str:
    return (
        f"{np.median(off):.1f} ({off.max():.1f}), said {np.median(said):.1f}, held {np.mean(off <= said):.2f}"
    )


@pytest.mark.usefixtures("once")
@pytest.mark.parametrize("right", [True, False])
def test_a_wrong_turn_is_offered(right: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """The maker reads the back's widths from the datum end, and says the turn rightly or wrongly."""
    offered, told, many = 0, 0, 0
    print()
    for one in boards():
        rng = np.random.default_rng(int(one.name.split()[0]))
        record = record_of(one, rng, 2, 0)
        other = Turn.TUMBLED if one.turned is Turn.ROLLED else Turn.ROLLED
        record = record.model_copy(update={"turned": one.turned if right else other})
        done, _, pictures = surveyed(one, record, monkeypatch)
        found = ui.survey.turn_seen(done, pictures[Face.FRONT], pictures[Face.BACK])
        notes = [note for face in Face if (known := done.face(face)) for note in known.notes]
        doubted = [note for note in notes if "again" in note]
        many, offered, told = many + 1, offered + (found.better is not None), told + bool(doubted)
        print(f"{one.name:28s} said {record.turned.value}: {found.evidence:+.1f} {found.better} {doubted}")
    print(
        f"turn said {'rightly' if right else 'wrongly'}: the other offered for {offered} of {many}, "
        f"readings doubted of {told}"
    )
    assert offered <= 0.05 * many if right else offered >= 0.6 * many
