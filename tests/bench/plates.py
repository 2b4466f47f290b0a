"""Published single-plate instances, read from the folder beside the repository."""

import json
from pathlib import Path

from layout.solve.guillotine import Item, Plate

__all__ = ["cgcut", "gcut", "ngcut", "okp", "with_defects"]


def _numbers(path: Path) -> list[int]:
    return [int(float(word)) for word in path.read_text().split()]


def gcut(folder: Path, number: int, may_turn: bool = False) -> Plate:
    """Beasley's gcut: any number of copies; the value of an item is its area."""
    count, length, width, *rest = _numbers(folder / "bench" / "classics" / "gcut" / f"gcut{number}.txt")
    items = tuple(Item(*rest[3 * n : 3 * n + 3]) for n in range(count))
    return Plate(length, width, items, may_turn=may_turn)


def cgcut(folder: Path, number: int) -> Plate:
    """Christofides and Whitlock's cgcut, with their limits on copies."""
    count, length, width, *rest = _numbers(folder / "bench" / "classics" / "cgcut" / f"cgcut{number}.txt")
    rows = [rest[4 * n : 4 * n + 4] for n in range(count)]
    return Plate(length, width, tuple(Item(a, b, value, copies) for a, b, copies, value in rows))


def ngcut(folder: Path) -> list[Plate]:
    """Beasley's ngcut1-12: the first twelve problems of the file."""
    total, *rest = _numbers(folder / "bench" / "classics" / "ngcutap_ngcutcon" / "ngcutap.txt")
    found = []
    for _ in range(total):
        count, length, width, *rest = rest
        rows = [rest[5 * n : 5 * n + 5] for n in range(count)]
        rest = rest[5 * count :]
        found.append(Plate(length, width, tuple(Item(a, b, value, most) for a, b, _, most, value in rows)))
    return found[:12]


def okp(folder: Path, number: int) -> Plate:
    """Fekete and Schepers' okp; the first number is that of pieces, so lines are read to the end."""
    _, length, width, *rest = _numbers(folder / "bench" / "classics" / "okp" / f"okp{number}.txt")
    rows = [rest[n : n + 4] for n in range(0, len(rest) - 3, 4)]
    return Plate(length, width, tuple(Item(a, b, value, copies) for a, b, copies, value in rows))


def with_defects(folder: Path) -> list[tuple[str, Plate, int]]:
    """(name, plate, optimum) of the plates with defects."""
    found = []
    for entry in json.loads((folder / "bench" / "plates_with_defects.json").read_text()):
        items = tuple(Item(*row) for row in entry["items_l_w_value"])
        defects = tuple(tuple(area) for area in entry["defects_x_y_dx_dy"])
        found.append((entry["name"], Plate(*entry["plate"], items, defects), entry["optimum"]))
    return found
