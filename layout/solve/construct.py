"""A first complete plan: the largest parts first, from the boards that give most wood for the money."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from layout.cuts import sawable
from layout.placement import Placement
from layout.solve.filling import Filler, Filling
from layout.solve.job import Job

__all__ = [
    "Draft",
    "boards_by_value",
    "boards_in_play",
    "draft_from",
    "first_draft",
    "parts_by_size",
    "trimmed",
]

_WOOD = 3.0  # times the area of the parts
_FEWEST = 40


@dataclass
class Draft:
    """A plan under way: fillings of boards, and copies still without a place.

    Parameters
    ----------
    fillings : dict of board number to Filling
    missing : list of int
        Copies of each part not placed.
    """

    missing: list[int]
    fillings: dict[int, Filling] = field(default_factory=dict)

    def copy(self) -> "Draft":
        return Draft(list(self.missing), dict(self.fillings))

    def put(self, filling: Filling) -> None:
        """Use a filling, in place of what the board held."""
        self.clear(filling.board)
        if any(filling.counts):
            self.fillings[filling.board] = filling
            self.missing = [left - more for left, more in zip(self.missing, filling.counts, strict=True)]

    def clear(self, board: int) -> None:
        """Take everything off a board."""
        old = self.fillings.pop(board, None)
        if old is not None:
            self.missing = [left + more for left, more in zip(self.missing, old.counts, strict=True)]

    def money(self, job: Job) -> float:
        """Money for the boards used."""
        return sum(job.prices[board] for board in self.fillings)


def first_draft(
    job: Job,
    filler: Filler,
    order: Sequence[int],
    boards: Sequence[int],
    cancelled: Callable[[], bool] = lambda: False,
) -> Draft:
    """Boards filled one after the other, in the orders given, until every part has its place.

    Only `cancelled` ends it early: in a very large job a late complete plan is
    worth more than an early half of one.
    """
    draft = Draft(list(job.wanted))
    for board in boards:
        if not any(draft.missing) or cancelled():
            break
        draft.put(filler.fill(board, draft.missing, order))
    return draft


def trimmed(draft: Draft) -> Draft:
    """The draft without the copies it holds beyond those wanted; what is left can still be sawn."""
    for board in sorted(draft.fillings, key=lambda item: sum(draft.fillings[item].counts)):
        filling = draft.fillings[board]
        places = []
        for place in filling.places:
            part = place[0]
            if draft.missing[part] < 0:
                draft.missing[part] += 1
            else:
                places.append(place)
        if len(places) == len(filling.places):
            continue
        counts = [0] * len(filling.counts)
        for part, _, _ in places:
            counts[part] += 1
        if places:
            draft.fillings[board] = Filling(board, tuple(counts), tuple(places))
        else:
            del draft.fillings[board]
    return draft


def draft_from(job: Job, placements: Sequence[Placement]) -> Draft:
    """What of an earlier plan still holds: boards whose parts are all allowed and can be sawn as they lie."""
    draft = Draft(list(job.wanted))
    numbers = {part.name: number for number, part in enumerate(job.parts)}
    by_board: dict[str, list[Placement]] = {}
    for item in placements:
        by_board.setdefault(item.board, []).append(item)
    for board, one in enumerate(job.boards):
        places: list[tuple[int, float, float]] = []
        left = job.left(draft.missing)
        maps = job.maps[board] if one.id in by_board else None
        for item in by_board.get(one.id, []):
            number = numbers.get(item.part)
            if maps is None or item.locked or number is None or item.tilt:
                continue
            if left[number] and maps[number].allows(item.x, item.y):
                places.append((number, item.x, item.y))
                left[number] -= 1
        if maps is not None:
            boxes = [(x, y, x + maps.sizes[n][0], y + maps.sizes[n][1]) for n, x, y in places]
            if sawable([*boxes, *job.taken[board]], job.sawing, job.shop.stages, job.kerf):
                draft.put(Filling(board, job.counts(draft.missing, left), tuple(places)))
    return draft


def parts_by_size(job: Job) -> list[int]:
    """Parts by priority, then by size, largest first."""
    areas = job.areas()
    return sorted(range(len(job.parts)), key=lambda part: (-job.parts[part].priority, -areas[part]))


def boards_by_value(job: Job) -> list[int]:
    """Boards by price per usable area, cheapest wood first, larger boards first among equals."""

    def value(board: int) -> tuple[float, float]:
        return job.prices[board] / job.woods[board], -job.woods[board]

    return sorted(range(len(job.boards)), key=value)


def boards_in_play(job: Job) -> list[int]:
    """Boards a search should look at: most wood for the money, several times what the parts need.

    With few boards that is all of them.
    """
    need = _WOOD * sum(area * count for area, count in zip(job.areas(), job.wanted, strict=True))
    found: list[int] = []
    for board in boards_by_value(job):
        if need <= 0.0 and len(found) >= _FEWEST:
            break
        found.append(board)
        need -= job.woods[board]
    return found
