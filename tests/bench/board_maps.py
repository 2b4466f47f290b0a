"""Real boards as defect polygons, read from the folder beside the repository (never committed)."""

import json
from pathlib import Path

from layout.outline import normal_outline
from layout.stock import Board, Defect, DefectKind, Price, PriceBasis, Where, Wish

__all__ = ["mapped_boards"]

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


def _board(entry: dict, thickness: float) -> Board:
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
