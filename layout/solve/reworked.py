"""Plans that lack little, made whole: some pieces are taken off, and others cut round those that stay.

Whole boards filled anew seldom come out with the last piece in. Here most of a plan stays where
it is: a stretch of a board is emptied, or a strip, a corner, some pieces here and there, and filled
again with whatever is missing. A change for the worse may stand for a while, the less the later
(simulated annealing), so that pieces change places until all of them fit.

It is for sets of boards that nearly hold every part (`layout.solve.targets`).
"""

from collections.abc import Sequence
from math import log

from layout.allowances import Sawing
from layout.cuts import Box, sawable
from layout.solve.construct import Draft
from layout.solve.filling import FREE_STAGES, Care, Filling, Place
from layout.solve.improve import MENDED, Walk
from layout.solve.stop import Stop

__all__ = ["annealed"]

_HOT, _COLD = 0.004, 0.0005  # how much worse may stand, first and last, of the weight of all parts
_BOARDS = (1, 2, 2, 3)  # from which pieces are taken off at once
_SCATTERED = 0.1  # share of the times that pieces here and there are taken off,
_THINNED = (0.2, 0.4)  # so many of them; else what lies in a window
_WINDOW = (0.1, 0.4)  # as long, or as wide, as this share of what is cut from a board
_SLABS, _OTHER = 0.6, 0.2  # share of windows that hold whole slabs, and of those as large the other way
_EVERYWHERE = 0.5  # share of the boards on which not only the window is filled again
_SURE = 1e-9


def annealed(walk: Walk, boards: Sequence[int], begun: Draft, stop: Stop, share: float, rounds: int) -> Draft:
    """The draft that lacks least of those gone through; offered to the walk if it is whole.

    Parameters
    ----------
    walk : Walk
        Of a job without staves of free width.
    boards : sequence of int
        That may be used, and no others.
    begun : Draft
    stop : Stop
    share : float
        Of the limit, which ends it too.
    rounds : int
    """
    now, lacks = begun, _lacks(walk, begun)
    best, least = now, lacks
    heat = _HOT * sum(n * weight for n, weight in zip(walk.job.wanted, walk.weights, strict=True))
    cooling = (_COLD / _HOT) ** (1.0 / max(rounds, 1))
    for _ in range(rounds):
        if least == 0.0 or stop.now(share):
            break
        stop.rounds += 1
        heat *= cooling
        trial = _reworked(walk, now, boards)
        new = _lacks(walk, trial)
        if new <= lacks - heat * log(max(walk.chance.random(), _SURE)):
            now, lacks = trial, new
            if new < least:
                best, least = now, new
    if least == 0.0:
        walk.offer(best)
    return best


def _lacks(walk: Walk, draft: Draft) -> float:
    """What the copies weigh that have no place."""
    return sum(left * weight for left, weight in zip(draft.missing, walk.weights, strict=True) if left)


def _reworked(walk: Walk, draft: Draft, boards: Sequence[int]) -> Draft:
    """The draft with pieces taken off a few boards, which are filled again round those that stay."""
    chance, trial = walk.chance, draft.copy()
    used = list(trial.fillings)
    picked = chance.sample(used, min(chance.choice(_BOARDS), len(used)))
    stay: dict[int, tuple[list[Place], Box | None]] = {}
    for board in picked:
        stay[board] = _parted(walk, board, trial.fillings[board].places)
        trial.put(_held(trial.fillings[board], stay[board][0]))
    order = walk.order(chance.choice((0.5, 1.0, 1.0)), chance.choice((0.15, 0.4)))
    chance.shuffle(picked)
    for board in picked:
        kept, window = stay[board]
        begin = (chance.random() < 0.3, chance.random() < 0.3, chance.random() < 0.3)
        mended = walk.job.mended and (draft.fillings[board].mend > 0.0 or chance.random() < MENDED)
        care = Care.MENDED if mended else Care.ALLOWED
        crosscut = _way(walk, board, kept)
        filling = walk.filler.refilled(board, kept, trial.missing, order, care, crosscut, begin, window)
        trial.put(filling)
        if walk.pool is not None:
            walk.pool.add(filling)
    if any(trial.missing):
        walk.recreate(trial, [board for board in boards if board not in trial.fillings], float("inf"))
    return trial


def _held(filling: Filling, places: Sequence[Place]) -> Filling:
    """A filling with some of its pieces; what they cost to mend is reckoned when it is filled again."""
    counts = [0] * len(filling.counts)
    for part, _, _ in places:
        counts[part] += 1
    return Filling(filling.board, tuple(counts), tuple(places))


def _way(walk: Walk, board: int, kept: Sequence[Place]) -> bool | None:
    """Whether slabs are crosscut first, drawn for the band saw; None: nested freely, or as the shop saws."""
    if walk.job.sawing is not Sawing.BAND_SAW:
        return None
    crosscut = walk.chance.choice((True, False, None))
    if crosscut is None:
        return None
    sawing = Sawing.CROSSCUT_FIRST if crosscut else Sawing.RIP_FIRST
    return crosscut if sawable(_boxes(walk, board, kept), sawing, FREE_STAGES, walk.job.kerf) else None


def _boxes(walk: Walk, board: int, places: Sequence[Place]) -> list[Box]:
    sizes = walk.job.maps[board].sizes
    return [(x, y, x + sizes[part][0], y + sizes[part][1]) for part, x, y in places]


def _parted(walk: Walk, board: int, places: Sequence[Place]) -> tuple[list[Place], Box | None]:
    """The pieces of a board that stay, and the window to be filled round the others; None for all of it."""
    chance, boxes = walk.chance, _boxes(walk, board, places)
    whole = _round(boxes)
    if chance.random() < _SCATTERED:
        thinned = chance.choice(_THINNED)
        off = [chance.random() < thinned for _ in boxes]
    else:
        shape = chance.random()
        all_along, all_across = shape >= 1.0 - _OTHER, shape <= _SLABS
        if walk.job.sawing is Sawing.RIP_FIRST:
            all_along, all_across = all_across, all_along
        x0, x1 = _drawn(walk, whole[0], whole[2], all_along)
        y0, y1 = _drawn(walk, whole[1], whole[3], all_across)
        off = [box[0] < x1 and box[2] > x0 and box[1] < y1 and box[3] > y0 for box in boxes]
    kept = [place for place, gone in zip(places, off, strict=True) if not gone]
    taken = [box for box, gone in zip(boxes, off, strict=True) if gone]
    return kept, _round(taken) if taken and chance.random() >= _EVERYWHERE else None


def _drawn(walk: Walk, low: float, high: float, all_of_it: bool) -> tuple[float, float]:
    """A stretch of another one, or the whole of it [mm]."""
    if all_of_it:
        return low, high
    size = (high - low) * walk.chance.uniform(*_WINDOW)
    start = walk.chance.uniform(low, high - size)
    return start, start + size


def _round(boxes: Sequence[Box]) -> Box:
    """The box round others."""
    left, near, right, far = zip(*boxes, strict=True)
    return min(left), min(near), max(right), max(far)
