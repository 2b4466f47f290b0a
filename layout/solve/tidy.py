"""The later goals, with the earlier ones frozen: the boards stay, their parts change places.

In order: least repair, least harm to looks, matched parts on one board, largest
useful offcuts, fewest saw settings (`layout.cost`).
"""

from random import Random

from layout.cuts import Box, sawn_apart, set_ups
from layout.solve.construct import Draft
from layout.solve.filling import Care, Filler, Filling
from layout.solve.job import Job
from layout.solve.stop import Stop

__all__ = ["Taste", "tidied"]

Taste = tuple[int, float, float, int, float, int]

_CARES = (Care.UNHARMED, Care.UNHARMED, Care.ALLOWED, Care.WELCOME)


def tidied(job: Job, filler: Filler, draft: Draft, stop: Stop, chance: Random, share: float = 1.0) -> Draft:
    """The draft with its parts laid better on the same boards, until it is time to stop."""
    judge = _Judge(job)
    for filling in draft.fillings.values():
        if stop.now(share):
            return draft
        judge.learn(filling)
    best, best_taste = draft, judge.taste(draft)
    boards = list(draft.fillings)
    areas = job.areas()
    while boards and not stop.now(share):
        stop.rounds += 1
        trial = best.copy()
        ruined = chance.sample(boards, min(chance.randint(1, 3), len(boards)))
        for board in ruined:
            trial.clear(board)
        care = chance.choice(_CARES)
        crosscut = chance.random() < 0.5
        power = chance.choice((0.0, 0.5, 1.0))
        for board in ruined:
            tried = job.books.drawn(chance)
            scores = [areas[group[0]] ** power * chance.lognormvariate(0.0, 0.4) for group in tried]
            order = sorted(range(len(tried)), key=lambda n: (-job.parts[tried[n][0]].priority, -scores[n]))
            order = [part for number in order for part in tried[number]]
            trial.put(filler.fill(board, trial.missing, order, care, crosscut))
        if sum(trial.missing) > best_taste[0]:
            continue
        taste = judge.taste(trial)
        if taste <= best_taste:
            best, best_taste = trial, taste
    return best


class _Judge:
    """Works out the taste of drafts; what it knows of a filling it keeps."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self._known: dict[Filling, tuple[float, float, float, int]] = {}
        names = {part.name: number for number, part in enumerate(job.parts)}
        self._mates = [names.get(part.same_board_as or "") for part in job.parts]

    def taste(self, draft: Draft) -> Taste:
        """How far a draft is from every later goal, in their order; copies missing first."""
        mend = harm = room = 0.0
        settings = 0
        for filling in draft.fillings.values():
            one = self.learn(filling)
            mend, harm, room, settings = mend + one[0], harm + one[1], room + one[2], settings + one[3]
        return (
            sum(draft.missing),
            round(mend, 2),
            round(harm, 1),
            self._apart(draft),
            -round(room, 6),
            settings,
        )

    def learn(self, filling: Filling) -> tuple[float, float, float, int]:
        """Repair, harm, room left and settings of one filling, worked out now or before."""
        found = self._known.get(filling)
        if found is None:
            found = self._known[filling] = self._of(filling)
        return found

    def _of(self, filling: Filling) -> tuple[float, float, float, int]:
        job, maps = self.job, self.job.maps[filling.board]
        costs = [maps[part].cost_at(x, y) for part, x, y in filling.places]
        boxes = [(x, y, x + maps.sizes[part][0], y + maps.sizes[part][1]) for part, x, y in filling.places]
        boxes += job.taken[filling.board]
        sawn = sawn_apart(job.boards[filling.board], boxes, job.shop)
        room = sum(self._useful(box, filling.board) for box in sawn.left_over)
        return sum(c[0] for c in costs), sum(c[1] for c in costs), room, set_ups(sawn.cuts, boxes)

    def _useful(self, box: Box, board: int) -> float:
        """Worth of an offcut: the square of its area, so that one large one beats two small ones."""
        ground = self.job.grounds[board]
        length = min(box[2], ground.x0 + ground.length) - max(box[0], ground.x0)
        width = min(box[3], ground.y0 + ground.width) - max(box[1], ground.y0)
        least_length, least_width = self.job.shop.least_offcut
        if length < least_length or width < least_width:
            return 0.0
        return (length * width / 1e6) ** 2

    def _apart(self, draft: Draft) -> int:
        """Copies that lie on a board without a copy of the part they belong with."""
        count = 0
        for filling in draft.fillings.values():
            for part, mate in enumerate(self._mates):
                if mate is not None and filling.counts[part] and not filling.counts[mate]:
                    count += filling.counts[part]
        return count
