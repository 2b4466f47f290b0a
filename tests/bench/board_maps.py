"""Real boards as defect polygons, read from the folder beside the repository (never committed).

And jobs on them, with the cutting lists of `tests.bench.jobs` as far as such narrow boards can hold them.
What first fit finds no place for is left out, so a better first fit makes a longer list.
"""

import json
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from layout.allowances import Sawing
from layout.outline import normal_outline
from layout.parts import Part, Visibility
from layout.solve.construct import boards_by_value, first_draft, parts_by_size
from layout.solve.filling import Filler
from layout.solve.job import job_of
from layout.stock import Board, Defect, DefectKind, Price, PriceBasis, Where, Wish
from tests.bench.jobs import Case, a_case, hash_of

__all__ = ["MAPPED_SIZES", "mapped_boards", "mapped_case"]

MAPPED_SIZES = {"small": (1, 5), "medium": (2, 9), "large": (4, 22)}  # long and short boards of a job
_FILLED = 0.45  # share of the wood that the parts fill at most
_WIDEST = 125.0  # of a part: the boards are 148 mm wide, and every cut edge asks for its allowance

_KINDS = {
    "Live_Knot": DefectKind.SOUND_KNOT,
    "Dead_Knot": DefectKind.DEAD_KNOT,
    "knot": DefectKind.DEAD_KNOT,
    "crack": DefectKind.CHECK,
    "resin": DefectKind.RESIN_POCKET,
    "pith": DefectKind.PITH,
    "dark_streak": DefectKind.STAIN,
    "stain": DefectKind.STAIN,
    "overgrown": DefectKind.BARK_POCKET,
}


def mapped_boards(folder: Path, which: str, count: int, thickness: float = 28.0) -> tuple[Board, ...]:
    """The first boards of a file, "long" or "short"; every mark shows on the front, its depth unknown."""
    entries = json.loads((folder / "data" / "board_maps" / f"{which}_boards.json").read_text())
    return tuple(_board(entry, thickness) for entry in entries[:count])


def _board(entry: dict[str, Any], thickness: float) -> Board:
    defects = []
    for number, mark in enumerate(entry["defects"]):
        kind = _KINDS.get(mark["class"]) or _KINDS[mark["group"]]
        try:
            outline = normal_outline(mark["polygon_mm"])
        except ValueError:
            continue  # a speck of the labelling without area
        wish = Wish.KEEP_OFF if kind is DefectKind.PITH else Wish.MAY_HIDE
        defects.append(Defect(f"d{number}", kind, outline, Where.FRONT, wish=wish))
    return Board.square_edged(
        entry["id"],
        entry["length_mm"],
        entry["width_mm"],
        thickness,
        species="spruce",
        defects=tuple(defects),
        price=Price(600.0, PriceBasis.CUBIC_METRE),
        error=0.5,
    )


def mapped_case(folder: Path, size: str, seed: int, sawing: Sawing) -> Case:
    """One seeded job on boards drawn from both files, priced by area and by how many marks they bear."""
    chance = np.random.default_rng((hash_of(f"mapped {size}"), seed))
    boards = []
    for which, count in zip(("long", "short"), MAPPED_SIZES[size], strict=True):
        known = mapped_boards(folder, which, 200, thickness=45.0)
        drawn = chance.choice(len(known), size=min(count, len(known)), replace=False)
        boards += [_priced(known[int(number)], chance) for number in drawn]
    wanted = a_case(size, seed, sawing)
    room = sum(board.length * board.width for board in boards)
    return _fitting(Case(f"mapped {size} {seed}", tuple(boards), _cut_back(wanted.parts, room), wanted.shop))


def _cut_back(parts: tuple[Part, ...], room: float) -> tuple[Part, ...]:
    """Those that such boards can hold, small sound knots allowed, filling at most so much of the wood."""
    kept = [replace(part, tolerates={Visibility.SHOW: "J20"}) for part in parts if part.width <= _WIDEST]
    while sum(part.length * part.width * part.quantity for part in kept) > _FILLED * room:
        most = max(range(len(kept)), key=lambda n: kept[n].length * kept[n].width * kept[n].quantity)
        kept = _fewer(kept, [int(number == most) for number in range(len(kept))])
    return tuple(kept)


def _fitting(case: Case) -> Case:
    """The job without the pieces that first fit has no place for, whatever the saw: plans can be whole."""
    for sawing in Sawing:
        missing = _missing(case, sawing)
        while any(missing):
            case = replace(case, parts=tuple(_fewer(case.parts, missing)))
            missing = _missing(case, sawing)
    return case


def _missing(case: Case, sawing: Sawing) -> list[int]:
    job = job_of(case.boards, case.parts, replace(case.shop, sawing=sawing))
    return list(first_draft(job, Filler(job), parts_by_size(job), boards_by_value(job)).missing)


def _fewer(parts: Iterable[Part], less: Iterable[int]) -> list[Part]:
    left = [(part, part.quantity - gone) for part, gone in zip(parts, less, strict=True)]
    return [replace(part, quantity=quantity) for part, quantity in left if quantity]


def _priced(board: Board, chance: np.random.Generator) -> Board:
    quality = max(1.0 - 0.02 * len(board.defects) / (board.length / 1000), 0.45)
    area = board.length * board.width / 1e6
    return replace(board, price=Price(round(area * 90 * quality * float(chance.uniform(0.8, 1.25)), 2)))
