"""Planning glue-ups together with everything else: which stave widths, from which boards, in which order.

Staves are parts to the search like any other, so they compete for the boards with
the rest of the job. Their widths are free, within limits: several sets of widths
are planned for a short time each, the best one for the rest of it. Sets tried for
a panel of width W:

* k equal staves, for every k within the limits;
* two widths that fit a board: as wide as m strips of its usable wood can be, the
  rest of the panel in equal staves.

Then, board by board, all staves of a panel are tried on that board alone, the
cheapest first; that plan is taken if the whole job gets no dearer. Last, staves of
like kind change places so that neighbours in the board are neighbours in the panel.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product
from math import ceil, floor
from time import monotonic

from layout.allowances import Shop
from layout.cost import price_of
from layout.glue import GlueKind, GlueUp
from layout.ground import usable_wood
from layout.panels import glue_ups_of, least_staves, most_staves, rejoined_pieces, sawn_parts
from layout.parts import Part, Staves
from layout.placement import Bound, Layout, Placement
from layout.repair.fault import Host, faults
from layout.solve.mended import Core, better, part_of
from layout.solve.params import SolveParams
from layout.stock import Board

__all__ = ["Task", "is_glued", "with_glue_ups"]

_MOST_SETS = 8  # sets of widths planned
_MORE = 2  # staves more than the fewest
_SHORT = 0.3  # share of the time for all of them together
_ONE_BOARD = 0.15  # share for trying panels on single boards
_MOST_BOARDS = 6  # boards tried for each panel

Widths = tuple[float, ...]


def is_glued(parts: Sequence[Part], shop: Shop) -> bool:
    """Whether any part of the list is glued up."""
    return any(part.staves or part.layers > 1 or rejoined_pieces(part, shop) > 1 for part in parts)


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

    def stopped(self) -> bool:
        """Whether the maker has asked to stop."""
        return self.should_stop is not None and self.should_stop()


def with_glue_ups(task: Task, params: SolveParams) -> Layout:
    """The best layout found for a job with glue-ups.

    Raises
    ------
    LayoutError
        A panel no set of staves within its limits adds up to.
    """
    began = monotonic()
    ups, chosen = _best_widths(task, params, began)
    sawn = sawn_parts(task.parts, task.shop, ups)
    spread = 1.0 - _SHORT - _ONE_BOARD if any(up.kind is GlueKind.PANEL for up in ups) else 1.0
    layout = task.finish(sawn, part_of(params, spread, began), task.locked)
    layout = _on_one_board(task, layout, sawn, ups, part_of(params, _ONE_BOARD, began))
    ordered = _in_sequence(task, layout, sawn, ups)
    # A bound holds for the widths it was proved for, not for all that were to be had.
    bound = None if chosen else ordered.bound
    return replace(ordered, glue_ups=_with_cautions(task, ups, ordered), bound=bound)


def _best_widths(task: Task, params: SolveParams, began: float) -> tuple[tuple[GlueUp, ...], bool]:
    """The glue-ups with the set of widths that plans best in a short time, and whether there was a choice."""
    kept = _kept_widths(params.glue_ups, task.locked)
    sets = list(islice(_sets(task.boards, task.parts, task.shop, kept), _MOST_SETS))
    best_ups, best = glue_ups_of(task.parts, task.shop, sets[0]), None
    if len(sets) == 1:
        return best_ups, False
    for widths in sets:
        short = replace(part_of(params, _SHORT / len(sets), began), prove=False)
        over = params.iterations is None and monotonic() - began > _SHORT * params.seconds
        if best is not None and (over or task.stopped()):
            break
        ups = glue_ups_of(task.parts, task.shop, widths)
        sawn = sawn_parts(task.parts, task.shop, ups)
        trial = task.core(task.boards, sawn, task.shop, short, locked=task.locked)
        if best is None or better(trial, best, sawn):
            best, best_ups = trial, ups
    return best_ups, True


def _kept_widths(ups: Sequence[GlueUp], locked: Sequence[Placement]) -> dict[str, Widths]:
    """Widths of the panels with a stave that stays where it is."""
    fixed = {item.part for item in locked}
    return {
        up.part: tuple(stave.size for stave in up.staves)
        for up in ups
        if up.kind is GlueKind.PANEL and any(stave.part in fixed for stave in up.staves)
    }


def _sets(
    boards: Sequence[Board], parts: Sequence[Part], shop: Shop, kept: Mapping[str, Widths]
) -> Iterator[dict[str, Widths]]:
    """Sets of widths for all panels, those most promising first."""
    panels = [part for part in parts if part.staves is not None]
    options = [
        [kept[part.name]] if part.name in kept else list(_widths(part, boards, shop)) for part in panels
    ]
    if not panels:
        yield {}
        return
    ranked = sorted(product(*(range(len(option)) for option in options)), key=sum)
    for choice in ranked:
        yield {
            part.name: options[n][which] for n, (part, which) in enumerate(zip(panels, choice, strict=True))
        }


def _widths(part: Part, boards: Sequence[Board], shop: Shop) -> Iterator[Widths]:
    """Sets of widths for one panel: equal staves, fewest first, then those that fit a board."""
    rules = part.staves
    assert rules is not None
    fewest, most = least_staves(part), most_staves(part)
    seen: set[Widths] = set()
    for count in range(fewest, min(most, fewest + _MORE) + 1):
        equal = (round(part.width / count, 3),) * (count - 1)
        seen.add((*equal, part.width - sum(equal)))
        yield (*equal, part.width - sum(equal))
    for widths in sorted(_fitted(part, rules, boards, shop), key=len):
        if widths not in seen and len(widths) <= fewest + _MORE:
            seen.add(widths)
            yield widths


def _fitted(part: Part, rules: Staves, boards: Sequence[Board], shop: Shop) -> Iterator[Widths]:
    """Sets of two widths, one of them as wide as strips of a board can be."""
    kerf = shop.allowances.kerf
    found = set()
    for board in boards:
        wood = usable_wood(board, shop)
        if wood.is_empty or board.forbidden:
            continue
        room = wood.bounds[3] - wood.bounds[1]
        for strips, extra in product(range(1, 6), {rules.joint, max(rules.joint, rules.trim)}):
            width = floor((room - (strips - 1) * kerf) / strips - extra)
            if rules.least <= width <= rules.most:
                found.add(float(width))
    for wide in sorted(found, reverse=True):
        for count in range(1, int(part.width / wide) + 1):
            rest = part.width - count * wide
            if rest < 1e-6:
                continue
            others = max(ceil(rest / rules.most), 1)
            if rest / others >= rules.least:
                yield (*(wide,) * count, *(round(rest / others, 3),) * (others - 1), _last(rest, others))


def _last(rest: float, others: int) -> float:
    return rest - round(rest / others, 3) * (others - 1)


def _on_one_board(
    task: Task, layout: Layout, sawn: Sequence[Part], ups: Sequence[GlueUp], params: SolveParams
) -> Layout:
    """The layout with panels moved to one board each, where the job gets no dearer by it."""
    began = monotonic()
    wanted = {part.name for part in task.parts if part.staves is not None and part.staves.one_board}
    panels = [up for up in ups if up.kind is GlueKind.PANEL and up.part in wanted]
    fixed = list(task.locked)
    for up in panels:
        names = {stave.part for stave in up.staves}
        if len({item.board for item in layout.placements if item.part in names}) <= 1:
            continue
        staves = [part for part in sawn if part.name in names]
        share = _share(params, 1 / (len(panels) * _MOST_BOARDS * 2))
        for board in _promising(task.boards, staves, fixed):
            if task.stopped() or (params.iterations is None and monotonic() - began > params.seconds):
                break
            alone = task.core([board], staves, task.shop, share)
            if alone.unplaced:
                continue
            held = [*fixed, *(replace(item, locked=True) for item in alone.placements)]
            trial = task.finish(sawn, _share(params, 1 / len(panels)), held)
            if not better(layout, trial, sawn):
                fixed = held
                layout = replace(trial, bound=_still(layout.bound, trial))
                break
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


def _promising(boards: Sequence[Board], staves: Sequence[Part], fixed: Sequence[Placement]) -> list[Board]:
    """Boards that may hold all staves, cheapest first."""
    area = sum(part.length * part.width for part in staves)
    taken = {item.board for item in fixed}
    able = [
        board
        for board in boards
        if not board.forbidden and board.id not in taken and board.length * board.width >= area
    ]
    return sorted(able, key=price_of)[:_MOST_BOARDS]


def _in_sequence(task: Task, layout: Layout, sawn: Sequence[Part], ups: Sequence[GlueUp]) -> Layout:
    """The layout with like staves of a panel renumbered in the order they lie in the boards."""
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
        free = sorted(
            (placed[key] for key in keys), key=lambda item: (item.board, round(item.x / 50), item.y)
        )
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


def _along_the_board(item: Placement) -> tuple[str, int, float]:
    """Order of pieces as they lie: lengths of the board one after the other, each from its datum edge."""
    return item.board, round(item.x / 50), item.y


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


def _with_cautions(task: Task, ups: Sequence[GlueUp], layout: Layout) -> tuple[GlueUp, ...]:
    listed = {part.name: part for part in task.parts}
    stock = {board.id: board for board in task.boards}
    where = {(item.part, item.copy): item for item in layout.placements}
    found = []
    for up in ups:
        used = [where[stave.part, stave.copy] for stave in up.staves if (stave.part, stave.copy) in where]
        if listed[up.part].staves is None:
            found.append(up)
            continue
        text = _panel_cautions(up, [stock[item.board] for item in used])
        found.append(replace(up, cautions=(*up.cautions, *text)))
    return tuple(found)


def _panel_cautions(up: GlueUp, used: Sequence[Board]) -> Iterator[str]:
    if max(stave.size for stave in up.staves) > 120:
        yield "A stave wider than 120 mm may cup and show it in the panel."
    damp = [board.moisture for board in used if board.moisture is not None]
    if damp and max(damp) - min(damp) > 2:
        yield f"The boards differ by {max(damp) - min(damp):.1f} % in moisture; 2 % is the most for gluing."
    if len({board.id for board in used}) > 1:
        yield "The staves come from more than one board: match colour and figure by eye before gluing."
    if any(board.heart is None for board in used):
        yield "The heart face of a board is not known: look at the rings on the ends before laying up."


def _share(params: SolveParams, share: float) -> SolveParams:
    if params.iterations is not None:
        return replace(params, iterations=max(int(params.iterations * share), 1))
    return replace(params, seconds=params.seconds * share)
