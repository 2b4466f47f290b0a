"""What a part asks of the wood under it: which defects may not lie where, and which do harm.

A `Demand` is a shape, as it lies in a pose, and the defects that may not touch
it. The meaning is that of `layout.rules`; `layout.clear` turns demands into maps
and judges single places exactly.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from layout.allowances import Shop
from layout.faults import Faults, Shown, asked
from layout.laid import Laid, laid, laid_out, shapes_of, side_lines
from layout.parts import Part, PartSide, Visibility
from layout.poses import Pose
from layout.rules import rule_for
from layout.stock import Board, Defect, DefectKind, Wish

__all__ = ["Demand", "Harm", "Mend", "Mending", "demands", "harms", "refusals", "side_lines"]


@dataclass(frozen=True)
class Mend:
    """What making a defect good would cost, and where in the part it can be done.

    Parameters
    ----------
    price : float
        [money]
    where : shapely geometry or None
        Ground of the finished part's frame that the grown defect must lie wholly
        inside; None for anywhere [mm].
    """

    price: float
    where: BaseGeometry | None = None


# What making a defect good on a side of a part would take; None: not to be made good there.
Mending = Callable[[Board, Part, Defect, PartSide], Mend | None]

_FACES = (PartSide.FACE, PartSide.BACK)

# How much a tolerated feature disturbs, per 100 mm2 shown; our own scale, no source.
_DISTURBS = {
    DefectKind.SOUND_KNOT: 1.0,
    DefectKind.PIN_KNOT: 0.5,
    DefectKind.DEAD_KNOT: 2.0,
    DefectKind.SAPWOOD: 0.1,
    DefectKind.STAIN: 0.2,
    DefectKind.TORN_GRAIN: 0.2,
}
_USUAL_HARM = 2.0
_SEEN = {Visibility.SHOW: 10.0, Visibility.SEEN_IN_USE: 3.0, Visibility.CONCEALED: 1.0}


@dataclass(frozen=True)
class Demand:
    """A shape of the part and the defects (by number on their board) that may not touch it.

    Parameters
    ----------
    laid : Laid
        From the corner of the upright box round the sawn piece.
    defects : frozenset of int
    price : float or None
        None: may not touch. A number: touching costs this much repair [money].
    """

    laid: Laid
    defects: frozenset[int]
    price: float | None = None

    @property
    def key(self) -> tuple[object, ...]:
        """The same for demands that mean the same."""
        return self.laid.key, self.defects, self.price


@dataclass(frozen=True)
class Harm:
    """A shape and what each defect under it costs in looks, per mm2 (negative: worth seeing)."""

    laid: Laid
    weights: Mapping[int, float]

    @property
    def key(self) -> tuple[object, ...]:
        """The same for harms that mean the same."""
        return self.laid.key, frozenset(self.weights.items())


def demands(
    faults: Faults,
    part: Part,
    shop: Shop,
    pose: Pose,
    mending: Mending | None = None,
    shown: Shown | None = None,
) -> tuple[Demand, ...]:
    """Everything the part asks of the wood in this pose, by shape.

    Parameters
    ----------
    faults : Faults
        Of the board.
    part, shop, pose
    mending : function, optional
        Prices for making defects good; a demand that can be met by a repair
        then carries its price instead of being a ban, and is a ban only outside
        the ground where the repair can be made.
    shown : Shown, optional
        What is left of the defects, if it is not what this pose's planing leaves.
    """
    shown = shown or faults.shown(part.thickness, pose.from_front)
    found: dict[tuple[str, float | None], set[int]] = {}
    fenced: list[tuple[str, int, BaseGeometry]] = []
    for name, side, numbers in asked(faults, part, pose, shown):
        if mending is None or side is None:
            if numbers:
                found.setdefault((name, None), set()).update(numbers)
            continue
        for number in numbers:
            mend = mending(faults.board, part, faults.board.defects[number], side)
            if mend is not None and mend.where is not None:
                fenced.append((name, number, mend.where))
            found.setdefault((name, None if mend is None else mend.price), set()).add(number)
    barred = found.get(("whole", None), set())
    shapes = laid(part, pose, shop)
    told = []
    for (name, price), several in found.items():
        left = several if name == "whole" else several - barred
        if left and price != 0.0 and name in shapes:
            told.append(Demand(shapes[name], frozenset(left), price))
    for name, number, where in fenced:
        outside = shapes_of(part).get(name, Polygon()).difference(where)
        if not outside.is_empty:
            told.append(Demand(laid_out(outside, part, pose, shop), frozenset({number})))
    return tuple(told)


def refusals(
    faults: Faults, part: Part, shop: Shop, pose: Pose
) -> Iterator[tuple[int, PartSide | None, BaseGeometry]]:
    """(number of the defect, side that refuses it, shape it may not touch), defect by defect.

    The side is None where no repair of one side helps: the maker wants the
    defect in no part, or the shape is a zone that must be sound. Shapes are as
    in `Demand`.
    """
    shapes = laid(part, pose, shop)
    every = list(asked(faults, part, pose, faults.shown(part.thickness, pose.from_front)))
    for number in range(len(faults.board.defects)):
        for name, side, numbers in every:
            if number in numbers and name in shapes:
                yield number, side, shapes[name].shape


def harms(faults: Faults, part: Part, shop: Shop, pose: Pose) -> tuple[Harm, ...]:
    """What tolerated defects do to the looks of each face in this pose."""
    found = []
    shown = faults.shown(part.thickness, pose.from_front)
    for side in _FACES:
        weights = {}
        seen = part.visibility(side)
        for number in sorted(shown.on(pose, side) - faults.refused(rule_for(part, side))):
            defect = faults.board.defects[number]
            if defect.wish is Wish.SHOW:
                weight = -_SEEN[seen] if seen is Visibility.SHOW else 0.0
            else:
                weight = _DISTURBS.get(defect.kind, _USUAL_HARM) * _SEEN[seen]
            if weight:
                weights[number] = weight / 100.0
        if weights:
            found.append(Harm(laid(part, pose, shop)["whole"], weights))
    return tuple(found)
