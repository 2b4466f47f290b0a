"""The good layout that each test of the verifier spoils in one place."""

from dataclasses import replace

from layout.allowances import Shop
from layout.check import violations
from layout.parts import Part
from layout.placement import Layout, Placement
from layout.stock import Board
from tests.builders import tiny_board, tiny_layout, tiny_parts, tiny_shop

__all__ = ["Job", "bare", "good", "messages", "moved"]

Job = tuple[Board, tuple[Part, ...], Shop, Layout]


def good() -> Job:
    return tiny_board(), tiny_parts(), tiny_shop(), tiny_layout()


def messages(job: Job, locked: tuple[Placement, ...] = ()) -> list[str]:
    board, parts, shop, layout = job
    return [found.message for found in violations([board], parts, shop, layout, locked=locked)]


def moved(number: int, **change: object) -> Layout:
    """The tiny layout with one placement changed and no cuts or offcuts listed."""
    places = list(tiny_layout().placements)
    places[number] = replace(places[number], **change)  # type: ignore[arg-type]
    return replace(tiny_layout(), placements=tuple(places), cuts=(), offcuts=())


def bare() -> Layout:
    return replace(tiny_layout(), cuts=(), offcuts=())
