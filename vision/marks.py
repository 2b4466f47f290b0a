"""Marks: claims about a board, and the one bridge from a claim to a defect.

A mark is suggested by the program or drawn by the maker. Only marks he has
confirmed become defects of the board; a suggestion never does so by itself.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from math import isfinite

from layout.outline import Outline, normal_outline
from layout.stock import Defect, DefectKind, Where, Wish

__all__ = ["Mark", "MarkState", "Origin", "confirmed_above", "defects_from"]


class MarkState(StrEnum):
    """What the maker has said of a mark."""

    PENDING = "pending"
    CONFIRMED = "confirmed"
    DISMISSED = "dismissed"


class Origin(StrEnum):
    """Who made the claim."""

    SUGGESTED = "suggested"
    DRAWN = "drawn"


@dataclass(frozen=True)
class Mark:
    """One claim.

    Parameters
    ----------
    id : str
        Unique on its board.
    kind : DefectKind
    outline : Outline
        In the board frame, whichever face it was seen on [mm].
    where : Where
    score : float
        Trust in a suggestion, 0 to 1; 1 for one drawn by hand.
    origin : Origin
    state : MarkState
    depth : float or None
        [mm]; None when not known.
    wish : Wish
    """

    id: str
    kind: DefectKind
    outline: Outline
    where: Where
    score: float = 1.0
    origin: Origin = Origin.DRAWN
    state: MarkState = MarkState.PENDING
    depth: float | None = None
    wish: Wish = Wish.MAY_HIDE

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", normal_outline(self.outline, f"mark {self.id}"))
        if not 0.0 <= self.score <= 1.0:
            raise ValueError(f"mark {self.id}: score is {self.score}; give 0 to 1")
        if self.depth is not None and not (isfinite(self.depth) and self.depth > 0):
            raise ValueError(f"mark {self.id}: depth is {self.depth}; give a number above 0 (mm)")


def confirmed_above(marks: Iterable[Mark], score: float) -> tuple[Mark, ...]:
    """The marks with every pending suggestion of at least this score confirmed, the others left alone."""
    return tuple(
        replace(mark, state=MarkState.CONFIRMED)
        if mark.state is MarkState.PENDING and mark.score >= score
        else mark
        for mark in marks
    )


def defects_from(marks: Iterable[Mark]) -> tuple[Defect, ...]:
    """The defects that the confirmed marks claim."""
    return tuple(
        Defect(
            id=mark.id,
            kind=mark.kind,
            outline=mark.outline,
            where=mark.where,
            depth=None if mark.where is Where.THROUGH else mark.depth,
            wish=mark.wish,
        )
        for mark in marks
        if mark.state is MarkState.CONFIRMED
    )
