"""Whether one board gives a set of parts, place by place: a constraint programme.

`layout.solve.counted` answers that on a grid; here pieces lie to a fiftieth of a millimetre,
only where they may lie at all is told cell by cell. Each question is asked twice:

* HOPEFULLY: places rounded down to fiftieths, pieces up to 0.08 mm small, a cell good if any
  place in it may be. Two pieces a kerf apart stay apart when both places are rounded down,
  so every layout of the board is a solution, and a board without one cannot give the set.
  With the band saw, pieces a kerf apart corner to corner are parted by less than that
  along and across: there only its 0.7th part counts.
* CAREFULLY: pieces rounded up, a cell good if all of it is clear. A solution lies as it is told.

The classes of straight cuts are those on top of `layout.solve.priced`. In the programme
they are lines across the board: a piece lies between the two lines of its slab, in it
between the two lines of its section, and pieces of one section lie one behind the other.
Lines may stand anywhere, so the programme leaves out no layout of the class: put them
where the groups of `layout.cuts.groups` begin.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor

from ortools.sat.python import cp_model

from layout.allowances import Sawing, Shop
from layout.cuts import Box
from layout.ground import ground_of
from layout.hopeful import hopeful_rectangles
from layout.parts import Part
from layout.poses import box_size, poses
from layout.solve.bound import CORNERED
from layout.solve.fields import Level, careful_map, hopeful_map_of
from layout.solve.slabs import Place
from layout.stock import Board

__all__ = ["Asked", "OneBoard", "Programme"]

Cells = tuple[int, int, int, int]  # first and last place along x and y, in fiftieths
Counts = tuple[int, ...]

_STEPS = 50  # in a millimetre
_SMALL = 0.06  # conceded on the size of every piece with its kerf; the verifier concedes 0.05 [mm]
_GIVE = 0.06  # conceded at the edge of the wood [mm]
_TINY = 1e-6
_WORK = 0.2  # of the solver's own units of work in a second, as measured


@dataclass(frozen=True)
class Asked:
    """Where parts may lie on a board.

    Parameters
    ----------
    length, width : int
        Of the board, a kerf added [fiftieths].
    sizes : tuple of (int, int)
        Of each part's piece with its kerf [fiftieths].
    places : tuple of tuple of Cells
    x0, y0 : float
        What the places are told from, in the board frame [mm].
    """

    length: int
    width: int
    sizes: tuple[tuple[int, int], ...]
    places: tuple[tuple[Cells, ...], ...]
    x0: float
    y0: float


class OneBoard:
    """One board, asked for sets of parts.

    Parameters
    ----------
    board, parts, shop
    taken : sequence of Box
        Locked pieces on it [mm].
    most : sequence of int
        Copies of each part of interest.
    """

    def __init__(
        self, board: Board, parts: Sequence[Part], shop: Shop, taken: Sequence[Box], most: Sequence[int]
    ) -> None:
        self.board, self.parts, self.shop = board, parts, shop
        self.taken, self.most = taken, most
        self._known: dict[tuple[Level, bool], Asked] = {}
        tilted = any(pose.tilt for part in parts for pose in poses(part, board, shop, 1))
        self._loose = tilted and shop.sawing is Sawing.BAND_SAW

    def gives(
        self, counts: Sequence[int], level: Level, careful: bool, seconds: float
    ) -> list[Place] | bool | None:
        """Places that have the set; False if there are none; None if the time [s] was too short to tell.

        Without `careful` no such place need be good, and True stands for them. Nothing is told of
        boards whose pieces lie tilted and are sawn out freely: upright boxes round them may overlap.
        """
        if self._loose:
            return None
        asked = self._asked(level, careful)
        if any(n and not places for n, places in zip(counts, asked.places, strict=True)):
            return False
        programme = Programme(asked, counts, self.shop.sawing, self.shop.stages)
        status = programme.solved(seconds)
        if status == cp_model.INFEASIBLE:
            return False
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        return programme.places() if careful else True

    def _asked(self, level: Level, careful: bool) -> Asked:
        """Sizes and places, hopeful or careful, on maps of this pitch [mm]."""
        if (level, careful) not in self._known:
            self._known[level, careful] = self._careful(level) if careful else self._hopeful(level)
        return self._known[level, careful]

    def _hopeful(self, level: Level) -> Asked:
        ground, kerf = ground_of(self.board, self.shop, pitch=level), self.shop.allowances.kerf
        boxes = [box_size(part, self.board, self.shop) for part in self.parts]
        between = kerf * (CORNERED if self.shop.sawing is Sawing.BAND_SAW else 1.0)
        sizes = tuple((_down(a + between - _SMALL), _down(b + between - _SMALL)) for a, b in boxes)
        length, width = _up(ground.length + kerf + _GIVE), _up(ground.width + kerf + _GIVE)
        places = []
        for t, part in enumerate(self.parts):
            found = hopeful_map_of(ground, part, boxes[t], self.taken) if self.most[t] else None
            cells = [] if found is None else hopeful_rectangles(found, ground)
            far = (length - sizes[t][0], width - sizes[t][1])
            told = [(_down(a), _down(b), min(_up(c), far[0]), min(_up(d), far[1])) for a, b, c, d in cells]
            places.append(tuple(box for box in told if box[0] <= box[2] and box[1] <= box[3]))
        return Asked(length, width, sizes, tuple(places), ground.x0, ground.y0)

    def _careful(self, level: Level) -> Asked:
        ground, kerf = ground_of(self.board, self.shop, pitch=level), self.shop.allowances.kerf
        boxes = [box_size(part, self.board, self.shop) for part in self.parts]
        sizes = tuple((_up(a + kerf), _up(b + kerf)) for a, b in boxes)
        length, width = _down(ground.length + kerf), _down(ground.width + kerf)
        places = []
        for t, part in enumerate(self.parts):
            found = careful_map(ground, part, boxes[t], self.taken) if self.most[t] else None
            cells = [] if found is None else hopeful_rectangles(found, ground)
            far = (length - sizes[t][0], width - sizes[t][1])
            # A place on the line between two cells is left to the later one.
            told = [
                (_up(a), _up(b), min(_up(c) - 1, far[0]), min(_up(d) - 1, far[1])) for a, b, c, d in cells
            ]
            places.append(tuple(box for box in told if box[0] <= box[2] and box[1] <= box[3]))
        return Asked(length, width, sizes, tuple(places), ground.x0, ground.y0)


class Programme:
    """The constraint programme of one question."""

    def __init__(self, asked: Asked, counts: Sequence[int], sawing: Sawing, stages: int) -> None:
        self.asked, self.model = asked, cp_model.CpModel()
        self.copies = [t for t, number in enumerate(counts) for _ in range(number)]
        self.x, self.y = [], []
        for number, t in enumerate(self.copies):
            x, y = self._corner(asked.places[t])
            self.x.append(x)
            self.y.append(y)
            if number and self.copies[number - 1] == t:
                # Copies are alike: let them come in the order of their places.
                step = asked.width + 1
                self.model.add(x * step + y >= self.x[number - 1] * step + self.y[number - 1])
        self._in_slab: list[list[list[cp_model.IntVar]]] = []
        self._apart()
        if sawing is not Sawing.BAND_SAW and self.copies:
            self._sawn(sawing is Sawing.RIP_FIRST, stages)

    def _corner(self, places: Sequence[Cells]) -> tuple[cp_model.IntVar, cp_model.IntVar]:
        """A corner that lies in one of the rectangles."""
        model = self.model
        x = model.new_int_var(min(box[0] for box in places), max(box[2] for box in places), "")
        y = model.new_int_var(min(box[1] for box in places), max(box[3] for box in places), "")
        if len(places) > 1:
            chosen = [model.new_bool_var("") for _ in places]
            model.add_exactly_one(chosen)
            for literal, (x0, y0, x1, y1) in zip(chosen, places, strict=True):
                model.add_linear_constraint(x, x0, x1).only_enforce_if(literal)
                model.add_linear_constraint(y, y0, y1).only_enforce_if(literal)
        return x, y

    def _apart(self) -> None:
        """No two pieces overlap; seen from the side, no line meets more of them than there is room for."""
        model, sizes = self.model, [self.asked.sizes[t] for t in self.copies]
        along = [model.new_fixed_size_interval_var(x, a, "") for x, (a, _) in zip(self.x, sizes, strict=True)]
        across = [
            model.new_fixed_size_interval_var(y, b, "") for y, (_, b) in zip(self.y, sizes, strict=True)
        ]
        model.add_no_overlap_2d(along, across)
        model.add_cumulative(along, [b for _, b in sizes], self.asked.width)
        model.add_cumulative(across, [a for a, _ in sizes], self.asked.length)

    def _sawn(self, rip_first: bool, stages: int) -> None:
        """Slabs one after the other across, sections one after the other along."""
        asked, model = self.asked, self.model
        sizes = [asked.sizes[t] if rip_first else asked.sizes[t][::-1] for t in self.copies]
        along, across = (self.x, self.y) if rip_first else (self.y, self.x)
        long, wide = (asked.length, asked.width) if rip_first else (asked.width, asked.length)
        pieces = range(len(self.copies))
        slabs = min(max(wide // min(b for _, b in sizes), 1), len(pieces))
        sections = min(max(long // min(a for a, _ in sizes), 1), len(pieces))
        lines = self._lines(slabs, wide)
        for slab in range(slabs):
            inner = self._lines(sections, long)
            held = [[model.new_bool_var("") for _ in range(sections)] for _ in pieces]
            self._in_slab.append(held)
            for i in pieces:
                for section in range(sections):
                    here = held[i][section]
                    model.add(across[i] >= lines[slab]).only_enforce_if(here)
                    model.add(across[i] + sizes[i][1] <= lines[slab + 1]).only_enforce_if(here)
                    model.add(along[i] >= inner[section]).only_enforce_if(here)
                    model.add(along[i] + sizes[i][0] <= inner[section + 1]).only_enforce_if(here)
            for section in range(sections):
                if stages < 3:
                    model.add_at_most_one(held[i][section] for i in pieces)
                    continue
                model.add_no_overlap(
                    model.new_optional_fixed_size_interval_var(across[i], sizes[i][1], held[i][section], "")
                    for i in pieces
                )
        for i in pieces:
            model.add_exactly_one(literal for held in self._in_slab for literal in held[i])

    def _lines(self, number: int, room: int) -> list[cp_model.IntVar]:
        lines = [self.model.new_int_var(0, room, "") for _ in range(number + 1)]
        for before, after in pairwise(lines):
            self.model.add(before <= after)
        return lines

    def solved(self, seconds: float) -> int:
        """The solver's status after about so long [s]; less its clock than its work is limited."""
        self.solver = cp_model.CpSolver()
        parameters = self.solver.parameters
        parameters.max_deterministic_time = max(_WORK * seconds, 0.01)
        parameters.num_workers = 1
        parameters.interleave_search = False
        parameters.random_seed = 1
        parameters.use_energetic_reasoning_in_no_overlap_2d = True
        parameters.use_area_energetic_reasoning_in_no_overlap_2d = True
        return int(self.solver.solve(self.model))

    def places(self) -> list[Place]:
        """Where the pieces lie, in the board frame [mm]."""
        asked = self.asked
        return [
            (t, asked.x0 + self.solver.value(x) / _STEPS, asked.y0 + self.solver.value(y) / _STEPS)
            for t, x, y in zip(self.copies, self.x, self.y, strict=True)
        ]


def _down(size: float) -> int:
    return floor(_STEPS * size + _TINY)


def _up(size: float) -> int:
    return ceil(_STEPS * size - _TINY)
