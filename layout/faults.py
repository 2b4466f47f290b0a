"""A board's defects as sets of their numbers: what planing leaves of them, what a rule refuses.

The maps of all parts on a board ask the same few questions; here each is
answered once.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from layout.parts import Part, PartSide, Visibility, Zone, ZoneRule
from layout.poses import Left, Pose, left_of
from layout.rules import RULES, USUAL, FaceRule, rule_for, tolerated
from layout.stock import Board, Face, Wish

__all__ = ["Faults", "Numbers", "Shown", "asked", "covers", "shown_of"]

Numbers = frozenset[int]

_FACES = (PartSide.FACE, PartSide.BACK)
_EDGES = (PartSide.NEAR_EDGE, PartSide.FAR_EDGE, PartSide.NEAR_END, PartSide.FAR_END)


@dataclass(frozen=True)
class Shown:
    """Which defects show on the planed front and back, and which are inside at all."""

    front: Numbers
    back: Numbers
    inside: Numbers

    def on(self, pose: Pose, side: PartSide) -> Numbers:
        """Those that show on the face or the back of a part in a pose."""
        face = pose.face_from if side is PartSide.FACE else pose.face_from.other
        return self.front if face is Face.FRONT else self.back

    def within(self, other: "Shown") -> bool:
        """Whether none shows here that does not there."""
        return self.front <= other.front and self.back <= other.back and self.inside <= other.inside


def shown_of(lefts: Sequence[Left]) -> Shown:
    """The same, from what is left of every defect in turn."""
    return Shown(
        frozenset(number for number, left in enumerate(lefts) if left.front),
        frozenset(number for number, left in enumerate(lefts) if left.back),
        frozenset(number for number, left in enumerate(lefts) if left.inside),
    )


class Faults:
    """The defects of one board.

    Parameters
    ----------
    board : Board
    """

    def __init__(self, board: Board) -> None:
        self.board = board
        wishes = [(number, defect.wish) for number, defect in enumerate(board.defects)]
        self.barred = frozenset(number for number, wish in wishes if wish is Wish.KEEP_OFF)
        self.welcome = frozenset(number for number, wish in wishes if wish in (Wish.TOLERATE, Wish.SHOW))
        self._shown: dict[tuple[float, float], Shown] = {}
        self._refused: dict[str, Numbers] = {}

    def shown(self, thickness: float, from_front: float) -> Shown:
        """What planing leaves of them in a part of this thickness [mm]."""
        key = (thickness, from_front)
        found = self._shown.get(key)
        if found is None:
            lefts = [left_of(item, self.board, thickness, from_front) for item in self.board.defects]
            found = self._shown[key] = shown_of(lefts)
        return found

    def refused(self, rule: FaceRule) -> Numbers:
        """Those that a side judged by this rule may not show."""
        found = self._refused.get(rule.name)
        if found is None:
            found = self._refused[rule.name] = frozenset(
                number for number, item in enumerate(self.board.defects) if not tolerated(item, rule)
            )
        return found


def asked(
    faults: Faults, part: Part, pose: Pose, shown: Shown
) -> Iterator[tuple[str, PartSide | None, Numbers]]:
    """(name of a shape, the side that refuses, defects that may not touch it), meaning: `layout.rules`.

    The side is None where no repair of one side helps: the maker wants the
    defect in no part, or the shape is a zone that must be sound.
    """
    yield "whole", None, faults.barred & shown.inside
    rest = shown.inside - faults.barred
    for number, zone in enumerate(part.zones):
        if zone.rule is ZoneRule.SOUND:
            yield f"zone {number}", None, rest if zone.side is None else rest & shown.on(pose, zone.side)
    rest -= faults.welcome
    for side in _FACES:
        here, covered = rest & shown.on(pose, side), bool(covers(part.zones, side))
        yield f"open {side.value}" if covered else "whole", side, here & faults.refused(rule_for(part, side))
        if covered:
            concealed = RULES[part.tolerates.get(Visibility.CONCEALED, USUAL[Visibility.CONCEALED])]
            yield f"covered {side.value}", side, here & faults.refused(concealed)
    for side in _EDGES:
        yield side.value, side, rest & faults.refused(rule_for(part, side))


@lru_cache(maxsize=1024)
def covers(zones: tuple[Zone, ...], side: PartSide) -> tuple[Zone, ...]:
    """Zones of a part that cover ground of a face."""
    return tuple(zone for zone in zones if zone.rule is ZoneRule.COVERED and zone.side in (None, side))
