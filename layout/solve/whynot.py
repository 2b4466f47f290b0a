"""Why a copy found no place: the nearest miss in millimetres, what is in the way, the cheapest remedy.

Three levels, the first that applies is told:

1. It fits no board even if there were no faults: too thick, too steep for the
   grain, or so much too long or too wide.
2. It fits bare boards, but every place has a fault in the way: the place with
   least in the way, the faults there, and what would help.
3. It fits an empty board, but the other parts take the wood: how much too long or
   wide it is for what they leave, and which board would take it.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product

import numpy as np

from layout.allowances import Shop, sawn_length, sawn_width
from layout.clear import Bar, bars, clear_map, judged
from layout.cost import price_of
from layout.cuts import Box
from layout.ground import Ground, ground_of
from layout.laid import laid
from layout.parts import Part, PartSide, Visibility
from layout.poses import box_size, poses
from layout.solve.job import without
from layout.stock import Board, Face

__all__ = ["Miss", "enough", "reason_for", "smallest_cut"]

_MOST_BOARDS = 6  # looked at closely
_ENOUGH = 40  # boards that would take the part
_ROOMY = 4  # and of those with other parts on them
_STEP = 0.5  # to which a miss is told [mm]
_CELLS = 60_000
_FINE = (1.0, 0.5)  # pitch of the map that the nearest miss is measured on, along and across [mm]
_COARSE = 6.0  # a miss is told too large by that much at most on the usual maps [mm]
_NEAR = (-1.0, -0.5, 0.0, 0.5, 1.0)  # steps about a place on the fine map that are tried exactly [mm]
_MOST_PLACES = 6  # of them
_MOST_STEPS = 8  # tried exactly below what the fine map says


@dataclass(frozen=True)
class Miss:
    """How near a part came on one board.

    Parameters
    ----------
    board : Board
    shorter, narrower : float or None
        How much less of one of them would do [mm]; None if no amount does.
    """

    board: Board
    shorter: float | None
    narrower: float | None

    @property
    def least(self) -> float:
        return min((value for value in (self.shorter, self.narrower) if value is not None), default=np.inf)

    def said(self) -> str:
        """For example "12 mm too long for board 4"."""
        if self.shorter is not None and self.shorter == self.least:
            return f"{self.shorter:g} mm too long"
        return f"{self.narrower:g} mm too wide"


def reason_for(
    part: Part,
    boards: Sequence[Board],
    shop: Shop,
    taken: Sequence[Sequence[Box]],
    open_to: Collection[str],
) -> str:
    """One sentence or two on why a part has no place.

    Parameters
    ----------
    part : Part
    boards : sequence of Board
        The whole job's boards, forbidden ones included.
    shop : Shop
    taken : sequence of sequence of Box
        Sawn pieces of the layout on each of them [mm].
    open_to : collection of str
        Boards that have a place for the part when nothing else is on them.
    """
    usable = [board for board in boards if not board.forbidden]
    if not usable:
        return "There is no board that may be cut."
    if (text := _too_thick_or_steep(part, usable, shop)) is not None:
        return text
    boxes = {board.id: list(here) for board, here in zip(boards, taken, strict=True)}
    if open_to:
        return _wood_taken(part, boards, shop, boxes, open_to)
    lying = [board for board in usable if poses(part, board, shop)]
    lying.sort(key=lambda board: _short_by(part, board, shop))
    bare = [
        _miss(part, ground_of(replace(board, defects=()), shop, _CELLS), ()) for board in lying[:_MOST_BOARDS]
    ]
    if all(miss.least > 0 for miss in bare):
        nearest = min(bare, key=lambda miss: miss.least)
        if nearest.least == np.inf:
            return "It is much longer and wider than every board."
        bare_board = replace(nearest, board=replace(nearest.board, defects=()))
        nearest = _finer(part, bare_board, shop, ())
        return f"It fits no board: {nearest.said()} for board {nearest.board.id}, the nearest."
    fit = {miss.board.id for miss in bare if miss.least == 0}
    return _faults_in_the_way(part, [ground_of(board, shop, _CELLS) for board in lying if board.id in fit])


def enough(boards: Iterable[str]) -> set[str]:
    """Boards that have a place for a part, as many as are worth naming and looking at."""
    return set(islice(boards, _ENOUGH))


def _short_by(part: Part, board: Board, shop: Shop) -> float:
    """Roughly how much a board lacks in length and width [mm]."""
    length, width = sawn_length(part, shop.allowances), sawn_width(part, shop.allowances)
    trims = shop.allowances
    lacks = (length + 2 * trims.end_trim - board.length, width + 2 * trims.edge_trim - board.widest)
    return sum(max(lack, 0.0) for lack in lacks)


def _too_thick_or_steep(part: Part, boards: Sequence[Board], shop: Shop) -> str | None:
    needed = part.thickness + 2 * shop.allowances.skim
    thickest = max(board.thickness for board in boards)
    if needed > thickest + 1e-6:
        return (
            f"It needs {needed:g} mm of thickness to be planed to {part.thickness:g},"
            f" but the thickest board has {thickest:g}."
        )
    if not any(poses(part, board, shop) for board in boards):
        return "In the boards thick enough the grain runs out of it more steeply than it may."
    return None


def smallest_cut(part: Part, ground: Ground, taken: Sequence[Box], along: bool) -> float | None:
    """How much shorter or narrower the part must be to fit; 0 if it does, None if none helps [mm]."""
    sawn = sawn_length(part, ground.shop.allowances) if along else sawn_width(part, ground.shop.allowances)
    finished = part.length if along else part.width
    room = ground.length if along else ground.width
    low, high = max(sawn - room, 0.0), finished * 0.5
    if low >= finished * 0.9:
        return None
    if _fits(_cut(part, 0.0, along), ground, taken):
        return 0.0
    if _fits(_cut(part, low, along), ground, taken):
        return float(np.ceil(low / _STEP - 1e-6) * _STEP)
    high = max(high, min(low + 20.0, finished * 0.9))
    if not _fits(_cut(part, high, along), ground, taken):
        return None
    while high - low > _STEP:
        middle = (low + high) / 2
        if _fits(_cut(part, middle, along), ground, taken):
            high = middle
        else:
            low = middle
    return float(np.ceil(high / _STEP) * _STEP)


def _finer(part: Part, miss: Miss, shop: Shop, taken: Sequence[Box]) -> Miss:
    """The same miss measured on a fine map, then by trying places near the ones found there exactly.

    A slanted or curved part is swept row by row: on a fine map that takes minutes, so its
    miss stays as it was found.
    """
    if not _upright(part, miss.board, shop):
        return miss
    ground = ground_of(miss.board, shop, _CELLS, _FINE)

    def least(rough: float | None, along: bool) -> float | None:
        if rough is None or rough <= 0.0:
            return rough
        best = rough
        # Halving between what is known to fit and what can't be far from the truth.
        low = max(rough - _COARSE, 0.0)
        while best - low > _STEP:
            middle = round((best + low) / 2 / _STEP) * _STEP
            if not low < middle < best:
                break
            low, best = (low, middle) if _fits(_cut(part, middle, along), ground, taken) else (middle, best)
        for _ in range(_MOST_STEPS):
            if best <= _STEP or not _fits_exactly(part, best, best - _STEP, along, ground, taken):
                break
            best -= _STEP
        return best

    return Miss(miss.board, least(miss.shorter, True), least(miss.narrower, False))


def _upright(part: Part, board: Board, shop: Shop) -> bool:
    """Whether all that a part asks of a board lies on it in upright rectangles."""
    lying = poses(part, board, shop)
    return not any(one.others for pose in lying for one in laid(part, pose, shop).values())


def _fits_exactly(
    part: Part, known: float, less: float, along: bool, ground: Ground, taken: Sequence[Box]
) -> bool:
    """Whether a part cut by so much fits near a place where it fits when cut by what is known to do."""
    cells = np.argwhere(without(clear_map(ground, _cut(part, known, along)), taken).ok)
    cut, kerf = _cut(part, less, along), ground.shop.allowances.kerf
    length, width = box_size(cut, ground.board, ground.shop)
    for i, j in cells[:: max(len(cells) // _MOST_PLACES, 1)][:_MOST_PLACES].tolist():
        for x, y in product(_NEAR, _NEAR):
            at_x = min(max(i * ground.column + x, 0.0), max(ground.length - length, 0.0)) + ground.x0
            at_y = min(max(j * ground.row + y, 0.0), max(ground.width - width, 0.0)) + ground.y0
            box = (at_x - kerf, at_y - kerf, at_x + length + kerf, at_y + width + kerf)
            if any(box[0] < b[2] and box[2] > b[0] and box[1] < b[3] and box[3] > b[1] for b in taken):
                continue
            if any(judged(ground, cut, at_x, at_y, pose) for pose in poses(cut, ground.board, ground.shop)):
                return True
    return False


def _fits(part: Part, ground: Ground, taken: Sequence[Box]) -> bool:
    return bool(without(clear_map(ground, part), taken).ok.any())


def _cut(part: Part, less: float, along: bool) -> Part:
    """The part made shorter or narrower, its zones drawn in with it."""
    if not less:
        return part
    length, width = (part.length - less, part.width) if along else (part.length, part.width - less)
    scale_x, scale_y = length / part.length, width / part.width

    def drawn(outline: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((x * scale_x, y * scale_y) for x, y in outline)

    zones = tuple(replace(zone, outline=drawn(zone.outline)) for zone in part.zones)
    outline = None if part.outline is None else drawn(part.outline)
    return replace(part, length=length, width=width, zones=zones, outline=outline)


def _miss(part: Part, ground: Ground, taken: Sequence[Box]) -> Miss:
    return Miss(
        ground.board, smallest_cut(part, ground, taken, True), smallest_cut(part, ground, taken, False)
    )


def _faults_in_the_way(part: Part, grounds: Sequence[Ground]) -> str:
    found = [item for ground in grounds if (item := _least_in_the_way(part, ground)) is not None]
    found.sort(key=lambda item: item[0])
    if not found:
        return "Faults are in the way on every board."
    _, ground, x, blocking = found[0]
    if not blocking:
        return "It would fit, but locked parts have the wood."
    names = _listed(blocking)
    text = f"Faults are in the way everywhere; least on board {ground.board.id} at {x:.0f} mm: {names}."
    misses = [_miss(part, ground, ()) for _, ground, _, _ in found[:_MOST_BOARDS]]
    nearest = min(misses, key=lambda miss: miss.least)
    remedies = []
    if nearest.least < np.inf:
        nearest = _finer(part, nearest, ground.shop, ())
        how = "shorter" if nearest.said().endswith("long") else "narrower"
        remedies.append(f"{nearest.least:g} mm {how} it would fit board {nearest.board.id}")
    if (ground_hidden := _if_concealed(part, grounds)) is not None:
        remedies.append(f"with its face side concealed it would fit board {ground_hidden.board.id} as it is")
    sides = {bar.side for bar in blocking}
    if None not in sides:
        only = len({bar.defect.id for bar in blocking}) == 1
        remedies.append("making that fault good would do" if only else "making those faults good would do")
    return text + (f" {'; '.join(remedies).capitalize()}." if remedies else "")


def _if_concealed(part: Part, grounds: Sequence[Ground]) -> Ground | None:
    if part.visibility(PartSide.FACE) is Visibility.CONCEALED:
        return None
    hidden = replace(part, sides={**part.sides, PartSide.FACE: Visibility.CONCEALED})
    return next((ground for ground in grounds if clear_map(ground, hidden).anywhere), None)


def _least_in_the_way(part: Part, ground: Ground) -> tuple[float, Ground, float, tuple[Bar, ...]] | None:
    """The place on a board with the least area of faults in the way (among a fine grid of places)."""
    length = sawn_length(part, ground.shop.allowances)
    width = sawn_width(part, ground.shop.allowances)
    best: tuple[float, Ground, float, tuple[Bar, ...]] | None = None
    lying = [pose for pose in poses(part, ground.board, ground.shop, 1) if not pose.end_for_end]
    bare = replace(ground.board, defects=())
    for x in np.linspace(ground.x0, ground.x0 + max(ground.length - length, 0.0), 25):
        for y in np.linspace(ground.y0, ground.y0 + max(ground.width - width, 0.0), 7):
            for pose in lying:
                blocking = bars(ground, part, float(x), float(y), pose)
                area = sum(max(float(bar.common.area), 20.0) for bar in blocking)
                if best is not None and area >= best[0]:
                    continue
                if judged(replace(ground, board=bare, grown=()), part, float(x), float(y), pose):
                    best = (area, ground, float(x), blocking)
    return best


def _listed(blocking: Sequence[Bar]) -> str:
    said = []
    for bar in {bar.defect.id: bar for bar in blocking}.values():
        defect = bar.defect
        xs = [x for x, _ in defect.outline]
        where = {"front": f" on the {Face.FRONT.value}", "back": f" on the {Face.BACK.value}"}.get(
            defect.where.value, ""
        )
        side = "" if bar.side is None else f" (shows on its {bar.side.value})"
        said.append(f"the {defect.kind.value} at {sum(xs) / len(xs):.0f}{where}{side}")
    return ", ".join(said[:4]) + (f" and {len(said) - 4} more" if len(said) > 4 else "")


def _wood_taken(
    part: Part,
    boards: Sequence[Board],
    shop: Shop,
    boxes: Mapping[str, Sequence[Box]],
    open_to: Collection[str],
) -> str:
    if not any(boxes.values()):
        return "There was no time to place it; let the search run longer."
    names = [board.id for board in boards if board.id in open_to]
    shown = " or ".join(names[:5]) + (" and others" if len(names) > 5 else "")
    text = f"It would fit board {shown} if nothing else were cut from it; other parts have the wood."
    roomy = sorted(
        (board for board in boards if board.id in open_to),
        key=lambda board: (
            sum((b[2] - b[0]) * (b[3] - b[1]) for b in boxes[board.id]) - board.length * board.width
        ),
    )
    misses = [_miss(part, ground_of(board, shop, _CELLS), boxes[board.id]) for board in roomy[:_ROOMY]]
    nearest = min(misses, key=lambda miss: miss.least, default=None)
    if nearest is not None and 0 < nearest.least < np.inf:
        nearest = _finer(part, nearest, shop, boxes[nearest.board.id])
        text += f" In what they leave it is {nearest.said()} (board {nearest.board.id})."
    aside = [
        board
        for board in boards
        if board.forbidden
        and poses(part, board, shop)
        and clear_map(ground_of(board, shop, _CELLS), part).anywhere
    ]
    if aside:
        cheapest = min(aside, key=price_of)
        return f"{text} Board {cheapest.id}, set aside, has a place for it."
    length, width = sawn_length(part, shop.allowances), sawn_width(part, shop.allowances)
    return f"{text} One more board with {length:g} x {width:g} mm of sound wood would do."
