"""Two small boards of the wood model that its tests share."""

from dataclasses import replace

from samples.wood.log import grow_log
from samples.wood.sawn import SawnBoard
from samples.wood.stock import board_at, check_at, knot_through, split_at, with_branches

THICK = 30.0


def knotty() -> SawnBoard:
    """A flat-sawn oak board: a knot right through, one closed before the front, a check, a split."""
    board = board_at(grow_log("European oak", 31, 320.0), "K", (600.0, 180.0, THICK), 400.0, 150.0)
    board = with_branches(
        board,
        (
            knot_through(board, "through", (150.0, 60.0, 0.0), 12.0, tilt=0.3),
            knot_through(board, "closed", (400.0, 120.0, 0.0), 9.0, tilt=0.2, alive=-14.0),
            knot_through(board, "dead", (300.0, 40.0, 0.0), 8.0, tilt=0.3, alive=-80.0, dead=160.0),
        ),
    )
    return replace(
        board,
        extra=(
            check_at(board, "check", 300.0, 90.0, 0.0, 120.0, 8.0, 1.2),
            split_at(board, "split", True, 100.0, 120.0, 3.0),
        ),
    )


def waney() -> SawnBoard:
    """A board with bark on both edges and sapwood beside it."""
    return board_at(grow_log("European oak", 32, 150.0), "W", (500.0, 400.0, THICK), 200.0, 95.0)


def lower_half(board: SawnBoard, z: float) -> SawnBoard:
    """What is left below depth z when the board is sawn through there."""
    down_u, down_v = board.down
    return replace(
        board,
        id=f"{board.id} below",
        u0=board.u0 + z * down_u,
        v0=board.v0 + z * down_v,
        thickness=board.thickness - z,
    )


def upper_half(board: SawnBoard, z: float) -> SawnBoard:
    """What comes off above depth z."""
    return replace(board, id=f"{board.id} above", thickness=z)
