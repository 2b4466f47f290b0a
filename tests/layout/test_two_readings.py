"""Engine and verifier were written apart from one text (`layout.rules`): they must read it alike.

Parts are laid at random on random boards. What the engine's exact verdict allows
the verifier must pass; what the engine refuses the verifier may pass only where
some limit is met to within the verifier's tolerance, which a slightly larger
margin and trim takes away.
"""

from dataclasses import replace
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from layout.allowances import Allowances, Sawing, Shop
from layout.check import violations
from layout.clear import judged
from layout.ground import ground_of
from layout.outline import Outline, rectangle
from layout.parts import Part, PartSide, Visibility, Zone, ZoneRule
from layout.placement import Layout
from layout.poses import Pose, as_placement
from layout.stock import Board, Defect, DefectKind, Face, Where, Wish

PLACES = 12


def random_outline(chance: Random, length: float, width: float) -> Outline:
    """Square-edged, or waney all round."""
    if chance.random() < 0.5:
        return rectangle(0, 0, length, width)
    return (
        (0, chance.uniform(0, 15)),
        (length / 2, chance.uniform(0, 10)),
        (length, chance.uniform(0, 12)),
        (length - chance.uniform(0, 10), width - chance.uniform(0, 20)),
        (0.4 * length, width - chance.uniform(0, 9)),
        (chance.uniform(0, 8), width),
    )


def random_board(chance: Random) -> Board:
    length, width = chance.uniform(700, 1200), chance.uniform(150, 250)
    faults = []
    for number in range(chance.randint(1, 5)):
        x, y = chance.uniform(0, length - 60), chance.uniform(0, width - 40)
        where = chance.choice(list(Where))
        depth = None if where is Where.THROUGH else chance.choice((None, chance.uniform(0.5, 24)))
        shapes = (
            rectangle(x, y, x + chance.uniform(3, 60), y + chance.uniform(3, 40)),
            ((x, y + 10), (x + 20, y), (x + 45, y + 12), (x + 22, y + chance.uniform(15, 30))),
        )
        wish = chance.choice([Wish.MAY_HIDE] * 4 + list(Wish))
        kind = chance.choice(list(DefectKind))
        faults.append(Defect(f"d{number}", kind, chance.choice(shapes), where, depth, wish))
    return Board(
        "1",
        random_outline(chance, length, width),
        random_outline(chance, length, width),
        chance.choice((24.0, 27.0)),
        defects=tuple(faults),
        error=chance.choice((0.0, 1.3, 4.0)),
        error_across=chance.choice((None, 0.0, 0.9)),
        error_back=chance.choice((None, None, (0.6, 5.0))),
    )


def random_part(chance: Random) -> Part:
    length, width = chance.uniform(100, 500), chance.uniform(30, 100)
    zones = []
    for number in range(chance.randint(0, 2)):
        x, y = chance.uniform(0, 0.6 * length), chance.uniform(0, 0.5 * width)
        ground = rectangle(x, y, x + 0.3 * length, y + 0.4 * width)
        side = chance.choice((None, PartSide.FACE, PartSide.BACK))
        zones.append(Zone(f"z{number}", ground, chance.choice(list(ZoneRule)), side))
    tapered = ((0.0, 0.0), (length, 0.2 * width), (length, width), (0.1 * length, 0.9 * width))
    return Part(
        "part",
        length,
        width,
        chance.choice((18.0, 20.0)),
        sides={side: chance.choice(list(Visibility)) for side in PartSide if chance.random() < 0.6},
        outline=tapered if chance.random() < 0.4 else None,
        zones=tuple(zones),
        tolerates=chance.choice(({}, {Visibility.SHOW: "J10"})),
    )


def random_shop(chance: Random) -> Shop:
    return Shop(
        sawing=Sawing.BAND_SAW,
        allowances=Allowances(
            end_trim=chance.choice((0.0, 20.0)),
            edge_trim=chance.choice((0.0, 4.0)),
            skim=1.0,
            defect_margin=chance.choice((0.0, 2.0)),
            knot_along=chance.choice((0.0, 1.0)),
            knot_across=chance.choice((0.0, 0.25)),
        ),
    )


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 100_000))
def test_engine_and_verifier_read_the_rules_alike(seed: int) -> None:
    chance = Random(seed)
    board, part, shop = random_board(chance), random_part(chance), random_shop(chance)
    more = shop.allowances
    wider = replace(
        more, **{name: getattr(more, name) + 0.2 for name in ("end_trim", "edge_trim", "defect_margin")}
    )
    ground, strict = ground_of(board, shop), replace(shop, allowances=wider)
    for _ in range(PLACES):
        pose = Pose(
            chance.choice(list(Face)),
            chance.random() < 0.5,
            0.0,
            chance.uniform(1.0, board.thickness - part.thickness - 1.0),
        )
        x, y = chance.uniform(0, board.length - part.length), chance.uniform(0, board.width - part.width)
        layout = Layout(placements=(as_placement(part, 1, board, shop, x, y, pose),), sawing=Sawing.BAND_SAW)
        allowed = bool(judged(ground, part, x, y, pose))
        if allowed:
            assert violations([board], [part], shop, layout) == ()
        else:
            assert violations([board], [part], strict, layout) != ()
