"""A job as large as a workshop has, laid out shelf by shelf without any solver: for tests of the drawings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.allowances import Allowances, Shop, sawn_length, sawn_width
from layout.cuts import sawn_apart, sawn_box
from layout.outline import Outline, normal_outline
from layout.parts import Part, PartSide, Visibility
from layout.placement import Layout, Offcut, Placement
from layout.stock import Board, Defect, DefectKind, Face, Turn, Where

__all__ = ["DrawnJob", "grain_picture", "large_job"]


@dataclass(frozen=True)
class DrawnJob:
    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop
    layout: Layout


def cabinet_parts(copies: int) -> tuple[Part, ...]:
    """The cutting list of some bedside cabinets."""
    hidden = {PartSide.FACE: Visibility.CONCEALED}
    bracket: Outline = normal_outline(((0, 0), (260, 0), (260, 40), (180, 52), (80, 88), (0, 90)))
    return (
        Part("top stave", 460, 92, 22, quantity=2 * copies),
        Part("side stile", 560, 58, 22, quantity=2 * copies),
        Part("drawer front", 372, 120, 22, quantity=copies),
        Part("back rail", 380, 46, 22, quantity=copies, sides=hidden),
        Part("runner", 330, 28, 22, quantity=2 * copies, sides=hidden),
        Part("foot bracket", 260, 90, 22, quantity=2 * copies, outline=bracket),
    )


def large_job(boards: int = 12, copies: int = 6, seed: int = 1) -> DrawnJob:
    """Boards of 1.9 to 2.4 m with faults, and a list of ten parts a copy laid on them shelf by shelf."""
    rng = np.random.default_rng(seed)
    shop, parts = Shop(allowances=Allowances(kerf=3.2, skim=1.0)), cabinet_parts(copies)
    stock = tuple(_board(number, rng) for number in range(1, boards + 1))
    waiting = [(part, copy) for part in parts for copy in range(1, part.quantity + 1)]
    rng.shuffle(waiting)  # type: ignore[arg-type]
    placed: list[Placement] = []
    share = -(-len(waiting) // boards)
    for rank, board in enumerate(stock):
        placed += _shelves(board, waiting[rank * share : (rank + 1) * share], shop, rng)
    by_name = {part.name: part for part in parts}
    cuts, offcuts = [], []
    for board in stock:
        boxes = [sawn_box(each, by_name[each.part], shop) for each in placed if each.board == board.id]
        sawn = sawn_apart(board, boxes, shop)
        cuts += sawn.cuts
        offcuts += [Offcut(board.id, *box) for box in sawn.left_over if _useful(box, shop)]
    return DrawnJob(stock, parts, shop, Layout(tuple(placed), tuple(cuts), tuple(offcuts), cost=412.5))


def _useful(box: tuple[float, float, float, float], shop: Shop) -> bool:
    return box[2] - box[0] >= shop.least_offcut[0] and box[3] - box[1] >= shop.least_offcut[1]


def _shelves(
    board: Board, parts: list[tuple[Part, int]], shop: Shop, rng: np.random.Generator
) -> list[Placement]:
    room, kerf = shop.allowances, shop.allowances.kerf
    x = room.end_trim
    placed: list[Placement] = []
    queue = sorted(parts, key=lambda each: -each[0].length)
    while queue:
        y, longest = room.edge_trim, 0.0
        for part, copy in list(queue):
            long, wide = sawn_length(part, room), sawn_width(part, room)
            fits = y + wide <= board.width - room.edge_trim and x + long <= board.length - room.end_trim
            if fits and (not longest or long <= longest):
                face = Face.FRONT if rng.random() < 0.7 else Face.BACK
                turned = bool(rng.random() < 0.4)
                placed.append(Placement(part.name, copy, board.id, x, y, face, turned, from_front=2.0))
                queue.remove((part, copy))
                y, longest = y + wide + kerf, max(longest, long)
        if not longest:
            break
        x += longest + kerf
    return placed


def _board(number: int, rng: np.random.Generator) -> Board:
    length, width = float(rng.integers(1900, 2400)), float(rng.integers(180, 240))
    kinds = [
        DefectKind.SOUND_KNOT,
        DefectKind.DEAD_KNOT,
        DefectKind.PIN_KNOT,
        DefectKind.CHECK,
        DefectKind.STAIN,
    ]
    defects = [
        _blob(f"d{rank}", kinds[int(rng.integers(len(kinds)))], length, width, rng)
        for rank in range(int(rng.integers(4, 9)))
    ]
    sap = normal_outline(((0, width - 14), (length, width - 20), (length, width), (0, width)))
    defects.append(Defect("sap", DefectKind.SAPWOOD, sap, Where.FRONT, 9.0))
    turned = Turn.ROLLED if number % 2 else Turn.TUMBLED
    return Board.square_edged(
        str(number), length, width, 27, defects=tuple(defects), error=1.2, moisture=9.0, turned=turned
    )


def _blob(name: str, kind: DefectKind, length: float, width: float, rng: np.random.Generator) -> Defect:
    along, across = rng.uniform(8, 30), rng.uniform(4, 16)
    if kind is DefectKind.CHECK:
        along, across = rng.uniform(40, 160), rng.uniform(1, 3)
    x, y = rng.uniform(along, length - along), rng.uniform(across, width - across)
    turns = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    reach = rng.uniform(0.8, 1.15, 16)
    points = [
        (x + along * r * np.cos(t), y + across * r * np.sin(t)) for t, r in zip(turns, reach, strict=True)
    ]
    where = (Where.FRONT, Where.BACK, Where.THROUGH)[int(rng.integers(3))]
    return Defect(name, kind, normal_outline(points), where)


def grain_picture(
    length: float, width: float, px_per_mm: float, seed: int = 0, noise: float = 4.0
) -> NDArray[np.uint8]:
    """Straight grain in brown, as much like wood as a test of drawings needs."""
    rng = np.random.default_rng(seed)
    high, wide = round(width * px_per_mm), round(length * px_per_mm)
    lines = np.cumsum(rng.normal(0, 1, high))
    lines = 18 * (lines - lines.mean()) / (lines.std() + 1e-9)
    drift = 6 * np.sin(np.linspace(0, 9, wide))
    light = lines[:, None] + drift[None, :] + rng.normal(0, noise, (high, wide))
    return np.clip(np.array([196, 160, 116]) + light[:, :, None], 0, 255).astype(np.uint8)
