"""Staves of free width in the search: a panel as a family of kinds, some of which add up to it.

To the search every width a stave may have is a kind of part of its own, with its
own map. What is wanted is not so many copies of a kind but so much width of the
family: `Books` keeps that account in two or more extra places at the end of the
list of copies wanted, so that the search counts down widths as it counts copies::

    wanted   [rail, leg, ..., kind, kind, kind, ... | width of the panel, outer staves]
               2     4         0     0     0            420 000 um         2

A kind may be taken while what is left after it can still be made up. The last
stave of a panel is trimmed: it may be taken from a place wider than what is left,
so its place is never a matter of luck.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import ceil
from random import Random
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from layout.parts import Part
from layout.placement import Placement, Unplaced

__all__ = ["MICRONS", "Books", "Family", "Group", "Kind", "Left", "missing_staves"]

_DRAWN = (1, 2, 4, 8)  # widths of a group of staves tried in one filling
MICRONS = 1000  # widths are counted in whole thousandths of a millimetre


class Left(Protocol):
    """Copies of each part still to be had; counted down as they are placed."""

    def __getitem__(self, part: int, /) -> int: ...
    def __setitem__(self, part: int, left: int, /) -> None: ...


@dataclass(frozen=True)
class Group:
    """Staves of a panel that are alike but for their width.

    Parameters
    ----------
    quota : int or None
        How many the panel has; None for any number.
    numbers : tuple of int
        With a quota: their numbers in the panel, counted from 0; -1 is the last one.
    """

    quota: int | None
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True)
class Kind:
    """A stave of one width.

    Parameters
    ----------
    part : Part
        As it is sawn; its name is unique in the job.
    size : int
        Finished width [um].
    group : int
        Which of the family's groups it belongs to.
    slim : Part
        The narrowest stave of that group.
    inside : Part
        The same, glued on both edges: a strip of the middle of a wider one.
    far : bool
        Whether the edge it may have of the panel is its far edge.
    """

    part: Part
    size: int
    group: int
    slim: Part
    inside: Part
    far: bool = False


@dataclass(frozen=True)
class Family:
    """One copy of a panel as the search sees it.

    Parameters
    ----------
    panel : Part
    copy : int
    groups : tuple of Group
    kinds : tuple of Kind
    """

    panel: Part
    copy: int
    groups: tuple[Group, ...]
    kinds: tuple[Kind, ...]

    @property
    def width(self) -> int:
        """Width of the panel [um]."""
        return round(self.panel.width * MICRONS)

    @property
    def least(self) -> int:
        """Narrowest stave [um]."""
        assert self.panel.staves is not None
        return ceil(self.panel.staves.least * MICRONS - 1e-6)


@dataclass(frozen=True)
class _Member:
    family: int
    size: int
    group: int


@dataclass
class Books:
    """Where the families' accounts stand in a list of copies wanted, and what may be taken.

    Parameters
    ----------
    parts : sequence of Part
        Those of the job, kinds of stave among them; the accounts come after them.
    families : sequence of Family
    """

    parts: Sequence[Part]
    families: Sequence[Family]
    accounts: list[tuple[int, tuple[int | None, ...]]] = field(init=False)
    members: dict[int, _Member] = field(init=False)
    kinds: dict[str, Kind] = field(init=False)

    def __post_init__(self) -> None:
        numbers = {part.name: number for number, part in enumerate(self.parts)}
        self.accounts, self.members, self.kinds = [], {}, {}
        at = len(self.parts)
        for number, family in enumerate(self.families):
            width, at = at, at + 1
            quotas: list[int | None] = []
            for group in family.groups:
                quotas.append(None if group.quota is None else at)
                at += group.quota is not None
            self.accounts.append((width, tuple(quotas)))
            for kind in family.kinds:
                self.members[numbers[kind.part.name]] = _Member(number, kind.size, kind.group)
                self.kinds[kind.part.name] = kind
        alike: dict[tuple[int, int], list[int]] = {}
        for part, member in self.members.items():
            alike.setdefault((member.family, member.group), []).append(part)
        self._groups = list(alike.values())
        self._most = [max(kind.size for kind in family.kinds) for family in self.families]

    def wanted(self, locked: Iterable[Placement]) -> list[int]:
        """Copies of each part still to be placed beside those locked, then what is left on each account."""
        held: dict[str, int] = {}
        for item in locked:
            held[item.part] = held.get(item.part, 0) + 1
        found = [
            0 if number in self.members else max(part.quantity - held.get(part.name, 0), 0)
            for number, part in enumerate(self.parts)
        ]
        for family in self.families:
            found += [family.width, *(group.quota for group in family.groups if group.quota is not None)]
        for number, member in self.members.items():
            for _ in range(held.get(self.parts[number].name, 0)):
                self._take(found, member)
        return found

    def drawn(self, chance: Random) -> list[list[int]]:
        """What a filling is to try: every plain part, and some widths of each group of staves, widest first.

        A group stands in one list, to be put in order as if it were one part: so
        a panel has the same chance to come first as a plain part has, and every
        filling tries widths of its own.
        """
        found = [[part] for part in range(len(self.parts)) if part not in self.members]
        for group in self._groups:
            count = min(chance.choice(_DRAWN), len(group))
            found.append(sorted(chance.sample(group, count), key=lambda part: -self.members[part].size))
        return found

    @property
    def quotas(self) -> list[int]:
        """Accounts that say how many staves of a group there are, exactly."""
        return [quota for _, quotas in self.accounts for quota in quotas if quota is not None]

    @property
    def extra(self) -> list[tuple[Part, float]]:
        """For each account the part to show for it and the area one unit stands for [mm2]."""
        found: list[tuple[Part, float]] = []
        for family, (_, quotas) in zip(self.families, self.accounts, strict=True):
            found.append((family.panel, family.panel.length / MICRONS))
            found += [(family.panel, 0.0) for quota in quotas if quota is not None]
        return found

    def left(self, missing: Sequence[int]) -> Left:
        """What of these may be taken, to be counted down."""
        return _Left(self, missing) if self.families else list(missing)

    def counts(self, missing: Sequence[int], left: Left) -> tuple[int, ...]:
        """What was taken of `missing` since `left` was made of it."""
        now = left.raw if isinstance(left, _Left) else left
        return tuple(missing[part] - now[part] for part in range(len(missing)))

    def table(self, accounts: int) -> NDArray[np.int64]:
        """What may be taken of so many parts and accounts: `kinds` of `layout.solve.slab_loops`."""
        found = np.full((accounts, 6), -1, dtype=np.int64)
        for part, member in self.members.items():
            width, quotas = self.accounts[member.family]
            own, known = quotas[member.group], sum(quota is not None for quota in quotas)
            found[part] = (
                width,
                -1 if own is None else own,
                member.size,
                self.families[member.family].least,
                self._most[member.family],
                2 * known + (known < len(quotas)),
            )
        return found

    def held(self, family: int, places: Iterable[tuple[int, float, float]]) -> int:
        """How many staves of a family there are among these places."""
        return sum(1 for part, _, _ in places if part in self.members and self.members[part].family == family)

    def may(self, raw: Sequence[int], member: _Member) -> bool:
        """Whether a kind may be taken: what is left after it can still be made up."""
        width, quotas = self.accounts[member.family]
        rest, own = raw[width], quotas[member.group]
        if rest <= 0 or (own is not None and raw[own] <= 0):
            return False
        owed = sum(raw[quota] for quota in quotas if quota is not None) - (own is not None)
        least, most = self.families[member.family].least, self._most[member.family]
        if member.size >= rest:
            return owed == 0 and rest >= least
        rest -= member.size
        if None in quotas:
            owed = max(owed, ceil(rest / most))
        return owed > 0 and owed * least <= rest <= owed * most

    def _take(self, raw: list[int], member: _Member) -> None:
        width, quotas = self.accounts[member.family]
        own = quotas[member.group]
        raw[width] = max(raw[width] - member.size, 0)
        if own is not None:
            raw[own] = max(raw[own] - 1, 0)


def missing_staves(books: Books, missing: Sequence[int], reason: str) -> list[Unplaced]:
    """What panels still lack, told as staves of about the width that is missing."""
    found = []
    for family, (account, quotas) in zip(books.families, books.accounts, strict=True):
        rest = missing[account] or family.least * any(missing[quota] for quota in quotas if quota is not None)
        copy = 1
        while rest > 0:
            kind = min(family.kinds, key=lambda item: (abs(item.size - rest), item.part.name))
            found.append(Unplaced(kind.part.name, copy, reason))
            rest, copy = rest - kind.size, copy + 1
    return found


class _Left:
    """Copies left of plain parts; 1 or 0 for a kind of stave that may or may not be taken now."""

    def __init__(self, books: Books, missing: Sequence[int]) -> None:
        self.raw = list(missing)
        self._books = books

    def __getitem__(self, part: int) -> int:
        member = self._books.members.get(part)
        if member is None:
            return self.raw[part]
        return int(self._books.may(self.raw, member))

    def __setitem__(self, part: int, left: int) -> None:
        member = self._books.members.get(part)
        if member is None:
            self.raw[part] = left
        else:
            self._books._take(self.raw, member)
