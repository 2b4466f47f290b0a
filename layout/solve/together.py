"""Staves of one panel brought together: on one board where that costs nothing, and in its order."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from time import monotonic

from layout.allowances import Shop
from layout.cost import price_of
from layout.glue import GlueKind, GlueUp
from layout.parts import Part
from layout.placement import Bound, Layout, Placement
from layout.repair.fault import Host, faults
from layout.solve.family import Family
from layout.solve.mended import Core, better
from layout.solve.named import along_the_board
from layout.solve.params import SolveParams
from layout.stock import Board

__all__ = ["Option", "Task", "free_again", "in_sequence", "on_one_board"]

_MOST_BOARDS = 6  # boards tried for each panel


@dataclass(frozen=True)
class Task:
    """A job with glue-ups, and the searches it is handed to.

    Parameters
    ----------
    boards, parts, shop
        As for `layout.solve.plan.plan`.
    core : Core
        The plain search.
    finish : function
        (parts as sawn, params, locked) to the final layout, repairs and all.
    locked : tuple of Placement
    should_stop : function, optional
        Asked between plans.
    """

    boards: Sequence[Board]
    parts: Sequence[Part]
    shop: Shop
    core: Core
    finish: Callable[[Sequence[Part], SolveParams, Sequence[Placement]], Layout]
    locked: tuple[Placement, ...] = ()
    should_stop: Callable[[], bool] | None = None

    def bare(self, sawn: Sequence[Part], params: SolveParams, locked: Sequence[Placement]) -> Layout:
        """The layout of parts as sawn without any repair."""
        return self.core(self.boards, sawn, self.shop, params, locked=locked)

    def stopped(self) -> bool:
        """Whether the maker has asked to stop."""
        return self.should_stop is not None and self.should_stop()


@dataclass(frozen=True)
class Option:
    """One way to go about the glue-ups.

    Parameters
    ----------
    ups : tuple of GlueUp
        Those whose sizes are settled.
    families : tuple of Family
        Panels whose widths are free.
    sawn : tuple of Part
        What the search is to place.
    """

    ups: tuple[GlueUp, ...]
    families: tuple[Family, ...]
    sawn: tuple[Part, ...]


def on_one_board(task: Task, layout: Layout, option: Option, params: SolveParams) -> Layout:
    """The layout with panels moved to one board each, where the job gets no dearer by it."""
    began, fixed = monotonic(), list(task.locked)
    panels = list(_to_be_together(task.parts, option))
    for names, families in panels:
        if len({item.board for item in layout.placements if item.part in names}) <= 1:
            continue
        staves = [part for part in option.sawn if part.name in names]
        share = replace(_share(params, 1 / (len(panels) * _MOST_BOARDS * 2)), families=families, start=())
        for board in _promising(task.boards, staves, families, fixed):
            left = params.seconds - (monotonic() - began)
            if task.stopped() or (params.iterations is None and left <= 0.05 * params.seconds):
                break
            alone = task.core([board], staves, task.shop, share)
            if alone.unplaced:
                continue
            held = [*fixed, *(replace(item, locked=True) for item in alone.placements)]
            again = _share(params, 1 / len(panels))
            if params.iterations is None:
                again = replace(again, seconds=max(min(again.seconds, left), 0.0))
            trial = task.finish(
                option.sawn, replace(again, families=option.families, start=layout.placements), held
            )
            if not better(layout, trial, option.sawn):
                fixed, layout = held, replace(trial, bound=_still(layout.bound, trial))
                break
    return layout


def _to_be_together(
    parts: Sequence[Part], option: Option
) -> Iterator[tuple[frozenset[str], tuple[Family, ...]]]:
    """Names of the staves of each panel that should come from one board, and its family if it has one."""
    wanted = {part.name for part in parts if part.staves is not None and part.staves.one_board}
    for up in option.ups:
        if up.kind is GlueKind.PANEL and up.part in wanted:
            yield frozenset(stave.part for stave in up.staves), ()
    for family in option.families:
        if family.panel.name in wanted:
            yield frozenset(kind.part.name for kind in family.kinds), (family,)


def free_again(task: Task, layout: Layout) -> Layout:
    """The layout with nothing held but what the maker holds."""
    own = {(item.part, item.copy) for item in task.locked}
    placements = tuple(
        item if (item.part, item.copy) in own else replace(item, locked=False) for item in layout.placements
    )
    return replace(layout, placements=placements)


def _still(bound: Bound | None, layout: Layout) -> Bound | None:
    """A bound from before staves were held to one board; one found with them held says less than it seems."""
    if bound is None or layout.unplaced:
        return None
    return replace(bound, cost=min(bound.cost, layout.cost), proved=layout.cost <= bound.cost + 0.005)


def _promising(
    boards: Sequence[Board], staves: Sequence[Part], families: Sequence[Family], fixed: Sequence[Placement]
) -> list[Board]:
    """Boards that may hold all staves, cheapest first."""
    area = sum(part.length * part.width for part in staves)
    if families:
        area = sum(family.panel.length * family.panel.width for family in families)
    taken = {item.board for item in fixed}
    able = [
        board
        for board in boards
        if not board.forbidden and board.id not in taken and board.length * board.width >= area
    ]
    return sorted(able, key=price_of)[:_MOST_BOARDS]


def in_sequence(task: Task, layout: Layout, sawn: Sequence[Part], ups: Sequence[GlueUp]) -> Layout:
    """The layout with like staves of panels of settled widths renumbered in the order they lie in."""
    stock = {board.id: board for board in task.boards}
    listed = {part.name: part for part in sawn}
    placed = {(item.part, item.copy): item for item in layout.placements}
    fixed = {(item.part, item.copy) for item in layout.placements if item.locked or item.cut}
    mended = {(item.part, item.copy) for item in layout.repairs}
    for up in ups:
        keys = [(stave.part, stave.copy) for stave in up.staves]
        if up.kind is not GlueKind.PANEL or not all(key in placed for key in keys):
            continue
        if fixed & set(keys) or mended & set(keys):
            continue
        free = sorted((placed[key] for key in keys), key=along_the_board)
        new = []
        for key in keys:
            match = next(
                (item for item in free if _suits(item, listed[key[0]], listed, stock, task.shop)), None
            )
            if match is None:
                break
            free.remove(match)
            new.append(replace(match, part=key[0], copy=key[1]))
        else:
            placed.update({(item.part, item.copy): item for item in new})
    order = [(item.part, item.copy) for item in layout.placements]
    return replace(layout, placements=tuple(placed[key] for key in order))


def _suits(item: Placement, part: Part, listed: dict[str, Part], stock: dict[str, Board], shop: Shop) -> bool:
    """Whether a stave's place would do for another stave of the panel."""
    other, board = listed[item.part], stock[item.board]
    same = (other.width, other.width_allowance, other.length) == (
        part.width,
        part.width_allowance,
        part.length,
    )
    if not same or not _heart_right(item, part, board):
        return False
    return not faults(Host(item, part, board, shop))


def _heart_right(item: Placement, part: Part, board: Board) -> bool:
    if board.heart is None or part.heart_up is None:
        return True
    return (item.face_from is board.heart) == part.heart_up


def _share(params: SolveParams, share: float) -> SolveParams:
    if params.iterations is not None:
        return replace(params, iterations=max(int(params.iterations * share), 1))
    return replace(params, seconds=params.seconds * share)
