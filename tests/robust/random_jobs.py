"""Random jobs without mercy: boards and parts of every shape the nouns allow, and some absurd sizes."""

from dataclasses import dataclass
from math import cos, pi, sin
from random import Random

from layout.allowances import Allowances, RepairRules, Sawing, Shop
from layout.outline import Outline, normal_outline, rectangle
from layout.parts import Part, PartSide, Staves, Visibility, Zone, ZoneRule
from layout.rules import RULES
from layout.stock import Board, Defect, DefectKind, Price, PriceBasis, Where, Wish

__all__ = ["RandomJob", "a_late_fault", "random_job"]


@dataclass(frozen=True)
class RandomJob:
    """What a plan is asked for."""

    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop


def random_job(seed: int) -> RandomJob:
    """The job of a seed: one to five boards, one to five lines of parts, any shop."""
    chance = Random(seed)
    boards = tuple(_board(str(number), chance) for number in range(1, chance.randint(1, 5) + 1))
    parts = tuple(_part(number, chance) for number in range(1, chance.randint(1, 5) + 1))
    return RandomJob(boards, parts, _shop(chance))


def a_late_fault(board: Board, chance: Random) -> Defect:
    """A fault the saw uncovers later."""
    return _defect("late", board.length, board.width, board.thickness, chance)


def _shop(chance: Random) -> Shop:
    sometimes = chance.random() < 0.25
    allowances = Allowances(
        kerf=chance.choice((0.0, 1.5, 3.2, 6.0)),
        end_trim=chance.choice((0.0, 20.0, 60.0)),
        edge_trim=chance.choice((0.0, 3.0, 10.0)),
        length=chance.choice((0.0, 10.0)),
        width=chance.choice((0.0, 4.0)),
        skim=chance.choice((0.0, 1.0, 2.5)),
        defect_margin=chance.choice((0.0, 2.0, 15.0)),
        knot_along=0.5 if sometimes else 0.0,
        knot_across=0.2 if sometimes else 0.0,
    )
    return Shop(
        sawing=chance.choice(list(Sawing)),
        stages=chance.choice((2, 3)),
        allowances=allowances,
        max_slope=chance.choice((0.0, 1 / 15, 0.2)),
        least_offcut=(chance.choice((50.0, 300.0)), chance.choice((20.0, 40.0))),
        planer_width=chance.choice((150.0, 310.0)),
        repairs=RepairRules(allowed=chance.random() < 0.3, per_face=chance.choice((0, 1, 3))),
    )


def _board(id: str, chance: Random) -> Board:
    length, width = chance.uniform(250, 2600), chance.uniform(40, 420)
    if chance.random() < 0.05:
        length, width = chance.choice(((15.0, 8.0), (9000.0, 30.0), (300.0, 900.0)))
    thickness = chance.choice((6.0, 20.0, 27.0, 34.0, 52.0))
    front = _waney(length, width, chance) if chance.random() < 0.4 else rectangle(0, 0, length, width)
    back = front if chance.random() < 0.5 else _waney(length, width, chance)
    defects = tuple(
        _defect(f"d{number}", length, width, thickness, chance)
        for number in range(chance.choice((0, 0, 1, 3, 8)))
    )
    return Board(
        id, front, back, thickness, defects=defects, price=_price(chance), owned=chance.random() < 0.1,
        forbidden=chance.random() < 0.05, error=chance.choice((0.0, 0.4, 3.0)),
        grain=chance.choice((0.0, 0.0, 2.0, -6.0)),
        error_back=(0.7, 6.0) if front is not back and len(defects) % 2 else None,
    )  # fmt: skip


def _price(chance: Random) -> Price:
    return Price(chance.choice((0.0, 10.0, 37.5, 1200.0)), chance.choice(list(PriceBasis)))


def _waney(length: float, width: float, chance: Random) -> Outline:
    """A board whose edges wander, and one in a while a shape no tree gives."""
    if chance.random() < 0.1:
        count = chance.randint(3, 9)
        turns = [2 * pi * number / count for number in range(count)]
        return normal_outline(
            (length / 2 * (1 + cos(turn) * chance.uniform(0.3, 1)), width / 2 * (1 + sin(turn)))
            for turn in turns
        )
    steps = chance.randint(2, 12)
    xs = [length * number / steps for number in range(steps + 1)]
    near = [(x, width * chance.uniform(0.0, 0.2)) for x in xs]
    far = [(x, width * chance.uniform(0.7, 1.0)) for x in reversed(xs)]
    return normal_outline([*near, *far])


def _defect(id: str, length: float, width: float, thickness: float, chance: Random) -> Defect:
    x, y = chance.uniform(-20, length), chance.uniform(-10, width)
    along, across = chance.choice(((6, 5), (40, 30), (300, 4), (length, 12), (80, width * 1.2)))
    outline = rectangle(x, y, x + along, y + across)
    if chance.random() < 0.5:
        turns = [2 * pi * number / 9 for number in range(9)]
        outline = normal_outline((x + along * cos(turn) / 2, y + across * sin(turn) / 2) for turn in turns)
    where = chance.choice(list(Where))
    depth = None if where is Where.THROUGH else chance.choice((None, 0.5, 3.0, thickness, 2 * thickness))
    kind = chance.choice(list(DefectKind))
    return Defect(id, kind, outline, where, depth, chance.choice((*[Wish.MAY_HIDE] * 4, *Wish)))


def _part(number: int, chance: Random) -> Part:
    length, width = chance.uniform(40, 1200), chance.uniform(15, 160)
    if chance.random() < 0.05:
        length, width = chance.choice(((5000.0, 30.0), (60.0, 400.0), (20.0, 20.0)))
    thickness = chance.choice((5.0, 16.0, 19.0, 22.0, 40.0))
    glued = chance.random()
    staves = Staves(least=30, most=chance.choice((60.0, 120.0))) if glued < 0.12 else None
    shaped = staves is None and chance.random() < 0.3
    return Part(
        f"part {number}", length, width * (3 if staves else 1), thickness,
        quantity=chance.choice((1, 1, 2, 4)),
        sides={side: chance.choice(list(Visibility)) for side in PartSide if chance.random() < 0.4},
        outline=_shape(length, width, chance) if shaped else None,
        zones=_zones(length, width, chance) if chance.random() < 0.3 else (),
        length_allowance=chance.choice((None, None, 0.0, 25.0)),
        width_allowance=chance.choice((None, None, 0.0)),
        max_slope=chance.choice((None, None, 0.0, 0.3)), priority=chance.choice((0, 0, 5)),
        same_board_as=f"part {chance.randint(1, 5)}" if chance.random() < 0.2 else None,
        turn_end_for_end=chance.random() < 0.8,
        tolerates={seen: chance.choice(list(RULES)) for seen in Visibility if chance.random() < 0.2},
        staves=staves, layers=2 if 0.12 <= glued < 0.2 else 1, mend_show=chance.random() < 0.3,
    )  # fmt: skip


def _shape(length: float, width: float, chance: Random) -> Outline:
    taper = ((0, 0), (length, width * 0.3), (length, width * 0.7), (0, width))
    notched = (
        (0, 0),
        (length, 0),
        (length, width),
        (length / 2, width),
        (length / 2, width / 2),
        (0, width / 2),
    )
    curved = [(length * number / 8, width * (0.4 - 0.4 * sin(pi * number / 8))) for number in range(9)]
    bow = [*curved, *((x, y + width * 0.6) for x, y in reversed(curved))]
    return normal_outline(chance.choice((taper, notched, bow)))


def _zones(length: float, width: float, chance: Random) -> tuple[Zone, ...]:
    side = chance.choice((None, PartSide.FACE, PartSide.BACK))
    near = Zone("joint", rectangle(0, 0, length * 0.1, width), chance.choice(list(ZoneRule)), side)
    far = Zone("fixing", rectangle(length * 0.8, width * 0.3, length, width * 0.6), ZoneRule.SOUND)
    return chance.choice(((near,), (far,), (near, far)))
