"""Makes the second sample job anew: python -m samples.make_linen_chest [FOLDER].

A linen chest in oak, measured by tape alone: a lid glued up from staves, legs from
two layers, and five boards that each give their part only with a repair of
another kind. Names, sizes and boards are made up.
"""

import sys
from pathlib import Path

from layout.allowances import Allowances, RepairRules, Shop
from layout.outline import Outline, rectangle
from layout.parts import Part, PartSide, Staves, Visibility
from layout.stock import DefectKind, Face, Price, Where
from ui.jobfile import BoardRecord, Job, job_json
from vision.marks import Mark, MarkState, Origin

__all__ = ["chest", "main"]

_SHOW, _USE, _HID = Visibility.SHOW, Visibility.SEEN_IN_USE, Visibility.CONCEALED
_HIDDEN = dict.fromkeys(PartSide, _HID)


def chest() -> Job:
    """The job, without a layout."""
    return Job(
        name="A linen chest in oak",
        currency="EUR",
        settings=Shop(allowances=Allowances(skim=1.0), repairs=RepairRules(allowed=True, edge_strip=65.0)),
        boards=_boards(),
        parts=_parts(),
    )


def _parts() -> tuple[Part, ...]:
    return (
        Part("lid", 900, 420, 20, staves=Staves(least=70, most=120), priority=2),
        Part("leg", 480, 45, 44, 4, {PartSide.BACK: _USE}, layers=2),
        Part("front rail", 900, 130, 26, mend_show=True),
        Part("bottom rail", 800, 120, 31),
        Part("tray side", 960, 110, 24, sides={PartSide.FACE: _USE, PartSide.BACK: _USE}),
        Part("bearer", 850, 100, 28, sides=_HIDDEN),
        Part("batten", 1000, 70, 22.5, sides=_HIDDEN),
    )


def _boards() -> tuple[BoardRecord, ...]:
    knot, dead = DefectKind.SOUND_KNOT, DefectKind.DEAD_KNOT
    lid = (_mark("knot", knot, _oval(948, 60, 3, 11)), _mark("dead knot", dead, _oval(948, 165, 3, 9)))
    decay = rectangle(0, 50, 85, 120)
    return (
        _board("1", 2020, (240, 24), 68.0, *lid, heart=Face.FRONT),
        _board("2", 2480, (188, 24), 44.0, _mark("pin knot", DefectKind.PIN_KNOT, _oval(525, 60, 3, 3))),
        # Each of these is the only one long, wide and thick enough for its part, and too
        # narrow for a place that misses its faults: one kind of repair each.
        _board("3", 1130, (160, 28.5), 22.0, _mark("knot", knot, _oval(480, 80, 9, 8))),
        _board("4", 870, (300, 33.5), 28.0, *_twice("decay", DefectKind.DECAY, decay, 128, Where.BACK, 6.0)),
        _board(
            "5", 1030, (275, 26.5), 26.0, *_twice("check", DefectKind.CHECK, rectangle(420, 62, 500, 64), 104)
        ),
        _board("6", 920, (250, 30.5), 24.0, *_end_splits(75, 40, 72, 104, 136, 168, 200)),
        _board("7", 2150, (105, 25), 18.0, _mark("wane", DefectKind.WANE, rectangle(0, 0, 2150, 40))),
    )


def _board(
    id: str,
    length: float,
    section: tuple[float, float],
    price: float,
    *marks: Mark,
    heart: Face | None = None,
) -> BoardRecord:
    width, thickness = section
    return BoardRecord(
        id=id,
        length=length,
        widths=((0.0, width), (length, width)),
        thickness=thickness,
        price=Price(price),
        moisture=9.0,
        heart=heart,
        marks=marks,
    )


def _twice(
    name: str,
    kind: DefectKind,
    outline: Outline,
    across: float,
    where: Where = Where.THROUGH,
    depth: float | None = None,
) -> tuple[Mark, Mark]:
    """A fault, and another like it so far across the board that no place for the part misses both."""
    below = tuple((x, y + across) for x, y in outline)
    return _mark(name, kind, outline, where, depth), _mark(f"lower {name}", kind, below, where, depth)


def _end_splits(along: float, *across: float) -> tuple[Mark, ...]:
    """Splits from the datum end, too many for the part to miss them all or to lose them with an edge."""
    lines = [rectangle(0, y, along, y + 3) for y in across]
    return tuple(_mark(f"end split {number}", DefectKind.SPLIT, line) for number, line in enumerate(lines, 1))


def _mark(
    name: str,
    kind: DefectKind,
    outline: Outline,
    where: Where = Where.THROUGH,
    depth: float | None = None,
) -> Mark:
    if kind is DefectKind.CHECK:
        where, depth = Where.FRONT, 9.0
    return Mark(name, kind, outline, where, 1.0, Origin.DRAWN, MarkState.CONFIRMED, depth)


def _oval(x: float, y: float, along: float, across: float) -> Outline:
    """An eight-cornered knot."""
    corner = 0.7
    turns = (
        (1, 0),
        (corner, corner),
        (0, 1),
        (-corner, corner),
        (-1, 0),
        (-corner, -corner),
        (0, -1),
        (corner, -corner),
    )
    return tuple((x + along * dx, y + across * dy) for dx, dy in turns)


def main(arguments: list[str] | None = None) -> int:
    """Writes the sample job's folder; 0 when done."""
    given = sys.argv[1:] if arguments is None else arguments
    folder = Path(given[0]) if given else Path(__file__).parent / "linen_chest"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.json").write_text(job_json(chest()), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
