"""Random but plausible logs and boards, for anything that needs many."""

from dataclasses import replace
from typing import TypedDict

import numpy as np

from layout.stock import DefectKind, Turn
from samples.wood.faults import Pocket, RingShake, Sheet, Stain
from samples.wood.knots import Knot
from samples.wood.log import Log
from samples.wood.sawn import SawnBoard, saw
from samples.wood.surface import Cut

__all__ = [
    "board_at",
    "check_at",
    "flatness_at",
    "grow_knots",
    "heart_shake_at",
    "knot_through",
    "looks",
    "pocket_at",
    "ring_shake_at",
    "split_at",
    "stain_at",
    "with_branches",
]


def grow_knots(log: Log, seed: int, length: float, per_metre: float, pins_per_metre: float = 0.0) -> Log:
    """The log with branches at random [per metre of log]."""
    rng = np.random.default_rng(seed)
    knots: list[Knot] = []
    for number in range(int(rng.poisson(per_metre * length / 1000))):
        radius = float(np.clip(rng.lognormal(2.15, 0.6), 3.0, 45))
        alive = float(rng.uniform(0.25, 1.0)) * log.radius
        dead = float(rng.uniform(10, 90)) if rng.random() < 0.5 else 0.0
        knots.append(
            Knot(
                f"knot {number + 1}", float(rng.uniform(0, length)), float(rng.uniform(0, 2 * np.pi)),
                float(rng.uniform(0.15, 0.75)), radius, alive, alive + dead, **looks(rng),
            )
        )  # fmt: skip
    for number in range(int(rng.poisson(pins_per_metre * length / 1000))):
        # pin knots often come in a cat's paw
        x, turn = float(rng.uniform(0, length)), float(rng.uniform(0, 2 * np.pi))
        for toe in range(int(rng.integers(2, 7)) if rng.random() < 0.12 else 1):
            end = float(rng.uniform(0.3, 1.1)) * log.radius
            near = (float(rng.normal(0, 9)), float(rng.normal(0, 0.05))) if toe else (0.0, 0.0)
            knots.append(
                Knot(
                    f"pin {number + 1}.{toe}", x + near[0], turn + near[1], float(rng.uniform(0.05, 0.5)),
                    float(rng.uniform(0.8, 2.6)), 0.1 * log.radius, end, pin=True,
                    tone=float(rng.normal(0.2, 0.25)), pale=float(rng.uniform(0, 0.4)),
                )
            )  # fmt: skip
    return log.with_knots(tuple(knots))


class Looks(TypedDict):
    """What varies in a knot's look from one to the next."""

    tone: float
    pale: float
    weep: float
    hole: bool


def looks(rng: np.random.Generator) -> Looks:
    """A knot's look at random: pale or black, with a dark streak along the grain, or fallen out."""
    return Looks(
        tone=float(np.clip(rng.normal(0.03, 0.25), -0.3, 0.6)),
        pale=float(rng.beta(0.8, 1.3)) * 0.85,
        weep=float(rng.exponential(0.22)) if rng.random() < 0.45 else 0.0,
        hole=bool(rng.random() < 0.07),
    )


def board_at(
    log: Log,
    id: str,
    size: tuple[float, float, float],
    x0: float,
    out: float,
    turn: float = 0.0,
    aside: float = 0.0,
    slope: float = 0.0,
    planed: bool = True,
    turned: Turn = Turn.ROLLED,
) -> SawnBoard:
    """A board whose front face lies `out` mm from the pith, its middle `aside` mm from square under it.

    `out` near 0 gives quartered boards where `aside` is large, and a boxed pith
    where it is small; `out` large gives flat-sawn ones. The front face looks
    away from the pith.
    """
    length, width, thickness = size
    yu, yv = float(np.cos(turn)), float(np.sin(turn))
    zu, zv = -yv, yu
    y0 = aside - width / 2
    board = SawnBoard(
        id, log, length, width, thickness, x0, y0 * yu - out * zu, y0 * yv - out * zv, turn, slope,
        planed=planed, turned=turned,
    )  # fmt: skip
    return saw(board)


def theta_at(board: SawnBoard, x: float, y: float, z: float) -> tuple[float, float]:
    """Direction from the pith, and distance from it, of a board point [rad, mm]."""
    one = np.ones((1, 1), np.float32)
    grown = board.points(one * np.float32(x), one * np.float32(y), z).grown
    return float(grown.theta[0, 0]), float(np.hypot(grown.u[0, 0], grown.v[0, 0]))


def knot_through(
    board: SawnBoard,
    id: str,
    at: tuple[float, float, float],
    radius: float,
    tilt: float = 0.4,
    alive: float = 60.0,
    dead: float = 0.0,
    pin: bool = False,
    tone: float = 0.0,
) -> Knot:
    """A branch whose axis goes through a board point.

    `alive` says how far beyond that point, along the branch and away from the
    pith, it lives [mm]; below 0 it does not live that far. `dead` says how much
    farther it goes on dead [mm].
    """
    one = np.ones((1, 1), np.float32)
    points = board.points(one * np.float32(at[0]), one * np.float32(at[1]), at[2])
    u, v = float(points.u[0, 0]), float(points.v[0, 0])
    out = float(np.hypot(u, v))
    along = out / float(np.cos(tilt))
    start = float(points.x[0, 0]) - out * float(np.tan(tilt))
    lives = max(along + alive, 2 * radius)
    return Knot(id, start, float(np.arctan2(v, u)), tilt, radius, lives, lives + dead, pin, tone)


def with_branches(board: SawnBoard, knots: tuple[Knot, ...]) -> SawnBoard:
    """The same board from the same log with these branches too."""
    return replace(board, log=board.log.with_knots(board.log.knots + knots))


def flatness_at(board: SawnBoard, x: float, y: float) -> float:
    """1 where the front face is flat-sawn, 0 where it is quartered."""
    one = np.ones((1, 1), np.float32)
    points = board.points(one * np.float32(x), one * np.float32(y), 0.0)
    return float(Cut(board.across, board.down).flatness(points)[0, 0])


def check_at(
    board: SawnBoard, id: str, x: float, y: float, z: float, long: float, deep: float, width: float
) -> Sheet:
    """A drying check that opens at a board point on a face and runs `deep` mm in."""
    theta, out = theta_at(board, x, y, z)
    along = board.x0 + x
    return Sheet(
        id, DefectKind.CHECK, along - long / 2, along + long / 2, theta, out - deep, out + deep, width
    )


def split_at(board: SawnBoard, id: str, far_end: bool, y: float, long: float, width: float) -> Sheet:
    """A split from an end of the board, through its thickness."""
    x = board.length if far_end else 0.0
    theta, out = theta_at(board, x, y, board.thickness / 2)
    along = board.x0 + x
    deep = 3 * board.thickness
    if far_end:
        return Sheet(id, DefectKind.SPLIT, along - long, along, theta, out - deep, out + deep, width, 1)
    return Sheet(id, DefectKind.SPLIT, along, along + long, theta, out - deep, out + deep, width, -1)


def ring_shake_at(
    board: SawnBoard, id: str, x: float, y: float, z: float, long: float, arc: float, width: float
) -> RingShake:
    """A shake along the year at a board point."""
    one = np.ones((1, 1), np.float32)
    grown = board.points(one * np.float32(x), one * np.float32(y), z).grown
    along = board.x0 + x
    return RingShake(
        id, along - long / 2, along + long / 2, float(grown.rho[0, 0]), float(grown.theta[0, 0]), arc, width
    )


def heart_shake_at(board: SawnBoard, id: str, rng: np.random.Generator) -> tuple[Sheet, ...]:
    """A crack beside the pith, square to the face, where the pith comes near the front; none elsewhere."""
    x = board.length * float(rng.uniform(0.1, 0.9))
    pith_u, pith_v = board.log.pith(np.full((1, 1), board.x0 + x, np.float32))
    over_u, over_v = float(pith_u[0, 0]) - board.u0, float(pith_v[0, 0]) - board.v0
    y = over_u * board.across[0] + over_v * board.across[1]
    z = over_u * board.down[0] + over_v * board.down[1]
    if not (0 < y < board.width and -25 < z < board.thickness + 25):
        return ()
    long, far = float(rng.uniform(80, 500)), float(rng.uniform(20, 60))
    theta = board.turn - np.pi / 2 + float(rng.normal(0, 0.3))
    along = board.x0 + x
    width = float(rng.uniform(0.6, 2.2))
    return (Sheet(id, DefectKind.SHAKE, along - long / 2, along + long / 2, theta, -far, far, width),)


def pocket_at(
    board: SawnBoard,
    id: str,
    kind: DefectKind,
    at: tuple[float, float, float],
    half: tuple[float, float, float],
) -> Pocket:
    """A bark or resin pocket with its middle at a board point, half sizes along, round and outwards."""
    rho, theta = _growth_at(board, at)
    return Pocket(id, kind, board.x0 + at[0], theta, rho, *half)


def stain_at(
    board: SawnBoard, id: str, at: tuple[float, float, float], half: tuple[float, float, float], blue: bool
) -> Stain:
    """A stain with its middle at a board point, half sizes along, round and outwards."""
    rho, theta = _growth_at(board, at)
    return Stain(id, board.x0 + at[0], theta, rho, *half, blue=blue)


def _growth_at(board: SawnBoard, at: tuple[float, float, float]) -> tuple[float, float]:
    one = np.ones((1, 1), np.float32)
    grown = board.points(one * np.float32(at[0]), one * np.float32(at[1]), at[2]).grown
    return float(grown.rho[0, 0]), float(grown.theta[0, 0])
