"""The compiled loops of fillings, held against the same said plainly, cell by cell, on random maps."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from math import inf

import numpy as np
import pytest
from numpy.typing import NDArray

from layout.parts import Part, Staves
from layout.solve.family import Books, Left
from layout.solve.filling import Filler
from layout.solve.job import job_of
from layout.solve.slab_loops import AskedMaps, Floats, Whole, filled, led
from layout.solve.slabs import Place, places_of
from layout.solve.views import Care
from layout.solve.widths import families_of
from layout.stock import Board, Face
from tests.builders import tiny_board, tiny_parts, tiny_shop

Box = tuple[float, float, float, float]
COLUMN, ROW, KERF = 10.0, 4.0, 3.0
LENGTH, WIDTH = 400.0, 120.0
TINY = 1e-7
NO_MAP, PLAIN = -1, 5
SEEDS = range(40)


@dataclass
class Wood:
    """A board of random places, and what is to be cut from it."""

    books: Books
    sizes: list[tuple[float, float]]
    allowed: list[NDArray[np.bool_]]
    wanted: list[int]
    asked: list[int] = field(default_factory=list)

    def nearest(self, part: int, box: Box, crosscut: bool) -> tuple[float, float] | None:
        """Looked for cell by cell: the least column first for crosscuts, the least row for rips."""
        x0, y0, x1, y1 = box
        length, width = self.sizes[part]
        if length > x1 - x0 + TINY or width > y1 - y0 + TINY:
            return None
        if part not in self.asked:
            self.asked.append(part)
        first, line = int(x0 / COLUMN + TINY), int(y0 / ROW + TINY)
        last, limit = int((y1 - width) / ROW + TINY), int((x1 - length) / COLUMN + TINY)
        cells = [
            (i, j)
            for i, j in np.argwhere(self.allowed[part]).tolist()
            if i >= first and line <= j <= last and (crosscut or i <= limit)
        ]
        if not cells:
            return None
        i, j = min(cells, key=lambda cell: cell if crosscut else cell[::-1])
        x, y = (x0 if i == first else i * COLUMN), max(y0, j * ROW)
        return (x, y) if x + length <= x1 + TINY else None

    def slabs(self, left: Left, box: Box, crosscut: bool, stages: int, order: list[int]) -> Iterator[Place]:
        """What a lump is filled with, slab by slab; the wood before a slab is filled before it is."""
        x0, y0, x1, y1 = box
        found = None
        for number, part in enumerate(order):
            found = self.nearest(part, box, crosscut) if left[part] else None
            if found is not None:
                order = order[number:]
                break
        if found is None:
            return
        part, (x, y), (length, width) = order[0], found, self.sizes[order[0]]
        gap = (x0, y0, x - KERF, y1) if crosscut else (x0, y0, x1, y - KERF)
        rest = (x + length + KERF, y0, x1, y1) if crosscut else (x0, y + width + KERF, x1, y1)
        if (x - x0 if crosscut else y - y0) > KERF:
            yield from self.slabs(left, gap, crosscut, stages, order[1:])
        if not left[part]:
            rest = (x, y0, x1, y1) if crosscut else (x0, y, x1, y1)
        elif stages == 1:
            left[part] -= 1
            yield part, x, y
        else:
            slab = (x, y0, x + length, y1) if crosscut else (x0, y, x1, y + width)
            yield from self.slabs(left, slab, not crosscut, stages - 1, order)
        yield from self.slabs(left, rest, crosscut, stages, order)

    def led(
        self, left: list[int], reached: float, crosscut: bool, stages: int, order: list[int], thicker: int
    ) -> Iterator[tuple[list[Place], float, list[int]]]:
        """Slabs that may come next, where the one behind them begins, and what is left then."""
        axis, seen = (0 if crosscut else 1), set()
        for leader in order:
            behind = (reached, 0.0, LENGTH, WIDTH) if crosscut else (0.0, reached, LENGTH, WIDTH)
            at = self.nearest(leader, behind, crosscut)
            if at is None:
                continue
            (x, y), (length, width), near = at, self.sizes[leader], at[axis]
            ends = {near + self.sizes[leader][axis]: leader}
            sides = (
                [(x, 0.0, LENGTH, y - KERF), (x, y + width + KERF, LENGTH, WIDTH)]
                if crosscut
                else [(0.0, y, x - KERF, WIDTH), (x + length + KERF, y, LENGTH, WIDTH)]
            )
            for part in order if thicker else []:
                if part != leader or left[part] > 1:
                    for side in sides:
                        other = self.nearest(part, side, crosscut)
                        if other is not None:
                            ends.setdefault(other[axis] + self.sizes[part][axis], part)
            usual, most = next(iter(ends)), near + 2.5 * self.sizes[leader][axis]
            for end in sorted(one for one in ends if usual <= one <= most)[: 1 + thicker]:
                for first in dict.fromkeys((leader, ends[end])):
                    if (near, end, first) in seen:
                        continue
                    seen.add((near, end, first))
                    now, own, places = list(left), [first, *(one for one in order if one != first)], []
                    if near - reached > KERF:
                        box = (reached, 0.0, near - KERF, WIDTH)
                        gap = box if crosscut else (0.0, reached, LENGTH, near - KERF)
                        places += self.slabs(now, gap, crosscut, stages, own[1:])
                    slab = (near, 0.0, end, WIDTH) if crosscut else (0.0, near, LENGTH, end)
                    places += self.slabs(now, slab, not crosscut, stages - 1, own)
                    if places:
                        yield places, end + KERF, now

    def maps(self) -> AskedMaps:
        """No map made."""
        shapes = np.full((len(self.sizes), 3), NO_MAP)
        kinds = self.books.table(len(self.sizes))
        return np.zeros(0, dtype=np.int16), shapes, np.array(self.sizes), kinds

    def with_map(self, maps: AskedMaps, part: int) -> AskedMaps:
        """One more map made."""
        ahead, shapes, sizes, kinds = maps
        ok = self.allowed[part]
        after = np.full(ok.shape, 32767, dtype=np.int16)
        for i, j in np.argwhere(ok)[::-1]:
            after[: i + 1, j] = i
        shapes[part] = len(ahead), *ok.shape
        return np.concatenate((ahead, after.ravel())), shapes, sizes, kinds

    def answer(self, loop: Callable[[AskedMaps], tuple[int, *tuple[object, ...]]]) -> list[int]:
        """Run a loop until it is through; the maps it came to, one after the other."""
        maps, made = self.maps(), []
        while (part := loop(maps)[0]) >= 0:
            maps = self.with_map(maps, part)
            made.append(part)
        return made


def wood(seed: int, staves: bool = False) -> Wood:
    chance = np.random.default_rng(seed)
    plain = [Part(f"plain {number}", 50, 50, 20) for number in range(PLAIN)]
    shelf = Part("shelf", 450, 300, 22, staves=Staves(least=60, most=120))
    # By turns there are so many staves of each group; else any number of inner ones.
    heart, count = (Face.FRONT, 4) if seed % 2 else (None, None)
    some = [Board.square_edged("1", 900, 200, 27, heart=heart)]
    families = families_of(shelf, count, (120, 100, 75, 60), some) if staves else ()
    parts = [*plain, *(kind.part for one in families for kind in one.kinds)]
    books = Books(parts, families)
    sizes = [
        (float(chance.integers(30, 130)), float(chance.integers(12, 50) + 0.5 * chance.random()))
        for _ in parts
    ]
    allowed = []
    for length, width in sizes:
        shape = int((LENGTH - length) / COLUMN) + 1, int((WIDTH - width) / ROW) + 1
        allowed.append(chance.random(shape) < chance.choice((0.05, 0.3, 0.9)))
    more = len(books.extra)
    wanted = books.wanted(())
    wanted[: len(plain)] = chance.integers(0, 5, len(plain)).tolist()
    none = [np.zeros((0, 0), dtype=np.bool_)] * more
    return Wood(books, [*sizes, *[(inf, inf)] * more], [*allowed, *none], wanted)


def order_of(one: Wood, seed: int) -> list[int]:
    return [int(part) for part in np.random.default_rng(seed).permutation(len(one.books.parts))]


@pytest.mark.parametrize("staves", [False, True])
@pytest.mark.parametrize("crosscut", [False, True])
@pytest.mark.parametrize("stages", [1, 2, 3, 6])
def test_a_lump_is_filled_as_it_is_said_plainly(stages: int, crosscut: bool, staves: bool) -> None:
    least, box = (0.0, 0.0), (7.0, 5.5, LENGTH, WIDTH - 2.0)
    pieces: list[Place] = []
    for seed in SEEDS:
        one = wood(seed, staves)
        order, left, copies = order_of(one, seed), np.array(one.wanted), one.books.left(one.wanted)
        places = list(one.slabs(copies, box, crosscut, stages, order))
        found: list[Place] = []

        def loop(maps: AskedMaps) -> tuple[int, Whole, Floats]:
            before = left.copy()  # noqa: B023 called in this round only
            answer = filled(maps, (COLUMN, ROW, KERF), least, left, box, crosscut, stages, np.array(order))  # noqa: B023
            assert answer[0] < 0 or (left == before).all()  # noqa: B023
            found[:] = places_of(*answer[1:])  # noqa: B023
            return answer

        assert one.answer(loop) == one.asked
        assert found == places
        assert one.books.counts(one.wanted, copies) == tuple(np.array(one.wanted) - left)
        pieces += found
    assert len(pieces) > len(SEEDS)
    assert any(part >= PLAIN for part, _, _ in pieces) == staves


@pytest.mark.parametrize("thicker", [0, 4])
@pytest.mark.parametrize("crosscut", [False, True])
@pytest.mark.parametrize("stages", [2, 3])
def test_slabs_are_led_as_it_is_said_plainly(stages: int, crosscut: bool, thicker: int) -> None:
    pieces = 0
    for seed in SEEDS:
        one = wood(seed)
        worth = np.random.default_rng(seed).random(len(one.sizes))
        left, reached = np.array(one.wanted), 10.0 * (seed % 5)
        order = [part for part in order_of(one, seed) if one.wanted[part]]
        slabs = list(one.led(one.wanted, reached, crosscut, stages, order, thicker))
        found: list[tuple[list[Place], float, list[int]]] = []
        gains: list[float] = []

        def loop(maps: AskedMaps) -> tuple[int, Floats, Whole, Whole, Whole, Floats]:
            answer = led(
                *(maps, (COLUMN, ROW, KERF), (0.0, 0.0), left, (LENGTH, WIDTH), reached, crosscut),  # noqa: B023
                *(stages, np.array(order, dtype=np.int64), len(order), thicker, worth),  # noqa: B023
            )
            _, lines, lefts, until, parts, corners = answer
            places = places_of(parts, corners)
            ends = until.tolist()
            each = [places[a:b] for a, b in zip([0, *ends], ends, strict=False)]
            found[:] = zip(each, lines[:, 1].tolist(), lefts.tolist(), strict=True)  # noqa: B023
            gains[:] = lines[:, 0].tolist()  # noqa: B023
            return answer

        assert one.answer(loop) == one.asked
        assert found == slabs
        assert left.tolist() == one.wanted
        assert gains == pytest.approx([sum(worth[part] for part, _, _ in slab) for slab, _, _ in slabs])
        pieces += sum(len(slab) for slab, _, _ in found)
    assert pieces > len(SEEDS)


def test_only_some_parts_lead_in_a_long_list() -> None:
    one = wood(3)
    order = np.array([part for part in order_of(one, 3) if one.wanted[part]])
    maps = one.maps()
    for part in order:
        maps = one.with_map(maps, part)
    rest = (10.0, False, 2, order)
    board = (COLUMN, ROW, KERF), (0.0, 0.0), np.array(one.wanted), (LENGTH, WIDTH)
    ways = [len(led(maps, *board, *rest, most, 0, np.ones(PLAIN))[1]) for most in range(len(order) + 1)]
    assert ways[0] == 0
    assert ways == sorted(ways)
    assert 0 < ways[1] < ways[-1]


def test_a_part_whose_map_is_refused_has_no_place_until_there_is_time() -> None:
    job = job_of([tiny_board()], tiny_parts(), tiny_shop())
    filler, hurried = Filler(job), [False, True]
    filler.views.hurry = lambda: hurried.pop(0)
    first = filler.fill(0, job.wanted, [0, 1], Care.ALLOWED)
    assert first.counts == (2, 0)
    assert not hurried
    filler.views.hurry = lambda: False
    assert filler.fill(0, job.wanted, [0, 1], Care.ALLOWED).counts == (2, 1)
