"""Widths worth trying for the staves of a panel, and the families of kinds made of them.

A stave may be as wide as the clear ground it lies on allows, within the maker's
limits. So that the search need not try every tenth of a millimetre, these widths
are offered, widest first:

* those of the panel cut into k equal staves;
* as wide as one, two or three strips of a clear band of some board can be, where
  the band is long enough for a stave: the bands that many places share first;
* steps of even size from the least to the most, so that any rest can be met;
* those of the plan before, when planning again.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import product
from math import ceil

import numpy as np

from layout.allowances import Shop
from layout.panels import a_stave, heart_up, least_staves, most_staves
from layout.parts import Part, PartSide, Rings, Staves
from layout.solve.family import MICRONS, Family, Group, Kind
from layout.solve.memory import known_ground, known_map
from layout.stock import Board

__all__ = ["by_turns", "families_of", "is_free", "offered_widths"]

_MORE = 2  # staves more than the fewest, of equal ones
_STEPS = 8  # even steps between the least and the most
_BANDS = 8  # widths taken from clear bands of boards
_STRIPS = 3  # strips a band is ripped into at most
_APART = 1.0  # nearer than this two widths are the same [mm]
_CELLS = 20_000  # of the maps that bands are read from
_BOARDS = 30  # boards whose bands are read


def is_free(part: Part) -> bool:
    """Whether the staves of a panel can be told apart by their place and width alone.

    Not if the panel is shaped, has zones that end in the middle of it, or may be
    of one stave.
    """
    if part.staves is None or part.outline is not None or least_staves(part) < 2:
        return False
    least = part.staves.least
    for zone in part.zones:
        ys = sorted({y for _, y in zone.outline})
        boxed = len(zone.outline) == 4 and len(ys) == 2 and len({x for x, _ in zone.outline}) == 2
        if not boxed or any(least < y < part.width - least for y in ys):
            return False
    return True


def families_of(
    part: Part, count: int | None, widths: Sequence[float], boards: Sequence[Board]
) -> tuple[Family, ...]:
    """A family for each copy of a panel.

    Parameters
    ----------
    part : Part
        A panel that `is_free`.
    count : int or None
        How many staves, where they lie by turns (`by_turns`); None leaves it to the search.
    widths : sequence of float
        From `offered_widths` [mm].
    boards : sequence of Board
    """
    groups = list(_groups(part, count))
    found = []
    for copy in range(1, part.quantity + 1):
        kinds = [
            kind
            for number, group in enumerate(groups)
            for kind in _kinds(part, copy, group, number, widths, count, boards)
        ]
        found.append(Family(part, copy, tuple(groups), tuple(kinds)))
    return tuple(found)


def offered_widths(
    part: Part, boards: Sequence[Board], shop: Shop, before: Iterable[float] = ()
) -> tuple[float, ...]:
    """Widths for the staves of a panel, widest first [mm].

    Parameters
    ----------
    part, boards, shop
    before : iterable of float
        Widths of the plan before, which are to be offered whatever else is [mm].
    """
    rules = part.staves
    assert rules is not None
    fewest = least_staves(part)
    found = [rules.most]

    def offer(width: float, apart: float) -> bool:
        width = round(width, 3)
        fits = rules.least <= width <= rules.most and all(abs(width - known) >= apart for known in found)
        if fits:
            found.append(width)
        return fits

    for width in (*before, rules.least):
        offer(width, 1e-3)
    for count in range(fewest, min(most_staves(part), fewest + _MORE) + 1):
        offer(ceil(part.width / count * MICRONS) / MICRONS, 1e-3)
    bands = 0
    for width in _from_bands(part, rules, boards, shop):
        bands += offer(width, _APART)
        if bands == _BANDS:
            break
    step = (rules.most - rules.least) / _STEPS
    for number in range(_STEPS + 1):
        offer(rules.least + number * step, max(0.5 * step, _APART))
    return tuple(sorted(found, reverse=True))


def _from_bands(part: Part, rules: Staves, boards: Sequence[Board], shop: Shop) -> Iterator[float]:
    """As wide as strips of clear bands can be, those of most places first [mm]."""
    kerf, votes = shop.allowances.kerf, Counter[float]()
    slim = a_stave(part, part.name, rules.least, rules.least, False, False, None)
    for board in [board for board in boards if not board.forbidden][:_BOARDS]:
        ground = known_ground(board, shop, _CELLS)
        clear = known_map(ground, slim)
        if not clear.ok.any():
            continue
        for band, places in _runs(clear.ok).items():
            wide = clear.width + (band - 1) * ground.row
            for strips, extra in product(range(1, _STRIPS + 1), {rules.joint, max(rules.joint, rules.trim)}):
                one = (wide - (strips - 1) * kerf) / strips - extra
                if rules.least <= one <= rules.most:
                    votes[np.floor(one * 2) / 2] += places * strips
    for width, _ in sorted(votes.items(), key=lambda item: (-item[1] * item[0], -item[0])):
        yield float(width)


def _runs(ok: np.ndarray) -> Counter[int]:
    """Lengths of the runs of allowed rows in all columns, and how often each comes."""
    padded = np.pad(ok, ((0, 0), (1, 1))).astype(np.int8)
    steps = np.diff(padded, axis=1)
    begins, ends = np.nonzero(steps == 1), np.nonzero(steps == -1)
    lengths, times = np.unique(ends[1] - begins[1], return_counts=True)
    return Counter({int(length): int(count) for length, count in zip(lengths, times, strict=True)})


def by_turns(part: Part, boards: Sequence[Board]) -> bool:
    """Whether staves must lie heart side up and down by turns, and so be so many of each."""
    rules = part.staves
    assert rules is not None
    return rules.rings is Rings.ALTERNATE and any(board.heart is not None for board in boards)


def _groups(part: Part, count: int | None) -> Iterator[Group]:
    """The groups staves fall into: outer or inner, near or far where that matters, heart up or down."""
    rules = part.staves
    assert rules is not None
    if count is None:
        if _turns_round(part):
            yield Group(2, (0, -1))
        else:
            yield Group(1, (0,))
            yield Group(1, (-1,))
        yield Group(None)
        return
    alike: dict[tuple[str, bool | None], list[int]] = {}
    for number in range(count):
        place = "inner" if 0 < number < count - 1 else "outer"
        if place == "outer" and not _turns_round(part):
            place = "near" if number == 0 else "far"
        alike.setdefault((place, heart_up(rules.rings, number)), []).append(number)
    for numbers in alike.values():
        yield Group(len(numbers), tuple(number if number < count - 1 else -1 for number in numbers))


def _turns_round(part: Part) -> bool:
    """Whether the far stave is the near one turned end for end."""
    pairs = ((PartSide.NEAR_EDGE, PartSide.FAR_EDGE), (PartSide.NEAR_END, PartSide.FAR_END))
    return (
        part.turn_end_for_end
        and not part.zones
        and all(part.visibility(one) is part.visibility(other) for one, other in pairs)
    )


def _kinds(
    part: Part,
    copy: int,
    group: Group,
    number: int,
    widths: Sequence[float],
    count: int | None,
    boards: Sequence[Board],
) -> Iterator[Kind]:
    """The kinds of one group, widest first."""
    rules = part.staves
    assert rules is not None
    first, last = 0 in group.numbers, -1 in group.numbers and 0 not in group.numbers
    heart = _heart(rules, group, count, boards)

    def stave(name: str, width: float) -> Part:
        reached = 0.0 if first else part.width - width if last else min(rules.least, part.width - width)
        one = a_stave(part, name, width, reached, first, last, heart)
        return replace(one, quantity=most_staves(part), same_board_as=None)

    slim = stave(part.name, rules.least)
    reached = min(rules.least, part.width - rules.least)
    middle = a_stave(part, part.name, rules.least, reached, False, False, heart)
    inside = replace(middle, width_allowance=slim.width_allowance)
    which = part.name if part.quantity == 1 else f"{part.name} {copy}"
    for width in sorted(widths, reverse=True):
        name = f"{which} stave of {width:g} mm ({_letter(number)})"
        yield Kind(stave(name, width), round(width * MICRONS), number, slim, inside, last)


def _heart(rules: Staves, group: Group, count: int | None, boards: Sequence[Board]) -> bool | None:
    """Whether staves of a group show the heart side of their board; None if that does not matter here."""
    known = any(board.heart is not None for board in boards)
    if not known or (count is None and rules.rings is Rings.ALTERNATE):
        return None
    index = next(iter(group.numbers), 0)
    return heart_up(rules.rings, (count or 1) - 1 if index == -1 else index)


def _letter(number: int) -> str:
    return "abcdefgh"[number]
